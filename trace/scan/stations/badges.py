"""A day badge for somebody without one: tasks for one shift, a PIN that is shown once, and the label of the badge."""

import secrets
from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.credentials import NotTaken, set_pin
from plant.models import Account, Person
from trace.codes import printed
from trace.recording.acts.setup import Define, Reprint
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.scan.page import Field
from trace.scan.sight import RECORDS, STORES, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import choice, press, reason_of, why

# Task -> the stations it opens.
TASKS: dict[str, tuple[str, ...]] = {
    "weighing": ("weigh", "check-weight"),
    "loading": ("load",),
    "oven": ("oven",),
    "demould": ("demould",),
    "top-up": ("top-up",),
}


def shift_ends(sight: Sight) -> list[datetime]:
    """The next two ends of a shift by the plant's calendar."""
    return sight.plant.calendar.ends_after(sight.now, 2)


def fields(sight: Sight) -> tuple[Field, ...]:
    ends = [
        (end.isoformat(timespec="minutes"), f"{end:%d %b %H:%M}") for end in map(timezone.localtime, shift_ends(sight))
    ]
    able = [("", _("not this")), ("beside", _("with a trained person beside")), ("trained", _("signed off"))]
    words = {
        "weighing": _("Weighing"),
        "loading": _("Loading"),
        "oven": _("Oven"),
        "demould": _("Demould"),
        "top-up": _("Topping up"),
    }
    return (
        Field("name", _("Name"), required=True),
        Field("agency", _("Agency")),
        choice("until", _("Ends with the shift"), ends, value=ends[0][0]),
        *(choice(f"task_{task}", words[task], able, required=False) for task in TASKS),
    )


def commands(sight: Sight) -> Sequence[Command] | None:
    may = {task: sight.text(f"task_{task}") for task in TASKS}
    if not sight.text("name") or not any(may.values()) or not sight.do:
        return None
    ends = {end.isoformat(timespec="minutes") for end in map(timezone.localtime, shift_ends(sight))}
    until = sight.text("until") if sight.text("until") in ends else min(ends)
    # Signed off for the plant day on which that shift began, also where it ends on the next by the clock.
    last = f"{sight.plant.calendar.day(datetime.fromisoformat(until) - timedelta(microseconds=1)):%Y-%m-%d}"
    body = {
        "roles": ["operator"],
        "day_badge": True,
        "agency": sight.text("agency") or None,
        "tasks": sorted(slug for task, how in may.items() if how for slug in TASKS[task]),
        "trained": {task: last for task, how in may.items() if how == "trained"},
        "until": until,
        "badge_of": sight.person,
    }
    return [Define(kind="person", key=key_of(sight), name=sight.text("name"), body=body)]


def key_of(sight: Sight) -> str:
    """The same for the same form, so that a form sent twice makes one badge."""
    return f"D-{timezone.localtime(sight.now):%y%m%d}-{UUID(sight.scan_id).hex[-6:].upper()}"


def after(sight: Sight, answers: Sequence[Answer]) -> dict[str, str]:
    """Sets the PIN beside the records and shows it this once; a form sent again shows none."""
    if answers[0].replayed:
        return {}
    person = Person.objects.get(key=key_of(sight))
    if Account.objects.filter(person=person.key).exclude(pin="").exists():
        return {}
    while True:
        pin = f"{secrets.randbelow(1_000_000):06d}"
        try:
            set_pin(person, pin)
        except NotTaken:
            continue
        return {"pin_shown_once": pin}


def next_(sight: Sight) -> Next:
    pin = sight.held.pop("pin_shown_once", "")
    if pin:
        return Next(
            _("PIN %(pin)s") % {"pin": pin}, _("It is shown this once: write it down for its owner. Print the badge.")
        )
    words = _("A badge for one shift") if sight.text("name") else _("Whose badge is it?")
    return Next(words, _("Untrained work needs a trained person's badge beside it."))


BADGES = Station(
    slug="badges",
    title=gettext_lazy("Day badge"),
    home=Home(RECORDS, 50, gettext_lazy("A badge for one shift")),
    roles=("lead",),
    slots=lambda sight: (),
    fields=fields,
    commands=commands,
    actions=lambda sight: (press("make", _("Make the badge"), bare=False),),
    next=next_,
    after=after,
    takes_code=False,
    half_done=False,
    labels="62x29",
)


# A label printed again.


def reprint_slots(sight: Sight) -> tuple[Slot, ...]:
    kinds = tuple(Reprint.__dataclass_fields__["code"].metadata["scan"])
    return (Slot("label", tuple(k for k in kinds if k != "person"), _("Scan or type the label's code")),)


def reprint_fields(sight: Sight) -> tuple[Field, ...]:
    if not sight.text("label"):
        return ()
    reasons = [
        ("damaged", _("Damaged")),
        ("lost", _("Lost")),
        ("burnt", _("Burnt or painted over")),
        ("never printed", _("Never came out")),
    ]
    stocks = [("a4", _("A4 sheet")), ("62x29", _("Small roll")), ("100x150", _("Large roll"))]
    return (why(reasons), choice("layout", _("Print on"), stocks, value=sight.text("layout") or "a4"))


def reprint_commands(sight: Sight) -> Sequence[Command] | None:
    if not sight.text("label") or not sight.do or (sight.typed and not reason_of(sight)):
        return None
    return [Reprint(code=sight.text("label"), reason=reason_of(sight))]


LABELS = Station(
    slug="labels",
    title=gettext_lazy("Labels"),
    home=Home(STORES, 80, gettext_lazy("Print a label again")),
    roles=("stores", "warehouse", "lead", "maintenance", "administrator"),
    slots=reprint_slots,
    fields=reprint_fields,
    commands=reprint_commands,
    next=lambda sight: (
        Next(_("Say why it is printed again"), printed(sight.text("label"))) if sight.text("label") else None
    ),
    keeps=("layout",),
    labels="again",
    opens=lambda _sight, _found: False,  # it takes whatever carries a label, and is for none of it
    half_done=False,
)
