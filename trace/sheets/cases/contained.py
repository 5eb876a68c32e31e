"""What was stopped and looked for because of a case, as known on a day: its holds, and walks to find their hulls."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from trace.genealogy.causes import Cause, CauseError, read_cause
from trace.genealogy.containment import Begun, Progress, progress, under_hold, walks_over
from trace.genealogy.graph import Node
from trace.genealogy.live import known_by
from trace.genealogy.places import GONE, places
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import nodes
from trace.recording.acts.cases import HoldForCase, KeepScope
from trace.recording.floor.scopes_on_hold import LiveScope, Named, named, rule_of, scopes_held
from trace.sheets.cases.said import cause_said
from trace.sheets.cases.told import Case

LAID = """
SELECT h.uid::text, h.unit, h.rule, e.happened, COALESCE(e.person, ''), COALESCE(e.why, ''),
  (SELECT min(xe.happened) FROM hold_release x JOIN event xe ON xe.id = x.event
    WHERE x.hold = h.id AND (x.unit IS NULL OR x.unit = h.unit) AND xe.recorded <= %(known)s::timestamptz)
FROM hold h JOIN event e ON e.id = h.event
WHERE e.recorded <= %(known)s::timestamptz AND h.uid = ANY (%(uids)s::uuid[]) ORDER BY e.id, h.id
"""
FIRST_OF = """
SELECT h.uid::text FROM hold h JOIN event e ON e.id = h.event
WHERE h.rule = %(rule)s AND e.recorded <= %(known)s::timestamptz ORDER BY h.id LIMIT 1
"""
RULES = "SELECT h.uid::text, h.rule, h.unit FROM hold h WHERE h.uid = ANY (%(uids)s::uuid[])"


@dataclass(frozen=True, slots=True)
class CaseHold:
    """A hold laid for a case, or on all that shares one of its suspects (`uid` is then that of its first hull's hold,
    "" while it is on none). `why` is the digest of its reason; `here` and `gone` count the hulls it was on then."""

    uid: str
    rule: str
    on: str
    laid: datetime
    person: str
    why: str
    ended: datetime | None
    here: int
    gone: int


@dataclass(frozen=True, slots=True)
class WalkOver:
    """A walk to find hulls of the case: `of` says of which hold or cause, `progress` how far it was then."""

    begun: Begun
    of: str
    progress: Progress


def holds_of(case: Case, on: datetime) -> list[CaseHold]:
    """The holds laid for the case by then, ended ones too, and those in force on what shares a suspect."""
    uids = [str(step.says["hold"]) for step in case.of(HoldForCase)]
    rows = fetch_rows(LAID, {"uids": uids, "known": known_by(on)})
    units = nodes([unit for _uid, unit, *_more in rows], on)
    found = [
        CaseHold(uid, rule, _name(units, unit), laid, person, why, ended, *_reach(uid, on))
        for uid, unit, rule, laid, person, why, ended in rows
        if not named(rule)
    ]
    return [*found, *scope_holds_of(case, on)]


def scope_holds_of(case: Case, on: datetime) -> list[CaseHold]:
    """Its holds on scopes alone: those laid from the case, ended ones too, and those in force on what shares a suspect,
    wherever they were laid."""
    uids = [str(step.says["hold"]) for step in case.of(HoldForCase)]
    # The hull whose hold stands for all of them may have been let go alone.
    live = {rule_of(scope.number) for scope in scopes_held(on)} if uids else set()
    found = [
        _on_scope(uid, rule, scope, None if rule in live else ended, on)
        for uid, _unit, rule, _spread, _by, _why, ended in fetch_rows(LAID, {"uids": uids, "known": known_by(on)})
        if (scope := named(rule))
    ]
    known = {hold.rule for hold in found}
    return [*found, *(hold for hold in _on_suspects(case, on) if hold.rule not in known)]


def reach_said(hold: CaseHold) -> str:
    """How many hulls it stops, and how many it does not."""
    said = {"here": hold.here, "gone": hold.gone}
    if named(hold.rule):
        return _("%(here)d stopped here; %(gone)d had left when it was laid, and no hold reaches them") % said
    return _("%(here)d stopped here, %(gone)d gone") % said


def _on_scope(uid: str, rule: str, scope: Named, ended: datetime | None, on: datetime) -> CaseHold:
    """A hold on a scope, which is of all its hulls: `uid` is that of its first hull's."""
    here, left = _reach(uid, on) if uid else (0, 0)
    name = _("all hulls that %(cause)s") % {"cause": scope.said}
    return CaseHold(uid, rule, name, scope.laid, scope.person, scope.why, ended, here, scope.gone + left)


def _name(units: dict[int, Node], unit: int) -> str:
    node = units[unit]
    return " ".join(str(part) for part in (node.about.get("material"), node.said) if part)


def _reach(hold: str, on: datetime) -> tuple[int, int]:
    """How many hulls in the plant, and how many that have left, a hold was on then; none once it is over."""
    hulls = [unit for unit, kind in under_hold(hold, on).items() if kind == "hull"]
    at = places(hulls, on)
    gone = sum(1 for unit in hulls if at.get(unit, "").startswith(GONE))
    return len(hulls) - gone, gone


def _on_suspects(case: Case, on: datetime) -> Iterator[CaseHold]:
    for live in _scopes(case, on):
        if scope := named(rule_of(live.number)):
            yield _on_scope(_first_of(live, on), rule_of(live.number), scope, None, on)


def _scopes(case: Case, on: datetime) -> Iterator[LiveScope]:
    """The holds in force then on what shares a suspect."""
    suspected = list(_readable(case.suspects))
    for scope in scopes_held(on) if suspected else ():
        if scope.cause in suspected:
            yield scope


def _readable(causes: Collection[tuple[str, ...]]) -> Iterator[Cause]:
    for cause in causes:
        try:
            yield read_cause(cause)
        except CauseError:
            continue


def _first_of(scope: LiveScope, on: datetime) -> str:
    """The hold of its first hull, which stands for all of them; "" while it is on none."""
    first = fetch_rows(FIRST_OF, {"rule": rule_of(scope.number), "known": known_by(on)})
    return str(first[0][0]) if first else ""


def begun_for(case: Case, on: datetime) -> list[Begun]:
    """The walks begun by then over what was held for the case or shares a suspect on hold, or over the list of what it
    suspected or asked for; the newest first."""
    uids = {str(step.says["hold"]) for step in case.of(HoldForCase)}
    uids |= {_first_of(scope, on) for scope in _scopes(case, on)} - {""}
    causes = {*case.suspects, *(tuple(step.says["cause"]) for step in case.of(KeepScope))}
    return walks_over(uids, causes, on)


def walks_of(case: Case, holds: Sequence[CaseHold], on: datetime) -> list[WalkOver]:
    """The walks of a case as far as they were then, the first begun first; `holds`: those of the case."""
    begun = begun_for(case, on)
    rows = fetch_rows(RULES, {"uids": [walk.hold for walk in begun if walk.hold]})
    units = nodes([unit for _uid, _rule, unit in rows], on)
    on_what = {hold.uid: hold.on for hold in holds} | {hold.rule: hold.on for hold in holds if named(hold.rule)}
    names = {uid: on_what.get(uid) or on_what.get(rule) or _name(units, unit) for uid, rule, unit in rows}
    return [
        WalkOver(walk, names[walk.hold] if walk.hold else cause_said(walk.question), progress(walk, on))
        for walk in reversed(begun)
    ]
