"""Counting what is in one container: a person's figure stands beside the book, and from then on the book agrees."""

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import AmountError, parse_amount, printed
from trace.readmodels.plantdata import Directory
from trace.readmodels.rows import Rows, stamp
from trace.recording.acts.draws import LARGEST_FILL, fill_tolerance
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor import words as say
from trace.recording.floor.changes import GONE_AS, Counted
from trace.recording.floor.sources import status_before_used_up
from trace.recording.floor.standing import Floor
from trace.recording.floor.units import UnitFacts
from trace.recording.told_late.history import COUNTED


@dataclass(frozen=True, kw_only=True)
class Count(Command):
    """What is in a container now, weighed or counted. amount: in kg or pieces as typed, 0 for nothing.

    again: the same figure typed once more, where the first was so far under the book that it may be a slip.
    What went in and out by the records stays as it is; the difference is booked with its cause.
    """

    KIND = "counted"
    NAME = noop("count")
    AS_IT_WAS = ("box",)
    FILLS = ("box",)

    box: str = scanned("container", "vessel", "roll", "returnable")
    amount: str
    again: str = ""
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        found = next((row for row in e.part("differences") if row.get("left") is not None), None)
        amount = say.amount(found["left"], found["uom"]) if found else e.says["amount"]
        return _("%(code)s counted: %(amount)s") % {"code": printed(e.says["box"]), "amount": amount}


def count_facts(c: Count, floor: Floor) -> Facts:
    found = floor[c.box]
    unit = found.unit
    trouble, left = "", 0
    uom = unit.uom if unit and unit.uom else "mg"
    try:
        left = parse_amount(c.amount, uom, LARGEST_FILL)
    except AmountError as error:
        trouble = str(error)
    over = left - (unit.balance or 0) if unit else 0
    return {
        "typed": {"trouble": trouble},
        "count": {
            "no_reason": not c.reason.strip(),
            "nothing": unit is None,
            "name": found.name,
            "left": say.amount(left, uom),
            "over": say.amount(max(over, 0), uom),
            "too_much": unit is not None and not trouble and over > fill_tolerance(floor, unit),
            "book": say.amount(unit.balance if unit else 0, uom),
            "far_under": unit is not None and not trouble and far_under(floor.plant, unit, left),
            "again": bool(c.again.strip()) and c.again.strip() == c.amount.strip(),
            "used_up": bool(unit and unit.status == "used up"),
        },
    }


def far_under(plant: Directory, unit: UnitFacts, left: int) -> bool:
    """True when so much less is left than the book says that it is counted again: more than its fill may be off by,
    and more than the plant's setting (5 % where it has none: common practice, no source)."""
    fill, asks = plant.setting("fill tolerance", "0"), plant.setting("count asks from", "0.05")
    return (unit.balance or 0) - left > max(Decimal(str(fill)), Decimal(str(asks))) * (unit.amount or 0)


@handles(Count, count_facts)
def count(c: Count, floor: Floor, rows: Rows) -> str:
    found = floor[c.box]
    unit = found.unit
    rows.counted(found.carrier or "", parse_amount(c.amount, unit.uom if unit and unit.uom else "mg", LARGEST_FILL))
    if unit is None:
        # What is told later may show that something was in it.
        return f"{found.name}: {c.amount} counted, and nothing was in it by the book"
    uom = unit.uom or "mg"
    left = parse_amount(c.amount, uom, LARGEST_FILL)
    if count_facts(c, floor)["count"]["too_much"]:
        rows.discrepancy("counted more than was received", unit.uid)
    elif count_facts(c, floor)["count"]["far_under"]:
        rows.discrepancy("counted far less than the book says", unit.uid)
    rows.touch(unit.uid, "counted")
    if found.late:
        floor.changes.counted.append(Counted(found.carrier or "", floor.happened, left))
    else:
        rows.difference(unit.uid, left - (unit.balance or 0), uom, COUNTED, left=left)
        if left == 0:
            rows.status(unit.uid, "used up", at=stamp(floor.now))
        elif unit.status in ("used up", *GONE_AS.values()):
            rows.status(unit.uid, status_before_used_up(unit.uid), at=stamp(floor.now))
    return f"{found.name}: {say.amount(left, uom)} counted, {say.amount(unit.balance, uom)} by the book"
