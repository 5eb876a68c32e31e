"""What a hull was made as: as its moulding was, and after an exchange of plates as the moulding it now stands on.

The words copied to a hull when its plate was bound (colour, mould, order, cavity) never change; only an exchange
gives it another moulding.
"""

from collections.abc import Collection
from datetime import datetime
from typing import Any

from trace.genealogy.live import LIVE, id_array, known_by, live
from trace.genealogy.prepared import fetch_rows

EXCHANGED = "SELECT x.unit FROM event v JOIN event_unit x ON x.event = v.id WHERE v.kind = 'plates_swapped'"


def made_as(u: str) -> str:
    """SQL for the `about` of the unit u, as all is known that is recorded; only hulls are ever among the exchanged."""
    return f"""(CASE WHEN {u}.id IN ({EXCHANGED}) THEN COALESCE((
  SELECT m.about - 'load' FROM edge b JOIN unit m ON m.id = b.parent
   WHERE b.child = {u}.id AND b.role IN ('bind', 'join') AND {live('b')} ORDER BY b.id LIMIT 1), {u}.about)
 ELSE {u}.about END)"""


MADE_AS = made_as("u")
AS_KNOWN = f"""
SELECT DISTINCT ON (e.child) e.child, (m.about - 'load')::text FROM edge e JOIN unit m ON m.id = e.parent
WHERE e.child IN ({EXCHANGED} AND v.recorded <= %(known)s::timestamptz AND x.unit = ANY (%(hulls)s::bigint[]))
  AND e.role IN ('bind', 'join') AND NOT e.aside AND {LIVE} ORDER BY e.child, e.id
"""


def exchanged(hulls: Collection[int], as_known_on: datetime | None = None) -> dict[int, str]:
    """`about`, as JSON text, of those of the hulls whose plates had been exchanged by then."""
    values: dict[str, Any] = {"hulls": id_array(hulls), "known": known_by(as_known_on)}
    return dict(fetch_rows(AS_KNOWN, values)) if hulls else {}
