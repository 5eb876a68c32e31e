"""Vessels and decants: what enters a carrier that is not empty makes a new content, with its heel."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import AmountError, parse_amount, printed
from trace.readmodels.rows import Rows, stamp
from trace.recording.acts.draws import LARGEST_FILL, draw, fill_tolerance, source_facts
from trace.recording.commands import Command, Facts, Told, handles, scanned
from trace.recording.floor import words as say
from trace.recording.floor.changes import GONE_AS, Emptied, Put
from trace.recording.floor.sources import status_before_used_up
from trace.recording.floor.standing import Floor, Found, UnitFacts
from trace.recording.told_late.contents import mixed_about, worse


@dataclass(frozen=True, kw_only=True)
class TopUp(Command):
    """Material from a container goes into a vessel, tub or box, on top of what is in it. amount in kg as typed."""

    KIND = "topped_up"
    NAME = noop("top up")
    TASK = "top-up"
    AS_IT_WAS = ("source", "into")
    FILLS = ("into",)

    source: str = scanned("container", "vessel", "tub", "roll")
    into: str = scanned("vessel", "container", "tub", "returnable")
    amount: str
    commingle: bool = False

    @staticmethod
    def told(e: Told) -> str:
        edge = next((row for row in e.part("edges") if row["role"] == "topup" and not row.get("of")), None)
        much = say.amount(edge["amount"], edge["uom"]) if edge and edge["amount"] else e.says["amount"]
        return _("%(amount)s from %(source)s on top of what was in %(into)s") % {
            "amount": much, "source": printed(e.says["source"]), "into": printed(e.says["into"]),
        }  # fmt: skip


def top_up_facts(c: TopUp, floor: Floor) -> Facts:
    source, into = floor[c.source], floor[c.into]
    trouble, amount = "", 0
    try:
        amount = parse_amount(c.amount, source.unit.uom if source.unit and source.unit.uom else "mg", LARGEST_FILL)
        if amount == 0:
            trouble = "Nothing was moved: write how much went in."
    except AmountError as error:
        trouble = str(error)
    box = source_facts(source, floor, amount)
    there = into.unit.about.get("material") if into.unit else None
    return {
        "typed": {"trouble": trouble},
        "box": box,
        "into": {
            "name": into.name,
            "material": there or "nothing",
            "other_material": bool(there and there != box["material"]),
            "live": bool(into.unit and _holds(into.unit) and "vessel" not in into.kinds),
            "commingle": c.commingle,
            "itself": source.carrier is not None and source.carrier == into.carrier,
        },
    }


def _holds(unit: UnitFacts) -> bool:
    """Something is in it, as far as anybody knows; an amount that nobody recorded is not nothing."""
    return unit.balance is None or unit.balance > 0


def _poured(unit: UnitFacts | None) -> tuple[Facts, str | None, str]:
    """(about, lot number, status) of what is poured out of a source; `unit`: what is in that by the records."""
    if unit is None:
        return {}, None, "unknown"
    status = unit.status or "unknown"
    if status in ("used up", *GONE_AS.values()):
        # By the book nothing was left in it: what came out all the same is what was in it before.
        status = status_before_used_up(unit.uid)
    return unit.about, unit.lot_no, status


def fill_on_top(
    rows: Rows, floor: Floor, into: Found, amount: int, uom: str, poured: tuple[Facts, str | None, str]
) -> str:
    """The uid of the new content that `poured` makes of what is in a carrier, which goes into it as its heel."""
    about, lot_no, status = poured
    old = into.unit
    heel = max(old.balance or 0, 0) if old and old.uom == uom else 0
    mix = mixed_about((old.about, old.lot_no) if old and heel else None, about, lot_no)
    if old and _holds(old):
        status = worse(status, old.status) or status
    content = rows.unit("content", amount=heel + amount, uom=uom, carrier=into.carrier, status=status, **mix)
    if old:
        # Nothing left by the book is not proved empty: an edge without an amount keeps it a "may".
        rows.edge(content, old.uid, "heel", amount=heel or None, uom=uom)
        rows.status(old.uid, "topped up", at=stamp(floor.now))
    return content


@handles(TopUp, top_up_facts)
def top_up(c: TopUp, floor: Floor, rows: Rows) -> str:
    source, into = floor[c.source], floor[c.into]
    unit = source.unit
    uom = unit.uom if unit and unit.uom else "mg"
    amount = parse_amount(c.amount, uom, LARGEST_FILL)
    said = f"{say.amount(amount, uom)} of {unit.about.get('material') if unit else 'unknown'} into {into.name}"
    poured = _poured(unit)
    if into.late:
        put = Put(into.carrier or "", floor.happened, source.carrier, amount, uom, *poured, floor.unsure)
        floor.changes.put.append(put)
        return said
    content = fill_on_top(rows, floor, into, amount, uom, poured)
    draw(rows, floor, source, content, "topup", amount)
    rows.fill(into.carrier or "", content, floor.since(into))
    if into.unit and into.unit.place:
        rows.place(content, into.unit.place)
    return said


@dataclass(frozen=True, kw_only=True)
class ProveEmpty(Command):
    """A vessel was emptied, looked into and cleaned: the only thing that closes the bounds of a mix."""

    KIND = "proved_empty"
    NAME = noop("prove empty")
    TASK = "top-up"
    AS_IT_WAS = ("vessel",)
    FILLS = ("vessel",)

    vessel: str = scanned("vessel", "container", "tub", "drop_box", "roll", "returnable")

    @staticmethod
    def told(e: Told) -> str:
        return _("%(code)s proved empty and clean") % {"code": printed(str(e.says.get("vessel", "")))}


def empty_facts(c: ProveEmpty, floor: Floor) -> Facts:
    found = floor[c.vessel]
    unit = found.unit
    left = unit.balance or 0 if unit else 0
    return {
        "vessel": {
            "name": found.name,
            "empty": unit is None,
            "left": say.amount(left, unit.uom if unit else "mg"),
            "much_left": bool(unit) and left > (fill_tolerance(floor, unit) if unit else 0),
        }
    }


@handles(ProveEmpty, empty_facts)
def prove_empty(c: ProveEmpty, floor: Floor, rows: Rows) -> str:
    found = floor[c.vessel]
    if found.late:
        floor.changes.emptied.append(Emptied(found.carrier or "", floor.happened, proved=True))
        return f"{found.name} empty and cleaned"
    if found.unit:
        _write_off(rows, floor, found.unit)
    rows.fill(found.carrier or "", None, floor.since(found))
    return f"{found.name} empty and cleaned"


def _write_off(rows: Rows, floor: Floor, unit: UnitFacts) -> None:
    left = unit.balance or 0
    if left:
        within = abs(left) <= fill_tolerance(floor, unit)
        rows.difference(unit.uid, -left, unit.uom or "mg", "fill difference" if within else "not found when emptied")
        if not within:
            rows.discrepancy("not found when emptied", unit.uid)
    rows.status(unit.uid, "used up", at=stamp(floor.now))
    rows.touch(unit.uid, "proved empty")
