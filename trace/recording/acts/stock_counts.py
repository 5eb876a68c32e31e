"""A place is counted by scanning while work goes on: what is there is seen, and what is not is said with a reason.

Nothing here changes a balance: what was not found stays on the book, as a question that somebody answers.
"""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.standing import Floor, UnitFacts
from trace.recording.floor.stock_counts import (
    MISSING,
    SEEN,
    UNEXPECTED,
    Standing,
    StockCount,
    standing,
    stands_in,
    stock_counts,
)

COUNTED = ("container", "vessel", "roll", "returnable", "hull", "pack", "sample")


@dataclass(frozen=True, kw_only=True)
class BeginStockCount(Command):
    """Somebody begins to count a place."""

    KIND = "stock_count_begun"
    NAME = noop("begin a stock count")
    DECISION = True

    place: str = scanned("place")

    @staticmethod
    def told(e: Told) -> str:
        return _("Stock count begun: %(place)s") % {"place": e.place_of(str(e.says["place"]))}


def begin_facts(c: BeginStockCount, floor: Floor) -> Facts:
    place = floor[c.place].key
    return {"stock": {"place": place, "open": any(one.place == place and not one.ended for one in stock_counts())}}


@handles(BeginStockCount, begin_facts)
def begin(c: BeginStockCount, floor: Floor, rows: Rows) -> str:
    rows.resource("place", floor[c.place].key, "place")
    return f"stock count of {floor[c.place].key} begun"


@dataclass(frozen=True, kw_only=True)
class SeeStock(Command):
    """Something is seen in the place that is counted. count: the uid of the record that began it."""

    KIND = "stock_seen"
    NAME = noop("see at a stock count")

    count: str
    code: str = scanned(*COUNTED)

    @staticmethod
    def told(e: Told) -> str:
        return _("Seen at a stock count: %(code)s") % {"code": printed(str(e.says["code"]))}


def count_of(uid: str, floor: Floor) -> StockCount | None:
    """The count of this uid, looked up once."""
    if "stock count" not in floor.looked:
        floor.looked["stock count"] = next(iter(stock_counts(uid)), None) if uid else None
    found: StockCount | None = floor.looked["stock count"]
    return found


def not_found(count: StockCount | None, floor: Floor) -> list[Standing]:
    """What the book has there and this count has not seen, looked up once."""
    if "not found" not in floor.looked:
        floor.looked["not found"] = [one for one in standing(count) if one.missing] if count else []
    found: list[Standing] = floor.looked["not found"]
    return found


def book_of(unit: UnitFacts | None, floor: Floor) -> str:
    """Where this unit stands by the book, looked up once; "" where nobody recorded it."""
    if "book" not in floor.looked:
        floor.looked["book"] = stands_in([unit.id]).get(unit.id, "") if unit else ""
    return str(floor.looked["book"])


def see_facts(c: SeeStock, floor: Floor) -> Facts:
    count, found = count_of(c.count, floor), floor[c.code]
    unit = found.hull or found.unit
    book = book_of(unit, floor)
    return {
        "stock": {
            "unknown": count is None,
            "over": bool(count and count.ended and floor.happened >= count.ended),
            "empty": unit is None,
            "name": found.name,
            "place": count.place if count else "",
            "elsewhere": bool(count and unit and book != count.place),
            "book": book or "no place",
        }
    }


@handles(SeeStock, see_facts)
def see(c: SeeStock, floor: Floor, rows: Rows) -> str:
    count, found = count_of(c.count, floor), floor[c.code]
    unit = found.hull or found.unit
    place = count.place if count else ""
    if unit is None or not place:
        return f"{found.name} seen"
    rows.touch(unit.uid, SEEN)
    rows.resource("place", place, "place")
    book = book_of(unit, floor)
    if book != place:
        rows.touch(unit.uid, UNEXPECTED)
        rows.place(unit.uid, place)
        rows.discrepancy("seen at a stock count where the book did not have it", unit.uid)
        return f"{found.name} seen in {place}; the book had it in {book or 'no place'}"
    return f"{found.name} seen in {place}"


@dataclass(frozen=True, kw_only=True)
class EndStockCount(Command):
    """The place is counted: what the book has there and nobody saw is a question from now on, with this reason."""

    KIND = "stock_count_ended"
    NAME = noop("end a stock count")
    DECISION = True

    count: str
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        lost = len(e.part("discrepancies"))
        return _("Stock count ended, %(n)d not found") % {"n": lost}


def end_facts(c: EndStockCount, floor: Floor) -> Facts:
    count = count_of(c.count, floor)
    lost = not_found(count, floor)
    return {
        "stock": {
            "unknown": count is None,
            "over": bool(count and count.ended),
            "no_reason": bool(lost) and not c.reason.strip(),
            "lost": len(lost),
            "names": ", ".join(one.name for one in lost[:6]),
        }
    }


@handles(EndStockCount, end_facts)
def end(c: EndStockCount, floor: Floor, rows: Rows) -> str:
    count = count_of(c.count, floor)
    if count is None:
        return "no such count"
    lost = not_found(count, floor)
    for one in lost:
        rows.touch(one.uid, MISSING)
        rows.discrepancy("not found at a stock count", one.uid)
    rows.resource("place", count.place, "place")
    return f"stock count of {count.place} ended, {len(lost)} not found" if lost else f"{count.place} counted, all found"
