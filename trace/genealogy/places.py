"""Where units were, as known on a day, and who put them there: by the last event that placed them, or what they are
packed in.

What was dispatched is gone, though what was told of it last was dated later.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.db import connection

from trace.genealogy.live import LIVE, id_array, known_by

# What stands before the key of whom a thing has gone to, where its place is told.
GONE = "gone: "

PLACES = f"""
WITH RECURSIVE held(unit, holder) AS (
  SELECT u.id, u.id FROM unit u WHERE u.id = ANY (%(ids)s::bigint[])
  UNION
  SELECT h.unit, n.child
  FROM held h JOIN unit u ON u.id = h.holder AND u.kind IN ('hull', 'part', 'pack'), LATERAL (
    SELECT e.child FROM edge e
     WHERE e.parent = h.holder AND e.role IN ('pack', 'ship') AND NOT e.aside AND {LIVE} OFFSET 0) n
)
SELECT DISTINCT ON (h.unit) h.unit, p->>'place', last.person, last.happened
FROM held h JOIN unit u ON u.id = h.holder
CROSS JOIN LATERAL (
  SELECT e.id, e.happened, e.person, e.body, e.kind = 'dispatched' AS gone
    FROM event_unit x JOIN event e ON e.id = x.event
   WHERE x.unit = h.holder AND x.role = 'placed' AND e.recorded <= %(known)s::timestamptz
   ORDER BY gone DESC, e.happened DESC, e.id DESC LIMIT 1) last
CROSS JOIN LATERAL jsonb_array_elements(COALESCE(last.body::jsonb->'rows'->'places', '[]')) AS p
WHERE p->>'unit' = u.uid::text
ORDER BY h.unit, last.gone DESC, last.happened DESC, last.id DESC, h.holder
"""


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a unit was put last (the key of the place, or `GONE` and whom it went to), by whom and when."""

    place: str
    person: str
    happened: datetime

    @property
    def gone(self) -> str:
        """The key of whom it has gone to ("unknown" where nobody said); "" while it is in the plant."""
        return self.place.removeprefix(GONE) if self.place.startswith(GONE) else ""


def placed(ids: Collection[int], as_known_on: datetime | None = None) -> dict[int, Placed]:
    """How each unit was placed last as known then; units that were never placed are left out."""
    with connection.cursor() as cursor:
        cursor.execute(PLACES, {"ids": id_array(ids), "known": known_by(as_known_on)})
        rows = cursor.fetchall()
    return {unit: Placed(place, person or "", happened) for unit, place, person, happened in rows if place}


def places(ids: Collection[int], as_known_on: datetime | None = None) -> dict[int, str]:
    """The place key of each unit as known then; units that were never placed are left out."""
    return {unit: last.place for unit, last in placed(ids, as_known_on).items()}
