"""A carousel: one scan says that it moved one place, for every arm on it that was in the oven, cools or goes in."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace import lookup
from trace.recording.acts.cook import CookStage, EndCook
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.recording.floor.standing import Found
from trace.scan.page import Action, Field, Row
from trace.scan.sight import MADE, MANY, MOULDING, Home, Next, Sight, Slot, Station
from trace.scan.stations import oven
from trace.scan.stations.parts import TURNING, off, press

# What an arm does as the carousel moves one place, by the stage its moulds are in, in the order it is recorded.
OFF, OUT, IN = "cooling", "in oven", "closed"
MOVES = {
    OFF: gettext_lazy("Cooling is over"), OUT: gettext_lazy("Out of the oven"), IN: gettext_lazy("Into the oven"),
}  # fmt: skip
# How the names of its fields begin.
PREFIX = {OFF: "off_", OUT: "out_", IN: "in_"}
# The stages that the move itself shows: the arm goes in, and comes out.
SEEN_BY_IT = {IN: "heat", OUT: "out"}

# What is set of the oven stays for the next arm.
SET = tuple(PREFIX[IN] + name for name in ("set_c", "arm_rpm", "plate_rpm"))
# What was read of an arm is not that of another carousel's.
READ = ("off_temperature", "out_temperature", "out_log")


def slots(_sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot("oven", ("oven",), _("Scan the carousel’s oven"), clears=("arm", "loggers", *READ, *SET)),
        Slot("arm", ("arm",), _("Scan the arm that goes in"), optional=True),
        Slot("loggers", ("logger",), _("Scan the logger that goes in"), many=True, optional=True),
    )


def arms(sight: Sight) -> dict[str, list[Sight]]:
    """The arms of the oven, as the oven's own station sees each, by the stage of their moulds."""
    if "arms" not in sight.looked:
        sight.looked["arms"] = _look(sight) if sight.key("oven") else {}
    found: dict[str, list[Sight]] = sight.looked["arms"]
    return found


def _look(sight: Sight) -> dict[str, list[Sight]]:
    machines = sight.plant.of_kind("machine")
    of_it = [t.key for t in machines if t.body.get("oven") == sight.key("oven") and not t.ended]
    carried = lookup.carried_by(of_it)
    keys = [key for on_one in carried.values() for key in on_one]
    codes = [*carried, *keys, sight.text("oven"), *sight.codes("loggers")]
    looked = lookup.look(codes, sight.plant, ("mould", "arm", "oven", "logger"), sight.known)
    found: dict[str, list[Sight]] = {}
    for arm, moulds in carried.items():
        stages = {oven.stage_of(looked[key]) for key in moulds}
        # A mould that is still being loaded makes the whole arm wait: the rule of going in says which.
        stage = next((s for s in (OUT, OFF, IN) if s in stages), "")
        there = [key for key in moulds if stage in (IN, "") or oven.stage_of(looked[key]) == stage]
        found.setdefault(stage, []).append(_as_seen_at_the_oven(sight, arm, there, looked, stage))
    return found


def _as_seen_at_the_oven(sight: Sight, arm: str, moulds: list[str], looked: dict[str, Found], stage: str) -> Sight:
    """Its answers are those of the carousel's fields whose names begin with what it does."""
    begin = PREFIX.get(stage, " ")
    own = {name.removeprefix(begin): text for name, text in sight.held.items() if name.startswith(begin)}
    loggers = sight.text("loggers") if stage == IN else ""
    held = {"oven": sight.text("oven"), "arm": arm, "moulds": MANY.join(moulds), "loggers": loggers, **own}
    return replace(sight, held=held, found=looked, looked={}, do="", typed="", scanned=None)


def moving(sight: Sight) -> dict[str, Sight]:
    """The one arm of each stage that moves now: of several, that which went into the oven first. Of several that wait
    closed, the one scanned goes in."""
    found: dict[str, Sight] = {}
    for stage in MOVES:
        waiting = arms(sight).get(stage, [])
        if stage == IN and sight.key("arm"):
            waiting = [one for one in waiting if one.text("arm") == sight.key("arm")]
        if len(waiting) == 1 or (waiting and stage != IN):
            found[stage] = waiting[0]
    return found


def _waiting(sight: Sight) -> list[str]:
    """The arms that wait to go in, where nobody has said which of them does."""
    closed = [one.text("arm") for one in arms(sight).get(IN, [])]
    return closed if len(closed) > 1 and sight.key("arm") not in closed else []


def fields(sight: Sight) -> tuple[Field, ...]:
    found: list[Field] = []
    for stage, one in moving(sight).items():
        own = oven.fields(one) if stage == IN else oven.read_off(one, stage)
        of = " · " + one.text("arm")
        found += [replace(f, name=PREFIX[stage] + f.name, label=f.label + of, ask=f.ask and f.ask + of) for f in own]
    return tuple(found)


