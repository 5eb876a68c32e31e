"""Sweepings: kilograms swept or vacuumed up at a place or a machine, scrap of no lot that anybody knows."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import AmountError, parse_amount, printed
from trace.readmodels.rows import Rows
from trace.recording.acts.draws import LARGEST_FILL
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor import words as say
from trace.recording.floor.standing import Floor

SWEPT = "swept"
RULE = "SWEPT-BACK"
# Why it is scrap, beside the causes that a person chooses (acts/scrapping.py).
CAUSE = "swept up"


@dataclass(frozen=True, kw_only=True)
class SweepUp(Command):
    """So many kilograms (amount, as the scale shows it) were swept or vacuumed up. where: the place or the machine.

    into: the vessel or box that they were tipped into, which is refused; told as done it holds what is in there.
    """

    KIND = SWEPT
    NAME = noop("sweep up")

    where: str = scanned("place", "machine")
    amount: str
    scale: str = scanned("scale", optional=True)
    into: str = scanned("container", "vessel", "roll", "returnable", "tub", "drop_box", optional=True)
    remark: str = words()

    @staticmethod
    def told(e: Told) -> str:
        much = next((say.amount(row["amount"], row["uom"]) for row in e.part("units") if row["amount"]), "?")
        return _("Swept up at %(where)s: %(much)s, of no lot that is known") % {
            "much": much, "where": e.place_of(printed(e.says["where"])),
        }  # fmt: skip


def _swept(text: str) -> tuple[int, str]:
    """(mg, why what was typed is no amount)."""
    try:
        amount = parse_amount(text, "mg", LARGEST_FILL)
    except AmountError as error:
        return 0, str(error)
    return amount, "" if amount else "Nothing swept up is no record: write the kilograms, or leave it."


def sweep_facts(c: SweepUp, floor: Floor) -> Facts:
    return {
        "typed": {"trouble": _swept(c.amount)[1]},
        "sweep": {"back": bool(c.into), "into": floor[c.into].name if c.into else "", "where": floor[c.where].key},
    }


@handles(SweepUp, sweep_facts)
def sweep_up(c: SweepUp, floor: Floor, rows: Rows) -> str:
    amount, found = _swept(c.amount)[0], floor[c.where]
    kind = found.thing.kind if found.thing else "place"
    rows.unit("scrap", amount=amount, uom="mg", about={"cause": CAUSE, "where": found.key}, status="scrapped")
    rows.resource(kind, found.key, SWEPT)
    if c.scale:
        rows.resource("instrument", floor[c.scale].key, "scale")
    content = floor[c.into].unit if c.into else None
    if content is not None:
        # Which lots are in it now, nobody can say: it is looked at before anything more is drawn from it.
        rows.hold(content.uid, RULE)
        rows.discrepancy("sweepings were tipped into it", content.uid)
    return f"{say.amount(amount, 'mg')} swept up at {found.key}"
