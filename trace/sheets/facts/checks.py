"""How an instrument stood when it was used: its last check before, and its next one after."""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import connection

from trace.genealogy.live import known_by

CHECK = """SELECT json_build_object('at', e.happened, 'body', e.body::jsonb->'rows'->'instruments'->0,
      'shown', e.body::jsonb->'says'->>'shown') AS found
   FROM event_resource x JOIN event e ON e.id = x.event AND e.recorded <= %(known)s::timestamptz
  WHERE x.resource = r.id AND x.role = 'checked' AND e.happened {when} t.at
  ORDER BY e.happened {order}, e.id {order} LIMIT 1"""
CHECKS = f"""
SELECT t.key, t.at, before.found::text, after.found::text
FROM unnest(%(keys)s::text[], %(ats)s::timestamptz[]) AS t(key, at)
JOIN resource r ON r.kind = 'instrument' AND r.key = t.key
LEFT JOIN LATERAL ({CHECK.format(when="<=", order="DESC")}) before ON true
LEFT JOIN LATERAL ({CHECK.format(when=">", order="ASC")}) after ON true
"""


@dataclass(frozen=True, slots=True)
class Check:
    """One check of an instrument: what it showed, and whether that was within its tolerance."""

    at: datetime
    passed: bool
    shown: str


@dataclass(frozen=True, slots=True)
class Standing:
    before: Check | None
    after: Check | None


def checks(
    uses: Collection[tuple[str, datetime]], as_known_on: datetime | None = None
) -> Mapping[tuple[str, datetime], Standing]:
    """For each use (instrument key, time) the checks around it that were recorded by then."""
    if not uses:
        return {}
    ordered = sorted(set(uses))
    with connection.cursor() as cursor:
        cursor.execute(
            CHECKS,
            {
                "keys": [key for key, _ in ordered],
                "ats": [at.isoformat() for _, at in ordered],
                "known": known_by(as_known_on),
            },
        )
        return {(key, at): Standing(_check(before), _check(after)) for key, at, before, after in cursor.fetchall()}


def _check(text: str | None) -> Check | None:
    if text is None:
        return None
    found: dict[str, Any] = json.loads(text)
    passed = bool((found["body"] or {}).get("passed"))
    return Check(datetime.fromisoformat(found["at"]), passed, str(found["shown"] or ""))
