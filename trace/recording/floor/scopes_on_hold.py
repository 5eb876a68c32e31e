"""The holds on a scope that are in force: read from their records, and kept until one is laid or ended."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from trace.genealogy.cause_said import said_of
from trace.genealogy.causes import Cause, CauseError, Holds, read_cause, simple_parts
from trace.genealogy.find import find_unit
from trace.genealogy.live import known_by
from trace.genealogy.prepared import fetch_rows

NEWEST = """SELECT GREATEST(0, (SELECT max(id) FROM event WHERE kind = 'scope_held'),
  (SELECT max(id) FROM event WHERE kind = 'scope_released'))"""
LAID = """
SELECT v.id, v.kind, v.body::jsonb->'says'->>'cause', (v.body::jsonb #>> '{says,number}')::int, v.person, v.happened,
  v.recorded, COALESCE(v.why, '') FROM event v
WHERE (v.kind = 'scope_held' OR (v.kind = 'scope_released' AND v.body::jsonb #>> '{says,hulls}' = '[]'))
  AND v.recorded <= %(known)s::timestamptz ORDER BY v.id
"""

NTH = """
SELECT v.body::jsonb->'says'->>'cause', COALESCE(v.why, ''), v.person, v.happened,
  (v.body::jsonb #>> '{says,gone}')::int
  FROM event v WHERE v.kind = 'scope_held'
 ORDER BY v.id OFFSET %(before)s::int LIMIT 1
"""


@dataclass(frozen=True, slots=True)
class LiveScope:
    """A hold on a scope that is in force. `record`: the event that laid it; `roots`: what the codes of its holds= stood
    for then; `why`: the digest of its reason."""

    number: int
    record: int
    words: tuple[str, ...]
    cause: Cause
    roots: Mapping[str, int]
    person: str
    laid: datetime
    why: str


@dataclass(frozen=True, slots=True)
class Named:
    """What a hold on a scope is on, as people say it after “hulls that”, the digest of why it was laid, by whom and
    when, and how many hulls that share it had left by then: no hold reaches those."""

    said: str
    why: str
    person: str
    laid: datetime
    gone: int


_kept: tuple[int, tuple[LiveScope, ...]] = (-1, ())
# By number: of what is recorded, neither ever changes.
_named: dict[int, Named] = {}


def forget() -> None:
    """Drop what is kept: for tests that change the database under it."""
    global _kept  # noqa: PLW0603
    _kept = (-1, ())
    _named.clear()


def named(rule: str) -> Named | None:
    """What the hold on a scope under this rule is on, also of one that is over; None for any other rule."""
    prefix, _space, digits = rule.partition(" ")
    if prefix != "scope" or not digits.isdigit():
        return None
    number = int(digits)
    if number not in _named:
        rows = fetch_rows(NTH, {"before": max(number, 1) - 1})
        if not rows:
            return None
        words = json.loads(rows[0][0])
        try:
            said = said_of(read_cause(words))
        except CauseError:
            said = _("share %(cause)s") % {"cause": " ".join(words)}
        _named[number] = Named(said, rows[0][1], rows[0][2] or "", rows[0][3], rows[0][4] or 0)
    return _named[number]


def laid_on(number: int) -> Cause | None:
    """What the hold on a scope of this number was laid on, also of one that is over; None where there is none."""
    rows = fetch_rows(NTH, {"before": number - 1}) if number > 0 else []
    try:
        return read_cause(json.loads(rows[0][0])) if rows else None
    except CauseError:
        return None


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
    ended = {number for _record, kind, _text, number, *_more in rows if kind == "scope_released"}
    laid = [row for row in rows if row[1] == "scope_held"]
    found = []
    for number, (at, _kind, text, _number, person, happened, recorded, why) in enumerate(laid, 1):
        if number in ended:
            continue
        words = tuple(json.loads(text))
        cause = read_cause(words)
        codes = {part.code for part in simple_parts(cause) if isinstance(part, Holds)}
        roots = {code: find_unit(code, recorded) for code in codes}
        found.append(LiveScope(number, at, words, cause, roots, person or "", happened, why))
    return found


def any_kept() -> bool:
    """Whether a scope was on hold when this process looked last: then what is behind hulls is asked for at once."""
    return bool(_kept[1])
