"""The good checks of an instrument around a moment: what was measured between two of them may be wrong."""

from datetime import UTC, datetime
from typing import NamedTuple

from trace.genealogy.calibrations import LEFT_AFTER, TAKEN_BACK
from trace.genealogy.live import known_by
from trace.genealogy.prepared import fetch_rows

FIRST, LAST = datetime(1900, 1, 1, tzinfo=UTC), datetime(9999, 1, 1, tzinfo=UTC)
# A check-weight counts as what it showed by then: its figure may have been put right.
PASSED = f"""
SELECT v.happened FROM event v JOIN event_resource x ON x.event = v.id AND x.role = 'checked'
JOIN resource r ON r.id = x.resource AND r.kind = 'instrument' AND r.key = %(key)s::text
WHERE v.recorded <= %(known)s::timestamptz AND COALESCE((
    SELECT (w.body::jsonb #>> '{{rows,instruments,0,passed}}')::boolean FROM event w
    JOIN event_resource y ON y.event = w.id AND y.resource = x.resource AND y.role = 'corrected'
    WHERE w.kind = 'reading_corrected' AND w.recorded <= %(known)s::timestamptz
      AND w.body::jsonb #>> '{{rows,readings_righted,0,event}}' = v.uid::text ORDER BY w.id DESC LIMIT 1),
  (v.body::jsonb #>> '{{rows,instruments,0,passed}}')::boolean)
UNION ALL
-- A calibration is a check as it was found, and another as it was left: one that found it off, and left it right, ends
-- what is in doubt behind it and clears nothing before it.
SELECT v.happened + CASE x.role WHEN 'left good' THEN {LEFT_AFTER} ELSE interval '0' END FROM event v
JOIN event_resource x ON x.event = v.id AND x.role IN ('found good', 'left good')
JOIN resource r ON r.id = x.resource AND r.kind = 'instrument' AND r.key = %(key)s::text
WHERE v.recorded <= %(known)s::timestamptz AND NOT {TAKEN_BACK}
"""


class Doubted(NamedTuple):
    """From the last good check before a moment (FIRST: none is on record) to the next one after it (LAST: none yet)."""

    since: datetime
    until: datetime


def doubted(instrument: str, before: datetime, as_known_on: datetime | None = None) -> Doubted:
    """Around `before` itself: a check at that very moment is one before it. An instrument of which no check is on
    record is in doubt from the first."""
    passed = [when for (when,) in fetch_rows(PASSED, {"key": instrument, "known": known_by(as_known_on)})]
    return Doubted(
        max((when for when in passed if when <= before), default=FIRST),
        min((when for when in passed if when > before), default=LAST),
    )
