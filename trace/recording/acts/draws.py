"""Taking from a container or vessel: the facts the rules need, and the edge with its fill difference."""

from decimal import Decimal
from typing import Any

from trace.codes import AmountError, parse_amount
from trace.genealogy.mixes import materials_of
from trace.readmodels.rows import Rows, stamp
from trace.recording.acts import hold_words
from trace.recording.commands import Facts
from trace.recording.floor import words as say
from trace.recording.floor.changes import ALL, GONE_AS, Took
from trace.recording.floor.sources import expired, open_too_long, opened_first
from trace.recording.floor.standing import Floor, Found, UnitFacts

LARGEST_FILL = Decimal(50_000)
USABLE = ("released", "conditionally released", "made before records")


def tolerance(floor: Floor, about: dict[str, Any], amount: int) -> int:
    """How much more a container may hold than its label says, in its own unit; a plant setting per material."""
    share = floor.plant.body("material", about.get("material")).get("fill_tolerance")
    share = share if share is not None else floor.plant.setting("fill tolerance", "0")
    return int(Decimal(amount) * Decimal(str(share)))


def fill_tolerance(floor: Floor, unit: UnitFacts) -> int:
    """What is left of a container's tolerance: a fill difference is booked once, not again at every draw."""
    return max(0, tolerance(floor, unit.about, unit.amount or 0) - unit.gained)


def _more_than_book(floor: Floor, unit: UnitFacts) -> int:
    """What a draw may take over the book. Somebody has counted that nothing is in it: then nothing more is in it than
    its label says either."""
    return 0 if unit.counted_out else fill_tolerance(floor, unit)


def _open_days(about: Facts, floor: Floor) -> int | None:
    """How many days a container of this may stand open, None for no limit; of a mix the shortest open life counts."""
    lives = [floor.plant.body("material", m).get("open_days") for m in materials_of(about)]
    return min((d for d in lives if d is not None), default=None)


def _life_facts(unit: UnitFacts | None, about: Facts, floor: Floor) -> Facts:
    """Whether a container is past its use-by date, or has stood open for too long."""
    days = _open_days(about, floor)
    opened = opened_first(unit.id) if unit and days is not None else None
    return {
        "expired": expired(about.get("expires"), floor.day),
        "expires": about.get("expires") or "no date",
        "open_too_long": open_too_long(opened, days, floor.plant.calendar, floor.day),
        "open_days": days or 0,
    }


def _book_facts(unit: UnitFacts | None, floor: Floor, wanted: int) -> Facts:
    """Whether there is enough in a container by the book for `wanted`, in its own unit."""
    balance = unit.balance if unit else 0
    # Where nobody knows how much there was, no draw is too much.
    short = wanted - balance if balance is not None else 0
    more = _more_than_book(floor, unit) if unit else 0
    uom = unit.uom if unit else "mg"
    return {
        # By the book: a bag may hold a little more than its label says, and that little may still be taken.
        "used_up": bool(unit and unit.status == "used up" and (balance or 0) + more <= 0),
        "given_back": bool(unit and unit.status == "given back"),
        "balance": say.amount(balance, uom),
        "too_little": unit is not None and short > 0 and short > more,
        "short": say.amount(max(short, 0), uom),
    }


def source_facts(found: Found, floor: Floor, wanted: int, *, rest: str = "scan the one the rest came from") -> Facts:
    """What the rules ask of a container about to be used; `wanted` in its own unit. rest: how more than is in it is
    recorded from two."""
    unit = found.unit
    about = unit.about if unit else {}
    return {
        "name": found.name,
        "empty": unit is None,
        "material": about.get("material", "nothing"),
        "lot_no": (unit.lot_no if unit else None) or "mixed",
        "status": (unit.status if unit else None) or "empty",
        "usable": bool(unit and unit.status in USABLE),
        "held": bool(unit and unit.holds),
        "hold": hold_words.held_by(unit),
        "rest": rest,
        **_life_facts(unit, about, floor),
        **_book_facts(unit, floor, wanted),
    }


def _out_of_turn(floor: Floor, unit: UnitFacts, amount: int) -> bool:
    """Whether it is told late of what is over its book now: then it matters which draw went over it, and by how much.
    As long as there is enough of it, the order makes no difference."""
    if floor.happened >= floor.now or unit.balance is None:
        return False
    return unit.gained != 0 or unit.balance < amount


