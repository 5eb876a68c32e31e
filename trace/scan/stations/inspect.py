"""Final inspection: look, measure, decide; and scrapping."""

from collections.abc import Sequence
from dataclasses import replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace import lookup
from trace.drawings import MouldPlan, PositionState, ZoneReading, mould_plan
from trace.recording.acts import hold_words
from trace.recording.acts.finishing import Inspect, Scrap
from trace.recording.commands import Command
from trace.recording.floor.open_questions import behind
from trace.scan.page import Action, Field, Row
from trace.scan.sight import FINISHING, MADE, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import HEAVY, choice, done_rows, press
from trace.speech import spoken

EVENTS = ("bound", "inspected", "held", "hold_released", "plates_swapped")


def slots(sight: Sight) -> tuple[Slot, ...]:
    return (Slot("hull", ("hull", "moulding", "part"), _("Scan the hull's plate")),)


def product(sight: Sight) -> dict[str, object]:
    found = sight.one("hull")
    about = found.unit.about if found and found.unit else {}
    return dict(sight.plant.body("product", about.get("product")))


def _part(sight: Sight, name: str) -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = product(sight).get(name) or {}  # type: ignore[assignment]
    return found


def checks(sight: Sight) -> list[str]:
    found: list[str] = product(sight).get("checks") or []  # type: ignore[assignment]
    return found


def fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("hull"):
        return ()
    ticks = [
        Field(f"check_{name}", _("%(check)s looked at") % {"check": name.capitalize()}, "checkbox")
        for name in checks(sight)
    ]
    zones = [
        Field(
            f"zone_{zone}",
            _("Zone %(zone)s") % {"zone": zone},
            "weight",
            unit="mm",
            needed=_("for a pass"),
            hint=_("least %(mm)s") % {"mm": rule.get("least_mm", "?")},
            ask=_("How thick is zone %(zone)s?") % {"zone": zone},
        )
        for zone, rule in _part(sight, "zones").items()
    ]
    return (
        *ticks, *zones, _looked(sight), Field("mass", _("Hull mass"), "weight", unit="kg"), *_colour(sight),
        Field("remark", _("Remark"), ask=_("What is not in order?")),
        Field("photo_evidence", _("Photo"), "photo", value=sight.text("photo_evidence")),
        Field("plate_destroyed", _("For scrap: the plate is destroyed"), "checkbox"),
    )  # fmt: skip


def _colour(sight: Sight) -> tuple[Field, ...]:
    """One press, wanted of nobody; none is chosen beforehand, so that it says what was seen."""
    colours = [(name, name.capitalize()) for name in _part(sight, "colours")]
    return (choice("colour", _("Colour as seen"), colours, required=False),) if colours else ()


def _looked(sight: Sight) -> Field:
    """All checks at once; each can be ticked by itself in place of it."""
    names = ", ".join(checks(sight)).capitalize()
    answers = [("all", _("All in order")), ("not", _("Something is not in order"))]
    field = choice(
        "looked", _("Looked at"), answers, required=False, hint=_("A thickness pass is not a strength pass.")
    )
    return replace(field, ask=_("%(checks)s: what did you see?") % {"checks": names})


def asks(sight: Sight) -> tuple[str, ...]:
    """The zones in turn, then what was seen; what is not in order is said in words."""
    if _held(sight):
        return ()
    zones = tuple(f"zone_{zone}" for zone in _part(sight, "zones"))
    ticked = all(sight.text(f"check_{name}") == "yes" for name in checks(sight))
    looked = () if ticked else ("looked",)
    return (*zones, *looked, *(("remark",) if sight.text("looked") == "not" else ()))


def looked_at(sight: Sight) -> tuple[str, ...]:
    whole = sight.text("looked") == "all"
    return tuple(name for name in checks(sight) if whole or sight.text(f"check_{name}") == "yes")


def _held(sight: Sight) -> bool:
    """On hold it cannot pass: nothing is measured before that is said."""
    found = sight.one("hull")
    return bool(found and found.unit and found.unit.holds)


def actions(sight: Sight) -> tuple[Action, ...]:
    if not sight.text("hull"):
        return ()
    bad, held = sight.text("looked") == "not", _held(sight)
    return (
        press("pass", _("Pass"), "plain" if bad or held else "main", below=held),
        press("fail", _("Fail"), "main" if bad and not held else "plain"),
        press("scrap", _("Scrap it"), "stop", below=True),
    )


def commands(sight: Sight) -> Sequence[Command] | None:
    hull = sight.text("hull")
    if not hull or sight.do not in ("pass", "fail", "scrap"):
        return None
    if sight.do == "scrap":
        return [Scrap(unit=hull, plate_destroyed=sight.text("plate_destroyed") == "yes", reason=sight.text("remark"))]
    zones = {zone: sight.text(f"zone_{zone}") for zone in _part(sight, "zones") if sight.text(f"zone_{zone}")}
    return [
        Inspect(
            hull=hull, verdict=sight.do, checks=looked_at(sight),
            thickness=zones, mass=sight.text("mass"), colour=sight.text("colour"), remark=sight.text("remark"),
            photo=sight.text("photo_evidence"),
        )
    ]  # fmt: skip


def rows(sight: Sight) -> tuple[Row, ...]:
    """What the record says of this hull: holds and gaps first, then what was done."""
    found = sight.one("hull")
    if found is None or found.unit is None:
        return ()
    hold = spoken([hold_words.held_by(found.unit)])[0]
    rows_ = [Row(_("On hold"), hold, now=True)] if hold else []
    open_ = behind(found.unit.id)
    rows_ += [Row(_("Missing from the record"), f"{what} {which}".strip()) for what, which in open_.gaps]
    rows_ += [Row(_("Still to be looked at"), kind) for kind in open_.questions]
    return (*rows_, *done_rows(lookup.history_of(found.unit.id, EVENTS)))


def drawing(sight: Sight) -> MouldPlan | None:
    """The plan with the thickness zones, each with what was typed for it."""
    plan = product(sight).get("drawing")
    if not isinstance(plan, dict):
        return None
    zones = {
        zone: ZoneReading(sight.text(f"zone_{zone}"), missing=not sight.text(f"zone_{zone}"))
        for zone in _part(sight, "zones")
    }
    inserts = {name: PositionState("done") for name in plan.get("positions", {})}
    graphics = {name: PositionState("done") for name in plan.get("graphics", {})}
    return mould_plan(
        plan, inserts, graphics, zones, width=400.0, callouts=False, title=str(product(sight).get("name", ""))
    )


def next_(sight: Sight) -> Next | None:
    found = sight.one("hull")
    if found is None or found.unit is None:
        return None
    about = found.unit.about
    which = f"{found.code}, {about.get('product', '')} {about.get('colour', '')}, {found.unit.status}"
    [hold] = spoken([hold_words.held_by(found.unit)])
    if hold:
        words = {"hull": which, "hold": hold}
        return Next(
            _("On hold: this cannot pass"),
            _("%(hull)s. %(hold)s. The hold is ended at the station End a hold.") % words,
        )
    return Next(_("Look, tick, measure, then decide"), which)


INSPECT = Station(
    slug="inspect",
    title=gettext_lazy("Inspect"),
    home=Home(FINISHING, 20, gettext_lazy("Look, measure and decide")),
    roles=("lead", "quality", "deputy"),
    slots=slots,
    fields=fields,
    asks=asks,
    thing="hull",
    actions=actions,
    commands=commands,
    rows=rows,
    drawing=drawing,
    next=next_,
    caution=HEAVY,
    stops=MADE,
)
