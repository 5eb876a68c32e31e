"""The training of people, as known on a day: every witnessed run, also at a station, and every sign-off."""

import json
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from trace.genealogy.live import known_by
from trace.genealogy.prepared import fetch_rows

TRAINED, TRAINER = "trained", "trainer"
# What somebody did with a trained person's badge beside it is a witnessed run as well.
BESIDE = """
SELECT v.happened, v.kind, v.body::jsonb->>'helper', v.uid::text FROM event v
WHERE v.person = %(person)s::text AND v.kind = ANY (%(kinds)s::text[]) AND v.recorded <= %(known)s::timestamptz
  AND v.body::jsonb->>'helper' <> v.person ORDER BY v.id
"""
TOLD = """
SELECT v.happened, (v.body::jsonb->'says')::text,
  (SELECT r.key FROM event_resource y JOIN resource r ON r.id = y.resource
    WHERE y.event = v.id AND y.role = 'trainer'),
  v.uid::text
FROM event v JOIN event_resource x ON x.event = v.id AND x.role = 'trained'
  JOIN resource p ON p.id = x.resource AND p.kind = 'person' AND p.key = %(person)s::text
WHERE v.kind = 'trained' AND v.recorded <= %(known)s::timestamptz ORDER BY v.id
"""


class Training(NamedTuple):
    """One run or sign-off: `until` is its last day, "" of a run; station: the kind of act it was seen at, "" where it
    was told of."""

    happened: datetime
    task: str
    what: str
    trainer: str
    machine: str
    until: str
    station: str
    uid: str


def training(person: str, tasks: Sequence[tuple[str, str]] = (), as_known_on: datetime | None = None) -> list[Training]:
    """In the order in which it happened. tasks: (kind of act, the task it asks for)."""
    known, of_kind = known_by(as_known_on), dict(tasks)
    told = [
        Training(when, says["task"], says["what"], trainer or "", says["machine"], says["until"], "", uid)
        for when, text, trainer, uid in fetch_rows(TOLD, {"person": person, "known": known})
        for says in (json.loads(text),)
    ]
    asked = {"person": person, "kinds": sorted(of_kind), "known": known}
    beside = [
        Training(when, of_kind[kind], "run", helper, "", "", kind, uid)
        for when, kind, helper, uid in (fetch_rows(BESIDE, asked) if of_kind else ())
    ]
    return sorted([*told, *beside], key=lambda one: one.happened)
