"""A hull is repaired: where on its drawing, what was done, and what of which box went in."""

from collections.abc import Sequence
from dataclasses import replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace import lookup
from trace.codes.positions import in_order
from trace.drawings import MouldPlan, PositionState, ZoneReading, mould_plan
from trace.recording.acts import hold_words
from trace.recording.acts.complaint_words import word
from trace.recording.acts.repairs import TAKES, WORKS, Repair, places_of
from trace.recording.commands import Command
from trace.scan.page import Action, Field, Row
from trace.scan.sight import FINISHING, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import choice, done_rows, press
from trace.speech import spoken

CAUTION = gettext_lazy("Hot air, sharp tools, fumes: gloves, eyes and air as the tool's maker asks.")
EVENTS = ("complained", "returned", "repaired", "inspected")
PLAIN = PositionState("done")


def slots(sight: Sight) -> tuple[Slot, ...]:
    takes = sight.text("work") in TAKES
    return (
        Slot("hull", ("hull",), _("Scan the plate of the hull to repair"), clears=("spot", "work", "amount", "source")),
        Slot("source", ("container", "roll", "returnable"), _("Scan the box of the rods or parts"), optional=not takes),
    )


def product(sight: Sight) -> dict[str, object]:
    found = sight.one("hull")
    return dict(sight.plant.product_of(found.hull.about)) if found and found.hull else {}


def _unit(sight: Sight) -> str:
    found = sight.one("source")
    return _("pieces") if found and found.unit and found.unit.uom == "pc" else "kg"


def fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("hull"):
        return ()
    spots = [(name, name) for name in sorted(places_of(product(sight)), key=in_order)]
    place = (
        choice("spot", _("Where"), spots, ask=_("Where on the hull?")) if spots
        else Field("spot", _("Where"), required=True, ask=_("Where on the hull?"))
    )
    amount = Field("amount", _("What went in"), "weight" if _unit(sight) == "kg" else "count", unit=_unit(sight),
                   required=True, ask=_("How much of it went in?"))  # fmt: skip
    return (
        place,
        replace(
            choice("work", _("What was done"), [(key, word(WORKS, key)) for key in WORKS]),
            looks=True, ask=_("What was done?"),
        ),
        *((amount,) if sight.text("source") else ()),
        Field("tool", _("Tool")),
        Field("remark", _("Remark")),
        Field("photo_evidence", _("Photo"), "photo", value=sight.text("photo_evidence")),
    )


def actions(sight: Sight) -> tuple[Action, ...]:
    if not (sight.text("hull") and sight.text("work")):
        return ()
    without = sight.text("work") in TAKES and not sight.text("source")
    if without:
        return (press("repaired", _("Nobody knows of which box"), "plain", below=True),)
    return (press("repaired", _("It is repaired")),)


def commands(sight: Sight) -> Sequence[Command] | None:
    if sight.do != "repaired" or not sight.text("hull"):
        return None
    source = sight.text("source")
    return [
        Repair(
            hull=sight.text("hull"), work=sight.text("work"), spot=sight.text("spot"), source=source,
            amount=sight.text("amount") if source else "", tool=sight.text("tool"), remark=sight.text("remark"),
            photo=sight.text("photo_evidence"),
        )
    ]  # fmt: skip


def rows(sight: Sight) -> tuple[Row, ...]:
    found = sight.one("hull")
    if found is None or found.hull is None:
        return ()
    [hold] = spoken([hold_words.held_by(found.hull)])
    held = (Row(_("On hold"), hold, note=True),) if hold else ()
    return (*held, *done_rows(lookup.history_of(found.hull.id, EVENTS)))


def drawing(sight: Sight) -> MouldPlan | None:
    """The plan with the chosen place marked."""
    plan, spot = product(sight).get("drawing"), sight.text("spot")
    if not isinstance(plan, dict):
        return None
    marked = PositionState("marked", spot)
    states = {part: {name: marked if name == spot else PLAIN for name in plan.get(part, {})}
              for part in ("positions", "graphics")}  # fmt: skip
    zones = {name: ZoneReading(_("here") if name == spot else "") for name in plan.get("zones", {})}
    return mould_plan(
        plan, states["positions"], states["graphics"], zones, width=400.0, callouts=False,
        title=str(product(sight).get("name", "")),
    )


def next_(sight: Sight) -> Next | None:
    found = sight.one("hull")
    if found is None or found.hull is None or (sight.text("work") in TAKES and not sight.text("source")):
        return None
    about = found.hull.about
    return Next(
        _("Say where and what was done, then press"),
        f"{found.code}, {about.get('product', '')} {about.get('colour', '')}, {found.hull.status}",
    )


REPAIRS = Station(
    slug="repairs",
    title=gettext_lazy("Repair"),
    home=Home(FINISHING, 27, gettext_lazy("Weld, flame or fit anew, then inspect again")),
    roles=("lead", "quality", "deputy"),
    slots=slots,
    fields=fields,
    thing="hull",
    actions=actions,
    commands=commands,
    keeps=("source", "tool"),
    opens=lambda _sight, found: bool(found.hull and found.hull.status in ("returned", "failed inspection")),
    rows=rows,
    drawing=drawing,
    next=next_,
    caution=CAUTION,
)
