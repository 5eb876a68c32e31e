"""The settings a plant can change, each with the shape of its value."""

from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches

from django.utils.functional import Promise
from django.utils.translation import gettext as now_
from django.utils.translation import gettext_lazy as _

from plant.kinds.faults import Body, Fault, Others
from plant.kinds.kind import Kind
from plant.kinds.people import TASKS
from plant.kinds.shapes import TIME, ByName, Day, Digits, Either, Every, Field, Number, OneOf, Parts, Shape, Text, Whole
from plant.roles import ROLES

RULE = "rule:"
# The words of trace/recording/rules/engine.py, which reads nothing of this part; a test holds them together.
VERDICTS = ("refuse", "hold", "warn", "off")


@dataclass(frozen=True)
class Setting:
    """One setting: its key, the shape of its value, what it is for."""

    key: str
    shape: Shape
    about: Promise
    unit: str = ""


# What trace/codes/plant_day.py reads.
SHIFT = Parts((
    Field("name", Text(), _("The shift by its name."), needed=True),
    Field("starts", TIME, _("When it begins, by the plant's clock."), needed=True),
    Field("ends", TIME, _("When it ends; left out: with the start of the next.")),
    Field("weekdays", Every(Whole(1, 7), least=1), _("The days on which it is worked, 1 is Monday.")),
))
SETTINGS = (
    Setting("bind within minutes", Whole(), _("How long after demoulding a plate is bound without a question."), "min"),
    Setting("fill tolerance", Number(zero=True), _("How far a filling may be off where its material does not say.")),
    Setting("count asks from", Number(), _("From which share of a filling under the book a count is asked twice.")),
    Setting("opening stock until", Day(), _("The last day for stock that stood there before the records.")),
    Setting("shifts", Every(Either(TIME, SHIFT), least=1), _("The shifts; the plant day begins with the first.")),
    Setting("holidays", Every(Day()), _("Days on which no shift begins.")),
    Setting("shift ends", Every(TIME, least=1), _("The times at which a shift ends; read where no shifts are set.")),
    Setting("first shots", Whole(), _("How many mouldings after a colour change or a cold start are held for a look.")),
    Setting("handover minutes", Whole(), _("How long the next shift may take to accept the one before."), "min"),
    Setting("sample days", Whole(), _("How long a retained sample is kept."), "days"),
    Setting("tub litres", Number(), _("What a tub holds."), "litres"),
    Setting("drop box litres", Number(), _("What a drop box holds."), "litres"),
    Setting("tub tare kg", Number(), _("An empty tub; only where scales are not zeroed with the tub on them."), "kg"),
    Setting("drop box tare kg", Number(), _("An empty drop box, likewise."), "kg"),
    Setting("tare tolerance kg", Number(), _("How far a tare may be off."), "kg"),
    Setting(
        "gs1-prefix", Digits(4, 12), _("The GS1 company prefix under which hulls, lots and packs are told to others."),
    ),
    Setting("hold list minutes", Whole(), _("How old the list of holds may be when a truck leaves."), "min"),
    Setting("phones", ByName(Text(), OneOf(ROLES)), _("Whom to phone about a hold: for a role, its number.")),
    Setting(
        "witnessed runs", ByName(Whole(), OneOf(TASKS)),
        _("For a task: how many runs a trained person must have witnessed before somebody is signed off for it."),
    ),
    Setting(
        "badge minutes", Whole(),
        _("How soon one badge cannot be at a screen in another part, or there, back and there in one part; empty: 2."),
        "min",
    ),
    Setting("repairs at most", Whole(), _("How often a hull may be repaired.")),
    Setting("plant-name", Text(), _("The plant as strangers read it at a label's address.")),
    Setting("plant-contact", Text(), _("Whom a stranger with a hull can ask.")),
    Setting("stop-use-notice", Text(), _("What a stranger reads at the label of a hull under a stop-use notice.")),
)
BY_KEY = {one.key: one for one in SETTINGS}


def setting_across(key: str, body: Body, _others: Others) -> Iterator[Fault]:
    """A rule's setting is a verdict; every other one is a setting there is, with its own value."""
    if key.startswith(RULE):
        if "value" in body:
            yield from OneOf(VERDICTS).faults("value", body["value"])
    elif key not in BY_KEY:
        near = "".join(get_close_matches(key, BY_KEY, 1))
        yield Fault(
            "", now_("There is no setting “%(key)s”.") % {"key": key[:60]}, now_("Nothing would ever read it."),
            now_("Is “%(near)s” meant?") % {"near": near} if near
            else now_("There are: %(keys)s, and rule:CODE for each rule.") % {"keys": ", ".join(BY_KEY)},
        )  # fmt: skip
    elif "value" in body:
        yield from BY_KEY[key].shape.faults("value", body["value"])


SETTING = Kind(
    "setting", _("Settings"), _("setting"), "plant_setting", ("administrator",),
    (Field("value", Shape(), _("Its value; rule:CODE switches a rule to refuse, hold, warn or off."), needed=True),),
    _("What this plant has set, and the rules it has switched."),
    summary=("value",), across=setting_across, example={"value": ""},
)  # fmt: skip
