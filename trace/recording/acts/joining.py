"""Whether hulls join a scope that is on hold: judged when a plate is bound, when they are packed and when they are
loaded, by what is on record behind them.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from trace.genealogy.causes import Cause, Holds, read_cause, simple_parts
from trace.genealogy.find import find_unit
from trace.genealogy.live import known_by
from trace.genealogy.prepared import fetch_rows
from trace.recording.floor.behind_hull import Behind, Judge, read_behind
from trace.recording.floor.standing import Floor, UnitFacts

NEWEST = """SELECT GREATEST(0, (SELECT max(id) FROM event WHERE kind = 'scope_held'),
  (SELECT max(id) FROM event WHERE kind = 'scope_released'))"""
LAID = """
SELECT v.kind, v.body::jsonb->'says'->>'cause', (v.body::jsonb #>> '{says,number}')::int, v.person, v.happened,
  v.recorded, COALESCE(v.why, '') FROM event v
WHERE (v.kind = 'scope_held' OR (v.kind = 'scope_released' AND v.body::jsonb #>> '{says,hulls}' = '[]'))
  AND v.recorded <= %(known)s::timestamptz ORDER BY v.id
"""


@dataclass(frozen=True, slots=True)
class LiveScope:
    """A hold on a scope that is in force. `roots`: what the codes of its holds= stood for when it was laid; `why`: the
    digest of its reason."""

    number: int
    words: tuple[str, ...]
    cause: Cause
    roots: Mapping[str, int]
    person: str
    laid: datetime
    why: str


_kept: tuple[int, tuple[LiveScope, ...]] = (-1, ())


def forget() -> None:
    """Drop what is kept: for tests that change the database under it."""
    global _kept  # noqa: PLW0603
    _kept = (-1, ())


def rule_of(number: int) -> str:
    """The rule under which each of its holds is laid."""
    return f"scope {number}"


def live_scopes(newest: int | None = None) -> tuple[LiveScope, ...]:
    """Those in force. One look-up in an index (where the caller has not asked for the newest record of one already);
    they are read anew only when one was laid or ended."""
    global _kept  # noqa: PLW0603 - one list per process, replaced whole
    if newest is None:
        ((newest,),) = fetch_rows(NEWEST, {})
    if _kept[0] != newest:
        _kept = newest, tuple(scopes_held()) if newest else ()
    return _kept[1]


def scopes_held(as_known_on: datetime | None = None) -> list[LiveScope]:
    """Those in force as known then, read from their records."""
    rows = fetch_rows(LAID, {"known": known_by(as_known_on)})
    ended = {number for kind, _text, number, *_more in rows if kind == "scope_released"}
    laid = [row for row in rows if row[0] == "scope_held"]
    found = []
    for number, (_kind, text, _number, person, happened, recorded, why) in enumerate(laid, 1):
        if number in ended:
            continue
        words = tuple(json.loads(text))
        cause = read_cause(words)
        codes = {part.code for part in simple_parts(cause) if isinstance(part, Holds)}
        roots = {code: find_unit(code, recorded) for code in codes}
        found.append(LiveScope(number, words, cause, roots, person or "", happened, why))
    return found


def joins_bound(mouldings: Sequence[UnitFacts], floor: Floor) -> list[LiveScope]:
    """The scopes on hold that a hull made of these mouldings shares, or may."""
    scopes = live_scopes()
    if not scopes or not mouldings:
        return []
    made = [unit.made for unit in mouldings]
    behind = Behind(mouldings[0].about, min(made), max(made), joined=len(mouldings) > 1)
    read_behind({0: (behind, [unit.id for unit in mouldings])})
    behind.deeds.setdefault(("person", floor.by.person), {})["person"] = True
    return [scope for scope in scopes if _judge(scope, floor).verdict(scope.cause, behind) != "cannot"]


def shared_sentence(joined: Mapping[str, LiveScope]) -> str:
    """Why hulls that joined a scope on hold are stopped, as the end of a rule's sentence; "" where none did."""
    scope = next(iter(joined.values()), None)
    return f"It shares scope {scope.number} ({' '.join(scope.words)}), which is on hold, or may" if scope else ""


def any_kept() -> bool:
    """Whether a scope was on hold when this process looked last: then what is behind hulls is asked for at once."""
    return bool(_kept[1])


def joins(hulls: Mapping[str, Behind], floor: Floor, newest: int) -> dict[str, LiveScope]:
    """By uid, of the hulls that were never under it, the first scope on hold that each shares, or may. `newest` is the
    newest record of a hold on a scope."""
    found: dict[str, LiveScope] = {}
    for uid, behind in hulls.items():
        for scope in live_scopes(newest):
            known = rule_of(scope.number) in behind.rules or uid in found
            if not known and _judge(scope, floor).verdict(scope.cause, behind) != "cannot":
                found[uid] = scope
    return found


def _judge(scope: LiveScope, floor: Floor) -> Judge:
    def has_value(material: str, name: str) -> bool:
        return name in floor.plant.body("material", material).get("spec", {})

    return Judge(scope.roots, floor.plant.calendar, has_value)