def asks(sight: Sight) -> tuple[str, ...]:
    """What is read of the arms that come out and off; what is set may be typed at any time."""
    return tuple(f.name for f in fields(sight) if not f.name.startswith(PREFIX[IN]))


def actions(sight: Sight) -> tuple[Action, ...]:
    if not moving(sight) or _waiting(sight):
        return ()
    logs = tuple(f.name for f in fields(sight) if f.name.startswith(f"{PREFIX[OUT]}log"))
    moved = press("moved", _("It moved one place"), bare=False, needs=logs)
    return (moved, *(off(one.code, name=one.key) for one in sight.many("loggers")))


def commands(sight: Sight) -> Sequence[Command] | None:
    """What came off and out first, so that the oven is free for what goes in."""
    if sight.do != "moved" or _waiting(sight):
        return None
    found: list[Command] = []
    for stage, one in moving(sight).items():
        found += _MOVED[stage](one)
    return found or None


def _off(one: Sight) -> Iterator[Command]:
    yield from oven.commands(replace(one, do="cooled")) or ()


def _out(one: Sight) -> Iterator[Command]:
    """Its cook ends with the stages that were recorded, and with its coming out, which was seen just now."""
    last = SEEN_BY_IT[OUT]
    due = [code for code in one.codes("moulds") if _shows(one, code, last)]
    for code in due:
        yield CookStage(mould=code, stage=last)
    for command in oven.commands(replace(one, do="end")) or ():
        assert isinstance(command, EndCook)  # noqa: S101 - the oven ends a cook by nothing else
        known = [stage for stage in command.stages if stage != oven.NONE_RECORDED]
        yield replace(command, stages=(*known, last)) if command.mould in due else command


def _in(one: Sight) -> Iterator[Command]:
    yield from oven.commands(replace(one, do="start")) or ()
    for code in one.codes("moulds"):
        if _shows(one, code, SEEN_BY_IT[IN], begun=False):
            yield CookStage(mould=code, stage=SEEN_BY_IT[IN])


_MOVED = {OFF: _off, OUT: _out, IN: _in}


def _shows(one: Sight, code: str, stage: str, *, begun: bool = True) -> bool:
    """Whether the recipe of what is in a mould has this stage, and nobody has recorded it of the cook that runs."""
    known = {done.where for done in oven.recorded(one, code)} if begun else set()
    return stage in oven.recipe_of(one, one.found[code]).get("stages", []) and stage not in known


def rows(sight: Sight) -> tuple[Row, ...]:
    """What each arm carries, and what the next move means for it."""
    found: list[Row] = []
    move = {one.text("arm"): MOVES[stage] for stage, one in moving(sight).items()}
    for stage, several in arms(sight).items():
        for one in several:
            arm = one.text("arm")
            carries = ", ".join(m.key for m in one.many("moulds"))
            stands = move.get(arm) or (_stands(stage) if carries else _("empty"))
            found.append(Row(f"{arm}: {stands}", carries, note=True))
    return tuple(sorted(found, key=lambda row: row.label))


def _stands(stage: str) -> str:
    return {OFF: _("cooling"), OUT: _("in the oven"), IN: _("closed, waits to go in")}.get(stage, _("being loaded"))


def next_(sight: Sight) -> Next | None:
    if not sight.key("oven"):
        return None
    if not arms(sight):
        words = _("No arm belongs to %(oven)s: use the station Oven") % {"oven": sight.key("oven")}
        return Next(words, "", "scan")
    if waiting := _waiting(sight):
        return Next(_("Scan the arm that goes in"), ", ".join(waiting), "scan")
    if not moving(sight):
        return Next(_("No arm is closed, in the oven or cooling: load one first"), sight.key("oven"), "scan")
    detail = " · ".join(f"{one.text('arm')}: {MOVES[stage]}" for stage, one in moving(sight).items())
    return Next(_("Press when it has moved"), detail)


def after(sight: Sight, _answers: Sequence[Answer]) -> dict[str, str]:
    """The carousel stays, with what is set there."""
    return {name: sight.held[name] for name in ("oven", *SET) if sight.text(name)}


CAROUSEL = Station(
    slug="carousel",
    title=gettext_lazy("Carousel"),
    home=Home(MOULDING, 42, gettext_lazy("It moved one place: one scan for every arm")),
    roles=("operator", "lead"),
    slots=slots,
    commands=commands,
    fields=fields,
    asks=asks,
    actions=actions,
    next=next_,
    rows=rows,
    place=lambda sight: sight.key("oven"),
    after=after,
    stays=("oven",),
    thing="oven",
    caution=TURNING,
    opens=lambda sight, found: "oven" in found.kinds and found.body.get("motion") == "biaxial",
    stops=MADE,
)
