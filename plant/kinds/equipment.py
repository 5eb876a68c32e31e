"""Kinds of plant data that stand on the floor: moulds, ovens and arms, instruments, places, devices."""

from collections.abc import Iterator

from django.utils.translation import gettext as now_
from django.utils.translation import gettext_lazy as _

from plant.kinds.faults import Body, Fault, Others
from plant.kinds.kind import Kind
from plant.kinds.shapes import ByName, Day, Every, Field, Number, OneOf, Ref, Text, Whole

ARM = Ref("machine", {"kind": ("arm",)})
DUE = _("The last day of its calibration.")


def mould_across(key: str, body: Body, others: Others) -> Iterator[Fault]:
    """Two moulds cannot stand on one position of one arm, and none on an arm it does not go on."""
    mounted = body.get("mounted")
    for arm, position in mounted.items() if isinstance(mounted, dict) else ():
        arms = body.get("arms")
        if isinstance(arms, list) and arm not in arms:
            yield Fault(
                f"mounted {arm}",
                now_("“mounted” says %(arm)s, and %(arm)s is not among its arms.") % {"arm": arm},
                now_("The mould would be refused on that arm."),
                now_("Add %(arm)s to “arms”, or take it out of “mounted”.") % {"arm": arm},
            )
        for other in others.of_kind("mould"):
            there = other.body.get("mounted")
            if other.key != key and not other.ended and isinstance(there, dict) and there.get(arm) == position:
                yield Fault(
                    f"mounted {arm}",
                    now_("Position %(position)s of %(arm)s has mould %(other)s on it.")
                    % {"position": position, "arm": arm, "other": other.key},
                    now_("Two moulds cannot stand on one position of one arm."),
                    now_("Choose another position, or change %(other)s first.") % {"other": other.key},
                )


MOULD = Kind(
    "mould", _("Moulds"), _("mould"), "plant_mould", ("administrator", "maintenance"),
    (
        Field("products", Every(Ref("product")), _("The products it makes."), needed=True),
        Field("arms", Every(ARM), _("The arms it goes on."), needed=True),
        Field("mounted", ByName(Text(), ARM), _("The position it stands on, for each arm of a spider.")),
        Field("cavities", Every(Text()), _("Its cavities, by name.")),
        Field("state", OneOf(("in service", "first-off due", "on hold")), _("Whether it may be used."), needed=True),
        Field("service_every", Whole(), _("When service is due."), "shots"),
        Field("vent_every", Whole(), _("When the vent is due."), "shots"),
        Field("release_every", Whole(), _("When release agent is due."), "shots"),
        Field("logger", Ref("instrument", {"kind": ("logger",)}), _("The logger that reads its temperature.")),
    ),
    _("A mould, the arms it goes on, its care."),
    labelled=True, summary=("products", "arms", "state"), across=mould_across,
)  # fmt: skip


def machine_across(_key: str, body: Body, _others: Others) -> Iterator[Fault]:
    if body.get("kind") == "oven" and body.get("oven"):
        yield Fault(
            "oven", now_("“oven” is filled in, and this is an oven itself."),
            now_("Only an arm goes into an oven."), now_("Take it out, or choose the kind arm."),
        )  # fmt: skip


MACHINE = Kind(
    "machine", _("Ovens and arms"), _("machine"), "plant_machine", ("administrator", "maintenance"),
    (
        Field("kind", OneOf(("oven", "arm")), _("What it is."), needed=True),
        Field("state", OneOf(("in service", "locked out")), _("Whether it may be used."), needed=True),
        Field("oven", Ref("machine", {"kind": ("oven",)}), _("Of an arm: the oven it goes into.")),
        Field("positions", Whole(1), _("Of an arm: how many moulds it carries.")),
        Field("motion", Text(), _("Of an oven: rock, or biaxial.")),
        Field("calibration_due", Day(), DUE),
    ),
    _("An oven, or an arm or carriage that goes into one."),
    labelled=True, summary=("kind", "state", "calibration_due"), across=machine_across,
)  # fmt: skip


def instrument_across(key: str, body: Body, _others: Others) -> Iterator[Fault]:
    """Two limits would leave open by which it is judged; a class says nothing without its interval."""
    if body.get("accuracy") and body.get("kind") != "scale":
        yield Fault(
            "accuracy", now_("%(key)s is no scale, and “accuracy” is a scale's.") % {"key": key},
            now_("Only a scale has a class."), now_("Take it out, and enter “limit” instead."),
        )  # fmt: skip
    elif body.get("accuracy") and body.get("limit"):
        yield Fault(
            "limit", now_("“accuracy” and “limit” are both filled in."),
            now_("Nobody could tell by which of the two it is judged."), now_("Take one of them out."),
        )  # fmt: skip
    elif body.get("accuracy") and not body.get("interval"):
        yield Fault(
            "interval", now_("“accuracy” is filled in, and “interval” is not."),
            now_("A class says how many scale intervals a scale may be off."),
            now_("Enter its verification scale interval e, as its plate says it."),
        )  # fmt: skip


INSTRUMENT = Kind(
    "instrument", _("Instruments"), _("instrument"), "plant_instrument", ("administrator", "maintenance"),
    (
        Field("kind", OneOf(("scale", "gauge", "logger", "thermometer")), _("What it measures with."), needed=True),
        Field("resolution", Number(), _("The smallest step it shows, in its own unit.")),
        Field("calibration_due", Day(), DUE),
        Field("check_mass", Number(), _("Of a scale: the known weight it is checked with."), "kg"),
        Field("check_tolerance", Number(), _("How far the check may be off."), "kg"),
        Field("accuracy", OneOf(("I", "II", "III", "IIII")), _(
            "Of a scale: its class after OIML R 76, by which a calibration is judged: twice the error of its table once"
            " in service, and that error as it is left."
        )),
        Field("interval", Number(), _("Of a scale with a class: its verification scale interval e."), "kg"),
        Field("limit", Number(), _(
            "How far a calibration may find it off, in its own unit (kg, mm, °C), where it has no class."
        )),
    ),
    _("A scale, gauge, logger or thermometer."),
    labelled=True, summary=("kind", "calibration_due"), across=instrument_across,
)  # fmt: skip

PLACE = Kind(
    "place", _("Places"), _("place"), "plant_place", ("administrator",),
    (
        Field("name", Text(), _("What people call it."), needed=True),
        Field("kind", Text(), _("Rack, bay, floor, dock, station."), needed=True),
        Field("max_kg", Number(), _("The most it may carry."), "kg"),
        Field("levels", Whole(), _("How many hulls may lie on one another.")),
    ),
    _("Where things stand."),
    labelled=True, summary=("kind",),
)  # fmt: skip


def stations() -> tuple[str, ...]:
    # The table of rights reads the kinds, and the stations are declared in it later than this is read.
    from plant.access import STATION_ROLES

    return tuple(STATION_ROLES)


DEVICE = Kind(
    "device", _("Devices"), _("device"), "plant_device", ("administrator",),
    (
        Field("name", Text(), _("What people call it."), needed=True),
        Field("station", OneOf(stations), _("The station it stands at.")),
    ),
    _("A tablet, phone or scanner."),
    summary=("name", "station"),
)  # fmt: skip
