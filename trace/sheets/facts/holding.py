"""Holds that reached units at a moment: laid by then, not released by then, down live edges."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import connection

from trace.genealogy.graph import Edge
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import reached_ids
from trace.readmodels.holds import WAITING

HOLDS = """
SELECT h.id, h.uid::text, h.unit, h.rule, e.person, e.happened, e.why, e.uid::text,
  ARRAY(SELECT r.unit FROM hold_release r JOIN event x ON x.id = r.event
         WHERE r.hold = h.id AND x.recorded <= %(known)s::timestamptz)
FROM hold h JOIN event e ON e.id = h.event AND e.recorded <= %(known)s::timestamptz
WHERE h.unit = ANY (%(units)s) ORDER BY e.happened, h.uid
"""


@dataclass(frozen=True, slots=True)
class Laid:
    """One hold that some release has not ended. `unit` is where it was laid, `why` the digest of its reason.

    `spared`: units released from it alone.
    """

    uid: str
    unit: int
    rule: str
    person: str
    happened: datetime
    why: str | None
    event: str
    spared: frozenset[int]


def laid(units: Collection[int], as_known_on: datetime | None = None) -> list[Laid]:
    """The holds in force then that were laid on one of these units, oldest first."""
    with connection.cursor() as cursor:
        cursor.execute(HOLDS, {"units": sorted(units), "known": known_by(as_known_on)})
        found = []
        for _id, uid, unit, rule, person, happened, why, event, released in cursor.fetchall():
            if None not in released and unit not in released:
                found.append(Laid(uid, unit, rule, person or "", happened, why, event, frozenset(released)))
        return found


def reached(hold: Laid, edges: Iterable[Edge]) -> set[int]:
    """The units among these live edges that are under the hold: down from its unit, but for the spared."""
    below: dict[int, list[int]] = {}
    for edge in edges:
        below.setdefault(edge.parent, []).append(edge.child)
    held, new = {hold.unit}, [hold.unit]
    while new:
        for child in below.get(new.pop(), ()):
            if child not in held and child not in hold.spared:
                held.add(child)
                new.append(child)
    return held


# The holds in force then that were laid on one of these units.
IN_FORCE = """
SELECT h.id, h.unit FROM hold h JOIN event e ON e.id = h.event AND e.recorded <= %(known)s::timestamptz
WHERE NOT EXISTS (SELECT FROM hold_release x JOIN event xe ON xe.id = x.event
  WHERE x.hold = h.id AND (x.unit IS NULL OR x.unit = h.unit) AND xe.recorded <= %(known)s::timestamptz)
"""
# Forward from them, past nothing that was released from them by then. Only through what lies behind the units asked
# about: a hold may reach millions of others. IS TRUE: what lies behind is hashed once, not joined anew for each unit.
HELD = f"""
WITH RECURSIVE behind AS MATERIALIZED ({reached_ids("back")}),
r(hold, unit) AS (
  SELECT f.id, f.unit FROM ({IN_FORCE}) f WHERE f.unit IN (SELECT id FROM behind)
  UNION
  SELECT r.hold, c.child FROM r, LATERAL (
    SELECT e.child FROM edge e
     WHERE e.parent = r.unit AND NOT e.aside AND (e.child IN (SELECT id FROM behind)) IS TRUE AND {LIVE}
       AND NOT EXISTS (SELECT FROM hold_release x JOIN event xe ON xe.id = x.event
          WHERE x.hold = r.hold AND x.unit = e.child AND xe.recorded <= %(known)s::timestamptz) OFFSET 0) c)
SELECT DISTINCT unit FROM r WHERE unit = ANY (%(roots)s::bigint[])
"""
ANY_IN_FORCE = f"SELECT EXISTS ({IN_FORCE})"


# What holds now is kept; where a hold is still being spread, not all of it is.
HELD_NOW = f"""
SELECT DISTINCT w.unit, EXISTS ({WAITING}) FROM (SELECT NULL::bigint AS unit
  UNION ALL SELECT unit FROM unit_hold WHERE unit = ANY (%(roots)s::bigint[])) w
"""


def held(units: Collection[int], as_known_on: datetime | None = None) -> set[int]:
    """Those of the units that were under any hold then; None is now."""
    values = {"roots": id_array(sorted(units)), "known": known_by(as_known_on)}
    if not units:
        return set()
    if as_known_on is None:
        rows = fetch_rows(HELD_NOW, values)
        if not rows[0][1]:
            return {unit for unit, _spreading in rows if unit is not None}
    elif not fetch_rows(ANY_IN_FORCE, values)[0][0]:
        return set()
    return {unit for (unit,) in fetch_rows(HELD, values)}
