"""Repairs: what was done to a hull, where, and what of which lot went into it; it is inspected again afterwards."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import AmountError, parse_amount, printed
from trace.readmodels.rows import Rows
from trace.recording.acts.complaint_words import word
from trace.recording.acts.draws import LARGEST_FILL, draw, source_facts
from trace.recording.acts.finishing import AWAY
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor import words as say
from trace.recording.floor.standing import Floor

# What is done to a hull, in the trade's words: common practice, no source.
WORKS = {
    "welded": noop("welded"), "flamed": noop("ground and flamed"), "fitted": noop("a part fitted anew"),
    "other": noop("something else"),
}  # fmt: skip
# Of the work that takes material, so that none scanned is a missing record.
TAKES = ("welded", "fitted")
LAYER = "repair"
REPAIRED = "repaired"
# What may go into a hull here: rods to weld with, and parts. Powder goes in by the oven alone.
MATERIALS = ("rod", "part", "insert")


@dataclass(frozen=True, kw_only=True)
class Repair(Command):
    """A hull is repaired, one that came back or one that never left. work: one of WORKS; spot: where, by a name of its
    model's drawing; source: the box of rods or parts; amount: what of it went in, in kg or pieces; tool: what it was
    done with, by its name.
    """

    KIND = REPAIRED
    NAME = noop("repair")
    AS_IT_WAS = ("source",)

    hull: str = scanned("hull")
    source: str = scanned("container", "roll", "returnable", optional=True)
    work: str
    spot: str
    amount: str = ""
    tool: str = ""
    photo: str = ""
    remark: str = words()

    def said(self) -> dict[str, Any]:
        """Without what is no name: nothing said freely enters the event's bytes."""
        said = super().said()
        names = {name: said[name] for name in ("spot", "tool")}
        return said | {name: text if re.fullmatch(r"[\w./ -]{0,20}", text) else "" for name, text in names.items()}

    @staticmethod
    def told(e: Told) -> str:
        went_in = next((row for row in e.part("edges") if row["role"] == "fit" and row["amount"]), None)
        said = [_("%(work)s at %(spot)s") % {"work": word(WORKS, e.says["work"]), "spot": e.says["spot"] or "?"}]
        if went_in:
            said.append(_("%(much)s from %(box)s") % {
                "much": say.amount(went_in["amount"], went_in["uom"]), "box": printed(e.says["source"]),
            })  # fmt: skip
        said += [_("with %(tool)s") % {"tool": e.says["tool"]}] if e.says["tool"] else []
        return _("Repaired: %(said)s") % {"said": ", ".join(said)}


def places_of(product: Mapping[str, Any]) -> list[str]:
    """Every place that a model's drawing names."""
    drawing = product.get("drawing") or {}
    return [name for part in ("positions", "graphics", "zones") for name in drawing.get(part, {})]


def times_repaired(hull: int) -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM event_unit WHERE unit = %s AND role = %s", [hull, REPAIRED])
        return int(cursor.fetchone()[0])


def _taken(c: Repair, floor: Floor) -> tuple[int, str]:
    """(what is taken out of the source, in its own unit; why what was typed is no amount)."""
    unit = floor[c.source].unit if c.source else None
    if not c.source:
        return 0, "Scan what the amount was taken from, or leave the amount out." if c.amount.strip() else ""
    try:
        amount = parse_amount(c.amount, unit.uom if unit and unit.uom else "mg", LARGEST_FILL)
    except AmountError as error:
        return 0, str(error)
    return amount, "" if amount else "Weigh or count what went into the hull: nothing cannot have."


def _source_facts(c: Repair, floor: Floor, amount: int) -> Facts:
    facts = source_facts(floor[c.source], floor, amount)
    # A repair that takes nothing has no source to ask about.
    return facts if c.source else facts | {"empty": False, "usable": True}


def repair_facts(c: Repair, floor: Floor) -> Facts:
    hull = floor[c.hull].hull
    amount, trouble = _taken(c, floor)
    product = floor.plant.product_of(hull.about) if hull else {}
    places, before = places_of(product), times_repaired(hull.id) if hull else 0
    most = floor.plant.setting("repairs at most", None)
    box = _source_facts(c, floor, amount)
    return {
        "typed": {"trouble": trouble},
        "box": box,
        "repair": {
            "hull": printed(floor[c.hull].code),
            "gone": bool(hull and hull.status in AWAY),
            "status": (hull.status if hull else None) or "unknown",
            "no_work": c.work not in WORKS,
            "nowhere": not c.said()["spot"] or bool(places and c.spot not in places),
            "places": ", ".join(places) or "any name",
            "no_source": c.work in TAKES and not c.source,
            "other_material": bool(c.source)
            and floor.plant.body("material", str(box["material"])).get("kind") not in (*MATERIALS, None),
            "too_often": most is not None and before >= int(most),
            "before": before,
        },
    }


@handles(Repair, repair_facts)
def repair(c: Repair, floor: Floor, rows: Rows) -> str:
    hull, spot = floor[c.hull].hull, c.said()["spot"]
    assert hull is not None  # noqa: S101 - the code was asked to be a hull's
    rows.touch(hull.uid, REPAIRED)
    rows.photo(c.photo)
    if c.source:
        unit = floor[c.source].unit
        uom = unit.uom if unit and unit.uom else "mg"
        draw(rows, floor, floor[c.source], hull.uid, "fit", _taken(c, floor)[0], layer=LAYER, position=spot, uom=uom)
    elif c.work in TAKES:
        rows.gap(hull.uid, LAYER, spot)
    # Told of one that is packed or gone, it is looked into: the hull stays where it is.
    if hull.status not in AWAY:
        rows.status(hull.uid, REPAIRED)
    return f"{floor[c.hull].name} repaired: {WORKS.get(c.work, c.work)} at {spot or 'no place said'}"
