"""Whose hands and which instruments a hull went through, and how they stood then, not today."""

from datetime import datetime

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.sheets.contracts import InstrumentLine, PersonLine
from trace.sheets.facts.checks import Standing
from trace.sheets.facts.days import day_said
from trace.sheets.facts.entries import Entry
from trace.sheets.facts.tasks import TASK_OF_KIND
from trace.sheets.hulls.gathered import Gathered

DID = {
    "goods-in": "goods-in",
    "top-up": "top-up",
    "weighing": "weighing",
    "loading": "loading",
    "oven": "oven",
    "demould": "demould and plate",
    "inspection": "inspection",
    "packing": "packing",
    "dispatch": "dispatch",
}


def did_word(entry: Entry) -> str:
    """The task of an event in a word."""
    word = DID.get(TASK_OF_KIND.get(entry.kind, ""), "")
    return _(word) if word else _(entry.kind.replace("_", " "))


def people(gathered: Gathered) -> tuple[PersonLine, ...]:
    """Everybody who recorded or helped, in the order of their first act."""
    acts: dict[str, list[Entry]] = {}
    for entry in gathered.entries:
        for key in (entry.person, entry.helper):
            if key:
                acts.setdefault(key, []).append(entry)
    return tuple(_person(gathered, key, done) for key, done in acts.items())


def _person(gathered: Gathered, key: str, done: list[Entry]) -> PersonLine:
    trained: dict[str, str] = {}
    doubtful = False
    for entry in done:
        task = TASK_OF_KIND.get(entry.kind)
        if not task:
            continue
        until = gathered.plant.at("person", key, entry.happened).get("trained", {}).get(task)
        live = bool(until) and str(until)[:10] >= gathered.plant.day(entry.happened).isoformat()
        if live:
            trained.setdefault(task, _("%(task)s: to %(day)s") % {"task": task, "day": day_said(until)})
        elif entry.helper and entry.helper != key:
            trained[task] = _("%(task)s: witnessed by %(who)s") % {
                "task": task, "who": gathered.known.person(entry.helper),
            }  # fmt: skip
        else:
            doubtful = True
            ended = _("ended %(day)s") % {"day": day_said(until)} if until else _("no sign-off")
            trained[task] = _("%(task)s: %(ended)s") % {"task": task, "ended": ended}
    words = dict.fromkeys(did_word(e) for e in done)
    asked = [TASK_OF_KIND.get(e.kind) for e in done]
    said = "; ".join(trained.values()) or ("" if any(asked) else _("no sign-off needed"))
    return PersonLine(gathered.known.person(key), ", ".join(words), said, doubtful)


def instruments(gathered: Gathered) -> tuple[InstrumentLine, ...]:
    """Scales, loggers, gauges and ovens in the order of their first use."""
    uses: dict[tuple[str, str], list[Entry]] = {}
    for entry in gathered.entries:
        for role in ("scale", "logger"):
            for key in entry.resources(role):
                uses.setdefault(("instrument", key), []).append(entry)
        for key in entry.resources("oven"):
            uses.setdefault(("machine", key), []).append(entry)
        for row in entry.part("readings"):
            if row["quantity"] == "thickness" and row["instrument"]:
                uses.setdefault(("instrument", row["instrument"]), []).append(entry)
    return tuple(_instrument(gathered, kind, key, done) for (kind, key), done in uses.items())


def calibration(gathered: Gathered, kind: str, key: str, when: datetime) -> tuple[str, bool]:
    """How an instrument's calibration stood at that time, in words, and whether that is doubtful."""
    due = gathered.plant.at(kind, key, when).get("calibration_due")
    if not due:
        return _("no calibration recorded"), True
    overdue = str(due)[:10] < gathered.plant.day(when).isoformat()
    words = _("calibration was due %(day)s") if overdue else _("calibrated, due %(day)s")
    return words % {"day": day_said(due)}, overdue


def _instrument(gathered: Gathered, kind: str, key: str, done: list[Entry]) -> InstrumentLine:
    state, doubtful = calibration(gathered, kind, key, done[0].happened)
    states, since = [state], []
    if kind == "instrument" and gathered.plant.newest(kind, key).get("kind") == "scale":
        checked = {e: gathered.checks.get((key, e.happened)) for e in done}
        words, failed = _checked(gathered, checked)
        states.append(words)
        doubtful = doubtful or failed
        since = [_later(s) for s in checked.values() if s is not None and s.after and not s.after.passed]
    newest = gathered.plant.newest(kind, key)
    then = gathered.plant.at(kind, key, done[-1].happened)
    if newest.get("state") != then.get("state"):
        since.append(_("now %(state)s") % {"state": newest.get("state")})
    uses = ", ".join(dict.fromkeys(_use(e) for e in done))
    return InstrumentLine(
        name=key, did=uses, state_then="; ".join(states), since="; ".join(dict.fromkeys(since)),
        doubtful=doubtful or bool(since),
    )  # fmt: skip


def _use(entry: Entry) -> str:
    return str(entry.says["layer"]) if entry.kind == "weighed" else did_word(entry)


def _checked(gathered: Gathered, by_use: dict[Entry, Standing | None]) -> tuple[str, bool]:
    """The check-weights before the uses; doubtful when one use had none that day, or a failed one."""
    said: dict[str, None] = {}
    doubtful = False
    for entry, stood in by_use.items():
        before = stood.before if stood else None
        day = gathered.plant.day(entry.happened)
        if before is None or gathered.plant.day(before.at) != day:
            said.setdefault(_("no check-weight that day"))
            doubtful = True
        else:
            word = _("check-weight %(at)s passed") if before.passed else _("check-weight %(at)s FAILED")
            said.setdefault(word % {"at": f"{timezone.localtime(before.at):%-d %b %H:%M}"})
            doubtful = doubtful or not before.passed
    return "; ".join(said), doubtful


def _later(stood: Standing) -> str:
    if stood.after is None:
        return ""
    return _("check-weight of %(at)s failed, showing %(shown)s kg") % {
        "at": f"{timezone.localtime(stood.after.at):%-d %b %Y %H:%M}", "shown": stood.after.shown,
    }  # fmt: skip
