"""What stands behind a hull: the gaps and questions of its moulding, load and charges, and the kilograms charged."""

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
             WHERE r.unit = %(unit)s::bigint AND r.quantity = 'thickness'))::text
"""

# Of a moulding of several cavities, or of a part cut out, nobody knows which share of the charges it is.
CHARGED = f"""
WITH RECURSIVE behind AS (
  SELECT unnest(%(units)s::bigint[]) AS id
  UNION SELECT e.parent FROM behind b JOIN edge e ON e.child = b.id
   WHERE e.role IN ('bind', 'join', 'cavity', 'cut') AND {LIVE_NOW}),
 near AS (
  SELECT e.* FROM behind b JOIN edge e ON b.id IN (e.child, e.parent)
   WHERE {LIVE_NOW})
SELECT json_build_object(
  'mg', (SELECT sum(amount) FROM near WHERE role = 'charge'),
  'unsure', EXISTS (SELECT FROM near WHERE role = 'cut' OR role = 'charge' AND amount IS NULL)
    OR EXISTS (SELECT FROM near WHERE role = 'cavity' GROUP BY parent HAVING count(DISTINCT child) > 1)
    OR EXISTS (SELECT FROM gap g JOIN behind b ON b.id = g.unit WHERE g.what IN ('charge', 'layer', 'source')))::text
"""


@dataclass(frozen=True)
class Behind:
    """gaps: (what, which) is missing. questions: what a person must look at. zones: whose thickness was read."""

    gaps: list[tuple[str, str]]
    questions: list[str]
    zones: set[str]


def behind(unit: int) -> Behind:
    found = fetch_json(BEHIND, {"unit": unit})
    return Behind(
        [(what, which) for what, which in found["gaps"] or []], found["questions"] or [], set(found["zones"] or [])
    )


def charged(units: list[int]) -> int | None:
    """The mg that were charged for these hulls or mouldings together; None where the record does not say all of it."""
    found = fetch_json(CHARGED, {"units": units})
    return None if found["unsure"] else found["mg"]
