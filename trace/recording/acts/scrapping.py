"""Scrap of powder, parts and graphics: what leaves a container or a tub and is made into nothing."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.readmodels.rows import Rows
from trace.recording.acts.draws import draw_out, out_facts
from trace.recording.acts.weighing import NO_SCALE, scale_facts
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor import words as say
from trace.recording.floor.standing import Floor

# Why it is scrapped, in the trade's words: common practice, no source. "other" needs words of one's own.
CAUSES = {
    "spilt": noop("spilt"), "dirty": noop("dirty or mixed up"), "old": noop("too old or damp"),
    "damaged": noop("damaged"), "rest": noop("not needed"), "other": noop("another reason"),
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class ScrapStock(Command):
    """Something of a container, a bag, a tub or a box of parts is scrapped. amount: as weighed or counted, in kg or
    pieces; everything: all that is left in it by the book. scale: where it was weighed. cause: one of CAUSES.
    """

    KIND = "stock_scrapped"
    NAME = noop("scrap stock")
    AS_IT_WAS = ("box",)

    box: str = scanned("container", "vessel", "roll", "returnable", "tub", "drop_box")
    amount: str = ""
    everything: bool = False
    scale: str = scanned("scale", optional=True)
    cause: str
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Scrapped: %(much)s from %(box)s, %(why)s") % {
            "much": went_out(e, "scrap"), "box": printed(e.says["box"]),
            "why": _(CAUSES.get(e.says["cause"], e.says["cause"])),
        }  # fmt: skip


def went_out(e: Told, role: str) -> str:
    """How much an event says went out this way, in words."""
    edge = next((row for row in e.part("edges") if row["role"] == role and row["amount"] and not row.get("of")), None)
    if edge is None:
        return _("all that was left") if e.says.get("everything") else str(e.says["amount"])
    much = say.amount(edge["amount"], edge["uom"])
    return _("all that was left, %(much)s by the book") % {"much": much} if e.says.get("everything") else much


def scrap_stock_facts(c: ScrapStock, floor: Floor) -> Facts:
    found = floor[c.box]
    facts = out_facts(found, floor, c.amount, everything=c.everything)
    facts["scale"] = scale_facts(floor[c.scale], floor) if c.scale else NO_SCALE
    facts["out"] |= {"no_cause": c.cause not in CAUSES or (c.cause == "other" and not c.reason.strip())}
    return facts


@handles(ScrapStock, scrap_stock_facts)
def scrap_stock(c: ScrapStock, floor: Floor, rows: Rows) -> str:
    found = floor[c.box]
    material = found.unit.about.get("material") if found.unit else None
    scrap = rows.unit("scrap", about={"material": material, "cause": c.cause}, status="scrapped")
    much = draw_out(rows, floor, found, scrap, "scrap", c.amount, everything=c.everything)
    if c.scale:
        rows.resource("instrument", floor[c.scale].key, "scale")
    return f"{material or 'nothing known'} from {found.name} scrapped: {much}"