def draw(
    rows: Rows,
    floor: Floor,
    source: Found,
    child: str,
    role: str,
    amount: int,
    *,
    layer: str | None = None,
    position: str | None = None,
    uom: str = "mg",
    before: int = 0,
) -> None:
    """The edge from a source's content to `child`, for `amount` in the content's unit;
    `before` was already taken in the same act.

    More than the book says: within the fill tolerance a fill difference is booked; beyond it (only a told fact
    gets here) stock goes below zero and a discrepancy is opened for a person to close. What was taken before the
    carrier was last filled or emptied is left to the replay of its log.
    """
    unit = source.unit
    if unit is not None and (source.late or _out_of_turn(floor, unit, before + amount)):
        floor.changes.took.append(
            Took(
                source.carrier, floor.happened, child, amount, unit.uom or uom, role, layer, position,
                unsure=floor.unsure,
            )
        )  # fmt: skip
        return
    # Within what the time may be off it may have been any of these instead: an edge without an amount for each.
    for other in source.others:
        rows.edge(child, other, role, layer=layer, position=position)
    if unit is None:
        rows.missed(source.carrier, child, role, amount=amount, uom=uom, layer=layer, position=position)
        return
    rows.edge(child, unit.uid, role, amount=amount, uom=unit.uom or uom, layer=layer, position=position)
    if unit.balance is None:
        return
    left = unit.balance - before - amount
    if left < 0:
        if -left <= _more_than_book(floor, unit):
            rows.difference(unit.uid, min(-left, amount), unit.uom or "mg", "fill difference")
        else:
            rows.discrepancy_once("overdrawn", unit.uid)
    if left <= 0:
        rows.status(unit.uid, _empty_as(unit, role), at=stamp(floor.now))


def _empty_as(unit: UnitFacts, role: str) -> str:
    """What a container is of which nothing is left. What was taken beyond what went back says nothing of where it is.
    """
    stays = unit.status if unit.status in GONE_AS.values() else None
    return GONE_AS.get(role) or stays or "used up"


def out_facts(found: Found, floor: Floor, text: str, *, everything: bool) -> Facts:
    """What the rules ask where something leaves a container for good: `text` as typed in kg or pieces, or all that is
    left in it by the book."""
    amount, trouble = _typed(found, text, everything=everything)
    left = found.unit.balance if found.unit else 0
    return {
        "typed": {"trouble": trouble},
        "box": source_facts(found, floor, amount),
        "out": {
            "name": found.name,
            "nothing_left": everything and found.unit is not None and not max(left or 0, 0),
            "book": say.amount(left, found.unit.uom if found.unit else "mg"),
        },
    }


def _typed(found: Found, text: str, *, everything: bool) -> tuple[int, str]:
    """(amount, why what was typed cannot be one)."""
    if everything:
        return 0, "Say how much, or that it is all that is left: not both." if text.strip() else ""
    try:
        amount = parse_amount(text, found.unit.uom if found.unit and found.unit.uom else "mg", LARGEST_FILL)
    except AmountError as error:
        return 0, str(error)
    return amount, "" if amount else "Nothing would leave it: write how much, or say that it is all that is left."


def draw_out(rows: Rows, floor: Floor, source: Found, child: str, role: str, text: str, *, everything: bool) -> str:
    """The way out of a container into what is made into nothing else; how much that is, in words.

    everything: all that is left by the book, also by what is told later of it; a tub stands empty then.
    """
    uom = source.unit.uom if source.unit and source.unit.uom else "mg"
    if not everything:
        amount = parse_amount(text, uom, LARGEST_FILL)
        draw(rows, floor, source, child, role, amount, uom=uom)
        return say.amount(amount, uom)
    return _all_out(rows, floor, source, child, role, uom)


def _all_out(rows: Rows, floor: Floor, source: Found, child: str, role: str, uom: str) -> str:
    unit, late = source.unit, source.late or floor.happened < floor.now
    left = max(unit.balance or 0, 0) if unit else 0
    if unit is not None and late:
        floor.changes.took.append(
            Took(source.carrier, floor.happened, child, left or None, uom, role, None, ALL, unsure=floor.unsure)
        )
        return "all that was left"
    if left:
        draw(rows, floor, source, child, role, left, position=ALL, uom=uom)
    else:
        rows.missed(source.carrier, child, role, amount=None, uom=uom, position=ALL)
    if unit is not None and unit.kind == "charge":
        rows.fill(source.carrier or "", None, floor.since(source))
    return f"all that was left, {say.amount(left, uom)} by the book" if left else "all that was left"
