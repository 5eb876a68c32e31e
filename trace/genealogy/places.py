"""Where units were, as known on a day: by the last event that placed them, or what they are packed in.

What was dispatched is gone, though what was told of it last was dated later.
"""

from collections.abc import Collection
from datetime import datetime

from django.db import connection

from trace.genealogy.live import LIVE, id_array, known_by

PLACES = f"""
WITH RECURSIVE held(unit, holder) AS (
  SELECT u.id, u.id FROM unit u WHERE u.id = ANY (%(ids)s::bigint[])
  UNION
  SELECT h.unit, n.child
  FROM held h JOIN unit u ON u.id = h.holder AND u.kind IN ('hull', 'part', 'pack'), LATERAL (
    SELECT e.child FROM edge e
     WHERE e.parent = h.holder AND e.role IN ('pack', 'ship') AND NOT e.aside AND {LIVE} OFFSET 0) n
)
SELECT DISTINCT ON (h.unit) h.unit, p->>'place'
FROM held h JOIN unit u ON u.id = h.holder
CROSS JOIN LATERAL (
  SELECT e.id, e.happened, e.body, e.kind = 'dispatched' AS gone FROM event_unit x JOIN event e ON e.id = x.event
   WHERE x.unit = h.holder AND x.role = 'placed' AND e.recorded <= %(known)s::timestamptz
   ORDER BY gone DESC, e.happened DESC, e.id DESC LIMIT 1) last
CROSS JOIN LATERAL jsonb_array_elements(COALESCE(last.body::jsonb->'rows'->'places', '[]')) AS p
WHERE p->>'unit' = u.uid::text
ORDER BY h.unit, last.gone DESC, last.happened DESC, last.id DESC, h.holder
"""


def places(ids: Collection[int], as_known_on: datetime | None = None) -> dict[int, str]:
    """The place key of each unit as known then; units that were never placed are left out."""
    with connection.cursor() as cursor:
        cursor.execute(PLACES, {"ids": id_array(ids), "known": known_by(as_known_on)})
        return {unit: place for unit, place in cursor.fetchall() if place}
