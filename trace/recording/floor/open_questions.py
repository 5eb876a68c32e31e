"""What stands behind a hull: the gaps and questions of its moulding, load and charges."""

from dataclasses import dataclass

from trace.genealogy.live import LIVE_NOW
from trace.genealogy.prepared import fetch_json

BEHIND = f"""
WITH RECURSIVE behind AS (
  SELECT %(unit)s::bigint AS id
  UNION SELECT e.parent FROM behind b JOIN edge e ON e.child = b.id
   WHERE e.role IN ('bind', 'join', 'cavity', 'cut', 'charge', 'heel') AND {LIVE_NOW})
SELECT json_build_object(
  'gaps', (SELECT json_agg(DISTINCT jsonb_build_array(g.what, g.which)) FROM behind b JOIN gap g ON g.unit = b.id),
  'questions', (SELECT json_agg(DISTINCT d.kind) FROM behind b JOIN discrepancy d ON d.unit = b.id
                 WHERE d.closed_by IS NULL),
  'zones', (SELECT json_agg(DISTINCT r.zone) FROM reading r
             WHERE r.unit = %(unit)s::bigint AND r.quantity = 'thickness' AND NOT EXISTS (
               SELECT FROM event_unit x JOIN event v ON v.id = x.event
                WHERE x.unit = r.unit AND x.role = 'repaired' AND v.body::jsonb->'says'->>'spot' = r.zone
                  AND v.happened >= (SELECT happened FROM event WHERE id = r.event))))::text
"""


@dataclass(frozen=True)
class Behind:
    """gaps: (what, which) is missing. questions: what a person must look at. zones: whose thickness was read,
    and not before a repair there."""

    gaps: list[tuple[str, str]]
    questions: list[str]
    zones: set[str]


def behind(unit: int) -> Behind:
    found = fetch_json(BEHIND, {"unit": unit})
    return Behind(
        [(what, which) for what, which in found["gaps"] or []], found["questions"] or [], set(found["zones"] or [])
    )
