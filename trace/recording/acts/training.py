"""Training as records: runs that somebody trained has witnessed, and the sign-off that follows from enough of them."""

from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from plant.kinds.people import TASKS
from trace.chain import canonical
from trace.genealogy.training import TRAINED, TRAINER, Training, training
from trace.readmodels.rows import Rows
from trace.recording.acts import commands_by_kind
from trace.recording.acts.complaint_words import word
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor import words as say
from trace.recording.floor.standing import Floor

RUN, SIGNED_OFF = "run", "signed off"
WHAT = {RUN: noop("a witnessed run"), SIGNED_OFF: noop("signed off")}


@dataclass(frozen=True, kw_only=True)
class Train(Command):
    """what: of WHAT. trainer: who witnessed it or signs it off, never the person. machine: the oven or arm that it was
    on and holds for, "" for all; until: of a sign-off its last day. remark: a note.

    A sign-off is plant data from then on (person, `trained`), which the rules and the papers read.
    """

    KIND = "trained"
    NAME = noop("train")
    DECISION = True
    # Revisions of plant data are recorded one after the other.
    ALONE = True

    person: str = scanned("person")
    trainer: str = scanned("person")
    task: str
    what: str = RUN
    machine: str = scanned("oven", "arm", optional=True)
    until: str = ""
    remark: str = words()

    @staticmethod
    def told(e: Told) -> str:
        on = _(" on %(machine)s") % {"machine": e.says["machine"]} if e.says["machine"] else ""
        until = _(" to %(day)s") % {"day": e.says["until"]} if e.says["until"] else ""
        return _("Training in %(task)s%(on)s: %(what)s%(until)s, with %(who)s") % {
            "task": e.says["task"], "on": on, "what": word(WHAT, e.says["what"]), "until": until,
            "who": e.name_of("person", e.says["trainer"]),
        }  # fmt: skip


def training_of(person: str, as_known_on: datetime | None = None) -> list[Training]:
    """Every run and sign-off of a person, as known by then."""
    tasks = [(kind, command.TASK) for kind, command in commands_by_kind().items() if command.TASK]
    return training(person, tasks, as_known_on)


def _trouble(c: Train, floor: Floor) -> str:
    if c.task not in TASKS or c.what not in WHAT:
        return "Say for which task it is, and whether it was a run or a sign-off."
    if c.what == RUN:
        return "A witnessed run ends nothing: leave its last day empty." if c.until else ""
    try:
        ahead = date.fromisoformat(c.until) >= floor.day
    except ValueError:
        return f"“{c.until[:20]}” is no day: write the last day of the sign-off as 2027-06-30."
    return "" if ahead else f"{c.until} is over: a sign-off ends on a day that comes."


def train_facts(c: Train, floor: Floor) -> Facts:
    person, trainer = floor[c.person], floor[c.trainer]
    wanted = floor.plant.setting("witnessed runs", {}).get(c.task, 0)
    told = training_of(person.key) if c.what == SIGNED_OFF else []
    seen = sum(one.what == RUN and one.task == c.task for one in told)
    until = str(trainer.body.get("trained", {}).get(c.task) or "")
    return {
        "typed": {"trouble": _trouble(c, floor)},
        "training": {
            "self": person.key == trainer.key,
            "name": say.person(person.key),
            "trainer": say.person(trainer.key),
            "task": c.task[:40],
            "trainer_untrained": until < floor.day.isoformat(),
            "few": c.what == SIGNED_OFF and seen < int(wanted),
            "seen": seen,
            "wanted": int(wanted),
        },
    }


@handles(Train, train_facts)
def train(c: Train, floor: Floor, rows: Rows) -> str:
    person, trainer = floor[c.person], floor[c.trainer]
    rows.resource("person", person.key, TRAINED)
    rows.resource("person", trainer.key, TRAINER)
    if c.machine:
        rows.resource("machine", floor[c.machine].key, TRAINED)
    thing = floor.plant.get("person", person.key)
    if c.what == SIGNED_OFF and thing is not None:
        body = {**thing.body, "trained": {**thing.body.get("trained", {}), c.task: c.until}}
        # Who was signed off for all machines stays so; who never was, only for those that were named.
        on = thing.body.get("only_on") or []
        if c.machine and (on or not thing.body.get("trained")):
            body["only_on"] = [*on, *([] if floor[c.machine].key in on else [floor[c.machine].key])]
        rows.thing("person", person.key, thing.version + 1, canonical(body), floor.happened)
    return f"{say.person(person.key)}, {c.task}: {WHAT[c.what]}"
