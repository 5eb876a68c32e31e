"""Which hull was moulded anew in place of which, as known on a day: a link of identity, not of kilograms."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from trace.genealogy.live import id_array, known_by
from trace.genealogy.prepared import fetch_rows

# What the old hull, and the new one, are to the event that links them.
INSTEAD, ANEW = "moulded anew", "stands for another"
# The record that was made last of two hulls says whether they are linked.
LINKED = """
SELECT DISTINCT ON (n.unit, o.unit) n.unit, o.unit, e.id, e.happened, e.kind = 'remoulded'
FROM event_unit x JOIN event e ON e.id = x.event AND e.recorded <= %(known)s::timestamptz
JOIN event_unit n ON n.event = e.id AND n.role = %(anew)s
JOIN event_unit o ON o.event = e.id AND o.role = %(instead)s
WHERE x.unit = ANY (%(ids)s::bigint[]) AND x.role = ANY (%(roles)s::text[])
ORDER BY n.unit, o.unit, e.id DESC
"""


@dataclass(frozen=True, slots=True)
class Link:
    """`new` stands for `old` (unit ids) by this event, since then."""

    new: int
    old: int
    event: int
    happened: datetime


def linked_among(ids: Collection[int], as_known_on: datetime | None = None) -> list[Link]:
    """The links of these hulls, from either end, as known then."""
    values = {
        "ids": id_array(ids), "known": known_by(as_known_on), "anew": ANEW, "instead": INSTEAD,
        "roles": [ANEW, INSTEAD],
    }  # fmt: skip
    return [Link(new, old, event, when) for new, old, event, when, stands in fetch_rows(LINKED, values) if stands]
