"""What goes back to its supplier: a container or some of it, with a delivery note."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.readmodels.rows import Rows
from trace.recording.acts.draws import draw_out, out_facts
from trace.recording.acts.scrapping import went_out
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.standing import Floor
from trace.recording.floor.units import UnitFacts


@dataclass(frozen=True, kw_only=True)
class GiveBack(Command):
    """A container goes back to its supplier, whole (everything) or so much of it (amount, in kg or pieces as typed).

    note_no: the number of the delivery note that goes with it. supplier: "" for the one it came from. What waits, or is
    held, may go back.
    """

    KIND = "given_back"
    NAME = noop("give back to the supplier")
    AS_IT_WAS = ("box",)

    box: str = scanned("container", "roll", "returnable")
    amount: str = ""
    everything: bool = False
    note_no: str
    supplier: str = ""
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        to = next((row["about"].get("supplier") for row in e.part("units") if row["kind"] == "return"), "")
        return _("Given back to %(supplier)s with note %(note)s: %(much)s from %(box)s") % {
            "supplier": e.name_of("supplier", to or e.says["supplier"]), "note": e.says["note_no"],
            "much": went_out(e, "return"), "box": printed(e.says["box"]),
        }  # fmt: skip


def give_back_facts(c: GiveBack, floor: Floor) -> Facts:
    found = floor[c.box]
    came_from = str(found.unit.about.get("supplier") or "") if found.unit else ""
    facts = out_facts(found, floor, c.amount, everything=c.everything)
    supplier = c.supplier or came_from
    facts["back"] = {
        "name": found.name,
        "no_note": not any(sign.isalnum() for sign in c.note_no),
        "no_supplier": found.unit is not None and floor.plant.get("supplier", supplier) is None,
        "supplier": _name(supplier, floor),
        "came_from": _name(came_from, floor),
        "other_supplier": bool(c.supplier and came_from and c.supplier != came_from),
        "doubt": _doubt(found.unit),
    }
    return facts


def _name(key: str, floor: Floor) -> str:
    return str(floor.plant.body("supplier", key).get("name") or key or "nobody known")


def _doubt(unit: UnitFacts | None) -> str:
    """What is not sure of what is in a container, in words; "" where nothing is."""
    if unit is None:
        return ""
    found = [] if unit.lot_no else ["it is of no one lot"]
    if unit.gaps:
        found.append("a record of it is missing")
    if unit.overdrawn:
        found.append("more came out of it than was in it")
    return ", ".join(found)


@handles(GiveBack, give_back_facts)
def give_back(c: GiveBack, floor: Floor, rows: Rows) -> str:
    found = floor[c.box]
    about = found.unit.about if found.unit else {}
    supplier = c.supplier or about.get("supplier")
    back = rows.unit(
        "return", about={"material": about.get("material"), "supplier": supplier, "note_no": c.note_no.strip()},
        status="given back",
    )  # fmt: skip
    much = draw_out(rows, floor, found, back, "return", c.amount, everything=c.everything)
    return f"{found.name} given back to {_name(str(supplier or ''), floor)} with note {c.note_no.strip()}: {much}"
