"""How many kilograms were charged for a hull or a moulding, as all is known that is recorded."""

from collections.abc import Collection, Sequence

from trace.genealogy.live import LIVE_NOW, id_array
from trace.genealogy.prepared import fetch_json

# Of a moulding of several cavities, or of a part cut out, nobody knows which share of the charges it is.
CHARGED = f"""
WITH RECURSIVE behind AS (
  SELECT u AS start, u AS id FROM unnest(%(units)s::bigint[]) u
  UNION SELECT b.start, e.parent FROM behind b JOIN edge e ON e.child = b.id
   WHERE e.role IN ('bind', 'join', 'cavity', 'cut') AND {LIVE_NOW}),
 near AS (
  SELECT b.start, e.id, e.role, e.amount, e.parent, e.child FROM behind b JOIN edge e ON e.child = b.id
   WHERE {LIVE_NOW}
  UNION SELECT b.start, e.id, e.role, e.amount, e.parent, e.child FROM behind b JOIN edge e ON e.parent = b.id
   WHERE {LIVE_NOW})
SELECT COALESCE(json_object_agg(start, mg), '{{}}')::text FROM (
  SELECT start, sum(amount) FILTER (WHERE role = 'charge') AS mg FROM near
   WHERE start NOT IN (
     SELECT start FROM near WHERE role = 'cavity' GROUP BY start, parent HAVING count(DISTINCT child) > 1
     UNION SELECT b.start FROM behind b JOIN gap g ON b.id = g.unit WHERE g.what IN ('charge', 'layer', 'source'))
   GROUP BY start HAVING NOT bool_or(role = 'cut' OR role = 'charge' AND amount IS NULL)) n
"""


def charged_each(units: Collection[int]) -> dict[int, int]:
    """The mg that were charged for each of these hulls or mouldings; those are left out of which the record does not
    say all of it."""
    found = fetch_json(CHARGED, {"units": id_array(units)}) if units else {}
    return {int(unit): mg for unit, mg in found.items() if mg is not None}


def charged(units: Sequence[int]) -> int | None:
    """The mg that were charged for these together; None where the record does not say all of it."""
    each = charged_each(units)
    return sum(each.values()) if each and len(each) == len(set(units)) else None
