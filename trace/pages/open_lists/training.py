"""Sign-offs that end soon or have ended, and who has runs enough for one; with the form that records training."""

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.access import counts_at
from plant.kinds.people import TASKS
from trace.pages.forms import Act, Form, FormField, Sent
from trace.pages.open_lists.listed import Counted, Line, OpenList
from trace.readmodels.plantdata import Directory, Thing, newest
from trace.recording.acts.training import RUN, SIGNED_OFF, WHAT, Train, training_of
from trace.recording.commands import Command
from trace.sheets.addresses import unit_url
from trace.sheets.facts.days import day_said
from trace.speech import names_of

SOON = timedelta(days=30)  # common practice, no source
TRAINS = frozenset({"lead", "quality", "deputy"})
BETWEEN = " / "  # of person and task in a key


class Waiting(NamedTuple):
    """One task of one person: until when it is or was signed off (None: never, and enough runs are there)."""

    since: datetime
    person: str
    task: str
    until: date | None
    runs: int


def _here(plant: Directory) -> list[Thing]:
    """Who is in the plant; day badges end with their shift and wait for nobody."""
    now = timezone.now()
    return [
        one for one in plant.of_kind("person")
        if counts_at(one.body, one.ended, now) and not one.body.get("day_badge")
    ]  # fmt: skip


def _waiting() -> list[Waiting]:
    plant = newest()
    today = plant.calendar.day(timezone.now())
    wanted: dict[str, int] = plant.setting("witnessed runs", {})
    found = []
    for one in _here(plant):
        for task, until in (one.body.get("trained") or {}).items():
            last = date.fromisoformat(str(until)[:10])
            if last < today + SOON:
                found.append(Waiting(_midnight(last - SOON), one.key, task, last, 0))
        found += _enough(one, wanted)
    return sorted(found)


def _enough(one: Thing, wanted: dict[str, int]) -> list[Waiting]:
    """The tasks for which this person has runs enough and was never signed off; none where no run is asked for."""
    open_ = {task: most for task, most in wanted.items() if task not in (one.body.get("trained") or {})}
    runs = [run for run in training_of(one.key) if run.what == RUN and run.task in open_] if open_ else []
    counted = Counter(run.task for run in runs)
    return [
        Waiting(next(run.happened for run in reversed(runs) if run.task == task), one.key, task, None, n)
        for task, n in counted.items() if n >= int(open_[task])
    ]  # fmt: skip


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time()))


def count() -> Counted:
    found = _waiting()
    return len(found), min((one.since for one in found), default=None)


def lines(skipped: int, most: int) -> list[Line]:
    """Oldest first."""
    found = _waiting()[skipped : skipped + most]
    names = names_of({one.person for one in found})
    today = newest().calendar.day(timezone.now())
    return [
        Line(
            what=f"{names.get(one.person, one.person)}: {one.task}",
            since=one.since,
            codes=((one.person, unit_url(one.person)),),
            detail=_said(one, today),
            key=f"{one.person}{BETWEEN}{one.task}",
        )
        for one in found
    ]


def _said(one: Waiting, today: date) -> str:
    if one.until is None:
        return _("%(n)d witnessed runs, not signed off yet") % {"n": one.runs}
    words = _("the sign-off ended on %(day)s") if one.until < today else _("the sign-off ends on %(day)s")
    return words % {"day": day_said(one.until.isoformat())}


def form(key: str, person: str) -> Form | None:
    plant = newest()
    who, _between, task = key.partition(BETWEEN)
    people = [one.key for one in plant.of_kind("person") if counts_at(one.body, one.ended, timezone.now())]
    names = names_of(set(people))
    choices = _choices([(one, names.get(one, one)) for one in people])
    machines = [one.key for one in plant.of_kind("machine") if not one.ended]
    return Form(
        "train", _("Record training"), _("Record it"),
        (
            FormField("person", _("Who was trained"), "choice", who if who in people else "", choices, required=True),
            FormField("task", _("Task"), "choice", task, _choices([(one, one) for one in TASKS]), required=True),
            FormField("what", _("It was"), "choice", SIGNED_OFF if key else "", _choices(
                [(one, _(words)) for one, words in WHAT.items()]
            ), required=True),
            FormField("trainer", _("Trainer"), "choice", person if person in people else "", choices, required=True),
            FormField("machine", _("On this oven or arm"), "choice", "", _choices([(one, one) for one in machines]),
                      hint=_("left out: on all of them")),
            FormField("until", _("Last day of the sign-off"), hint="2027-06-30"),
            FormField("remark", _("In your words"), "words"),
        ),
        hint=_(
            "Whoever scans a task without a sign-off, with a trained person's badge beside it, has made a witnessed run"
            " already: it is not recorded again here. What a sign-off asks for by law is for the plant to know."
        ),
        key=key,
    )  # fmt: skip


def _choices(of: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    return tuple(of)


def train(_key: str, sent: Sent) -> Command:
    said = {name: sent.get(name, "") for name in ("person", "trainer", "task", "what", "machine", "until", "remark")}
    return Train(**said)


TRAINING = OpenList(
    "training", gettext_lazy("Training"), gettext_lazy("Sign-offs that end or have ended; runs enough for one"),
    gettext_lazy("No sign-off ends within a month, and nobody waits for one."), gettext_lazy("oldest first"),
    count, lines,
    acts=(
        Act("train", "plant data", gettext_lazy("record training"), form, train, roles=TRAINS),
        Act("trained", "plant data", "", form, train, roles=TRAINS),
    ),
    where="desk",
)  # fmt: skip
