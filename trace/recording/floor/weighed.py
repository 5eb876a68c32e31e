"""The checks of a scale, the charges weighed between them, and what is in a charge already."""

import json
from datetime import datetime
from typing import Any

from django.db import connection

from trace.genealogy.calibrations import LEFT_AFTER, TAKEN_BACK
from trace.genealogy.live import FOREVER, LIVE_NOW
from trace.recording.floor.sources import one

# The checks of a scale: the last one at or before a time, and the first after it.
CHECKED = f"""
WITH checked AS (
  -- Its figure may have been put right since.
  SELECT v.id, v.happened, COALESCE((
           SELECT (w.body::jsonb #>> '{{rows,instruments,0,passed}}')::boolean FROM event w
             JOIN event_resource y ON y.event = w.id AND y.resource = x.resource AND y.role = 'corrected'
            WHERE w.kind = 'reading_corrected' AND w.body::jsonb #>> '{{rows,readings_righted,0,event}}' = v.uid::text
            ORDER BY w.id DESC LIMIT 1),
           (v.body::jsonb #>> '{{rows,instruments,0,passed}}')::boolean) AS passed
    FROM event v JOIN event_resource x ON x.event = v.id AND x.role = 'checked' JOIN resource r ON r.id = x.resource
   WHERE v.kind = 'check_weighed' AND r.kind = 'instrument' AND r.key = %(scale)s
  UNION ALL
  -- A calibration is a check as it was found, and another as it was left.
  SELECT v.id, v.happened + CASE WHEN x.role IN ('left good', 'left failed') THEN {LEFT_AFTER} ELSE interval '0' END,
         x.role IN ('found good', 'left good')
    FROM event v JOIN event_resource x ON x.event = v.id
     AND x.role IN ('found good', 'found failed', 'left good', 'left failed') JOIN resource r ON r.id = x.resource
   WHERE v.kind = 'calibrated' AND r.kind = 'instrument' AND r.key = %(scale)s AND v.uid::text <> %(without)s
     AND NOT {TAKEN_BACK})
"""
CHECKS_ABOUT = f"""{CHECKED}
SELECT json_build_array(
  (SELECT json_build_object('checked_at', happened, 'passed', passed) FROM checked WHERE happened <= %(at)s
    ORDER BY happened DESC, id DESC LIMIT 1),
  (SELECT json_build_object('checked_at', happened, 'passed', passed) FROM checked WHERE happened > %(at)s
    ORDER BY happened, id LIMIT 1))::text
"""
# When something was weighed may have been put right. Where a correction or a late fact made a charge anew, the draws
# added again say of which weighing they are.
WEIGHED_ABOUT = f"""
{CHECKED.replace("WITH", "WITH RECURSIVE")},
 moved AS (
  SELECT DISTINCT ON (of) of, at FROM (
    SELECT v.id, (v.body::jsonb->>'corrects')::uuid AS of, NULLIF(v.body::jsonb #>> '{{says,at}}', '') AS at
      FROM event v WHERE v.kind = 'corrected') w
   WHERE at IS NOT NULL ORDER BY of, id DESC),
 weighed AS (
  SELECT v.id, v.uid FROM event v JOIN event_resource x ON x.event = v.id AND x.role = 'scale'
    JOIN resource r ON r.id = x.resource LEFT JOIN moved m ON m.of = v.uid,
    LATERAL (SELECT COALESCE(m.at::timestamptz, v.happened) AS at) t
   WHERE v.kind = 'weighed' AND r.kind = 'instrument' AND r.key = %(scale)s
     AND t.at >= COALESCE((SELECT max(happened) FROM checked WHERE passed AND happened <= %(at)s), '-infinity')
     AND t.at < COALESCE((SELECT min(happened) FROM checked WHERE passed AND happened > %(at)s), 'infinity')),
 said(edge, of) AS (
  SELECT e.id, w.uid FROM weighed w JOIN edge e ON e.event = w.id AND e.role = 'draw'
  UNION
  -- What came out of a carrier that was empty by the book has an edge only since something told later explained it.
  SELECT s.id, w.uid FROM weighed w JOIN unit x ON x.event = w.id AND x.kind = 'charge'
    JOIN unit y ON y.carrier = x.carrier AND y.kind = 'charge' JOIN edge s ON s.child = y.id AND s.role = 'draw'
    JOIN event o ON o.id = s.event WHERE o.body::jsonb #>> ARRAY['rows', 'edges', s.n::text, 'of'] = w.uid::text
  UNION
  SELECT s.id, said.of FROM said JOIN edge_void x ON x.edge = said.edge JOIN edge s ON s.event = x.event
    JOIN event a ON a.id = x.event
   WHERE a.body::jsonb #>> ARRAY['rows', 'edges', s.n::text, 'of'] = said.of::text),
 charge(id) AS (
  SELECT u.id FROM weighed w JOIN unit u ON u.event = w.id AND u.kind = 'charge'
  UNION SELECT e.child FROM said JOIN edge e ON e.id = said.edge)
SELECT u.uid::text FROM charge JOIN unit u ON u.id = charge.id JOIN unit_state s ON s.unit = u.id
 WHERE s.status <> 'made anew' AND NOT EXISTS (SELECT FROM hold h WHERE h.unit = u.id AND h.rule = %(rule)s)
 ORDER BY u.id
"""


def checks_about(
    scale: str, when: datetime, without: str = ""
) -> tuple[dict[str, Any] | None, dict[str, Any] | None]:  # fmt: skip
    """The last check of an instrument at or before a time and the first after it, as of instrument_state; `without`:
    a calibration (the uid of its record) that is being taken back."""
    asked = {"scale": scale, "at": when, "without": without, "known": FOREVER}
    before, after = json.loads(one(CHECKS_ABOUT, asked))
    return before, after


def scale_of(event: str) -> str | None:
    """The key of the scale that the weighing of this event (its uid) was read off, None where it is no weighing."""
    found: str | None = one(
        """SELECT r.key FROM event v JOIN event_resource x ON x.event = v.id AND x.role = 'scale'
             JOIN resource r ON r.id = x.resource WHERE v.uid = %s AND v.kind = 'weighed'""",
        [event],
    )
    return found


def weighed_about(scale: str, when: datetime, rule: str) -> list[str]:
    """The charges weighed on a scale between the check-weights it passed before and after a time, without those that
    this rule laid a hold on before."""
    with connection.cursor() as cursor:
        asked: dict[str, Any] = {"scale": scale, "at": when, "rule": rule, "without": "", "known": FOREVER}
        cursor.execute(WEIGHED_ABOUT, asked)
        return [uid for (uid,) in cursor.fetchall()]


def is_drawn_into(source: int, charge: int) -> bool:
    """Whether something of this source is in a charge already, in whichever of its parts."""
    return bool(
        one(
            f"""WITH RECURSIVE part AS (
                 SELECT %s::bigint AS id
                 UNION SELECT e.parent FROM part p JOIN edge e ON e.child = p.id
                  WHERE e.role = 'heel' AND {LIVE_NOW})
               SELECT TRUE FROM part p JOIN edge e ON e.child = p.id
                WHERE e.role = 'draw' AND e.parent = %s AND {LIVE_NOW} LIMIT 1""",
            [charge, source],
        )
    )
