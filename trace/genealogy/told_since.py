"""What was recorded since a moment of what some hulls were made of and by: why one may be told otherwise today."""

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import NamedTuple

from trace.genealogy.live import id_array, known_by
from trace.genealogy.prepared import fetch_rows

# A hull, its mouldings, loads and charges: ways that were withdrawn lead on too, since that may be the reason. What is
# behind the contents of vessels is not gone through: that leads back through the plant.
SINCE = """
WITH RECURSIVE up(hull, unit) AS (
  SELECT u, u FROM unnest(%(hulls)s::bigint[]) AS u
  UNION SELECT p.hull, e.parent FROM up p JOIN edge e ON e.child = p.unit
     AND e.role IN ('bind', 'join', 'cut', 'cavity', 'charge')),
told(hull, event) AS (
  SELECT p.hull, e.event FROM up p JOIN edge e ON e.child = p.unit
  UNION SELECT p.hull, v.event FROM up p JOIN edge e ON e.child = p.unit JOIN edge_void v ON v.edge = e.id
  UNION SELECT p.hull, x.event FROM up p JOIN event_unit x ON x.unit = p.unit)
SELECT t.hull, v.kind, max(v.recorded) FROM told t JOIN event v ON v.id = t.event
 WHERE v.recorded > %(then)s::timestamptz AND v.recorded <= %(known)s::timestamptz AND v.kind <> ALL (%(never)s::text[])
 GROUP BY t.hull, v.kind ORDER BY t.hull, max(v.recorded), v.kind
"""
# What tells nothing of what any hull was made of, by or as.
NEVER = ("held", "hold_released", "racked", "label_reprinted", "containment_seen", "drill_begun", "drill_signed")


class Since(NamedTuple):
    """A kind of record, and when the last of it was made."""

    kind: str
    recorded: datetime


def told_since(hulls: Collection[int], then: datetime, known: datetime | None) -> Mapping[int, list[Since]]:
    """By hull, what was recorded after `then` and up to `known`, the oldest first; a hull of which nothing was is left
    out."""
    found: dict[int, list[Since]] = {}
    values = {"hulls": id_array(sorted(hulls)), "then": then, "known": known_by(known), "never": sorted(NEVER)}
    for hull, kind, recorded in fetch_rows(SINCE, values) if hulls else ():
        found.setdefault(hull, []).append(Since(kind, recorded))
    return found
