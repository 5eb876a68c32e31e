"""Where units were, as known on a day, and who put them there: by the last event that placed them, or what they are
packed in.

What was dispatched is gone, though what was told of it last was dated later. Of what came back only what has happened
since counts: it has left its pack and the truck, and stands where it was put.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import connection

from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.prepared import fetch_rows

# What stands before the key of whom a thing has gone to, where its place is told.
GONE = "gone: "

# When each of these units came back last; a small index (event_unit_came_back) names those that did.
CAME_BACK = """
  SELECT DISTINCT ON (x.unit) x.unit, e.happened, e.id
    FROM event_unit x JOIN event e ON e.id = x.event AND e.recorded <= %(known)s::timestamptz
   WHERE x.role = 'returned' AND x.unit = ANY (%(ids)s::bigint[])
   ORDER BY x.unit, e.happened DESC, e.id DESC"""
PLACES = f"""
WITH RECURSIVE back(unit, happened, id) AS MATERIALIZED ({CAME_BACK}),
held(unit, holder) AS (
  SELECT u.id, u.id FROM unit u WHERE u.id = ANY (%(ids)s::bigint[])
  UNION
  SELECT h.unit, n.child
  FROM held h JOIN unit u ON u.id = h.holder AND u.kind IN ('hull', 'part', 'pack')
  LEFT JOIN back b ON b.unit = h.unit, LATERAL (
    SELECT e.child FROM edge e
     WHERE e.parent = h.holder AND e.role IN ('pack', 'ship') AND NOT e.aside AND {LIVE}
       AND CASE WHEN b.unit IS NULL THEN true
           ELSE (SELECT (v.happened, v.id) > (b.happened, b.id) FROM event v WHERE v.id = e.event) END OFFSET 0) n
)
SELECT DISTINCT ON (h.unit) h.unit, p->>'place', last.person, last.happened
FROM held h JOIN unit u ON u.id = h.holder LEFT JOIN back b ON b.unit = h.unit
CROSS JOIN LATERAL (
  SELECT e.id, e.happened, e.person, e.body, e.kind = 'dispatched' AS gone
    FROM event_unit x JOIN event e ON e.id = x.event
   WHERE x.unit = h.holder AND x.role = 'placed' AND e.recorded <= %(known)s::timestamptz
     AND (b.unit IS NULL OR (e.happened, e.id) >= (b.happened, b.id))
   ORDER BY gone DESC, e.happened DESC, e.id DESC LIMIT 1) last
CROSS JOIN LATERAL jsonb_array_elements(COALESCE(last.body::jsonb->'rows'->'places', '[]')) AS p
WHERE p->>'unit' = u.uid::text
ORDER BY h.unit, last.gone DESC, last.happened DESC, last.id DESC, h.holder
"""
IN_PACKS = f"""
WITH back(unit, happened, id) AS MATERIALIZED ({CAME_BACK})
SELECT e.parent, e.child FROM edge e LEFT JOIN back b ON b.unit = e.parent
WHERE e.parent = ANY (%(ids)s::bigint[]) AND e.role = 'pack' AND NOT e.aside AND {LIVE}
  AND CASE WHEN b.unit IS NULL THEN true
      ELSE (SELECT (v.happened, v.id) > (b.happened, b.id) FROM event v WHERE v.id = e.event) END
"""
# Of more units than this it is quicker to ask for each step once of all, and to choose here: half the time, and what an
# event says is read once for all that went with it.
MANY = 2_000
INTO = f"""
SELECT e.parent, e.child FROM edge e
WHERE e.parent = ANY (%(ids)s::bigint[]) AND e.role IN ('pack', 'ship') AND NOT e.aside AND {LIVE}
"""
# The last of each, in the order in which one counts before the other: the later row counts.
LAST = """
SELECT last.unit, last.event FROM (
  SELECT DISTINCT ON (x.unit) x.unit, e.id AS event, e.kind = 'dispatched' AS gone, e.happened
  FROM event_unit x JOIN event e ON e.id = x.event
  WHERE x.unit = ANY (%(ids)s::bigint[]) AND x.role = 'placed' AND e.recorded <= %(known)s::timestamptz
  ORDER BY x.unit, gone DESC, e.happened DESC, e.id DESC) last
ORDER BY last.gone, last.happened, last.event, last.unit DESC
"""
SAID = """
SELECT l.unit, p->>'place', e.person, e.happened
FROM unnest(%(ids)s::bigint[], %(events)s::bigint[]) AS l(unit, event)
JOIN unit u ON u.id = l.unit JOIN event e ON e.id = l.event
CROSS JOIN LATERAL jsonb_array_elements(COALESCE(e.body::jsonb->'rows'->'places', '[]')) AS p
WHERE p->>'unit' = u.uid::text
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
    known = known_by(as_known_on)
    if len(ids) > MANY:
        # Of those that came back, which are few, other events count.
        back = came_back(ids, as_known_on).keys()
        return _placed_one_by_one(back, known) | _placed_of_many(set(ids) - back, known)
    return _placed_one_by_one(ids, known)


def _placed_one_by_one(ids: Collection[int], known: str) -> dict[int, Placed]:
    with connection.cursor() as cursor:
        cursor.execute(PLACES, {"ids": id_array(ids), "known": known})
        rows = cursor.fetchall()
    return {unit: Placed(place, person or "", happened) for unit, place, person, happened in rows if place}


def packs_of(ids: Collection[int], as_known_on: datetime | None = None) -> dict[int, int]:
    """The pack that each of these hulls was in as known then; one that came back is in none that it came back from."""
    return dict(fetch_rows(IN_PACKS, {"ids": id_array(ids), "known": known_by(as_known_on)})) if ids else {}


def places(ids: Collection[int], as_known_on: datetime | None = None) -> dict[int, str]:
    """The place key of each unit as known then; units that were never placed are left out."""
    return {unit: last.place for unit, last in placed(ids, as_known_on).items()}


def came_back(ids: Collection[int], as_known_on: datetime | None = None) -> dict[int, datetime]:
    """When each of these came back last, as known then; those that never did are left out."""
    with connection.cursor() as cursor:
        cursor.execute(CAME_BACK, {"ids": id_array(ids), "known": known_by(as_known_on)})
        return {unit: happened for unit, happened, _event in cursor.fetchall()}


def _placed_of_many(ids: Collection[int], known: str) -> dict[int, Placed]:
    holders = _holders(ids, known)
    last = _rows(LAST, holders, known)
    counts = {unit: n for n, (unit, _event) in enumerate(last)}
    newest = {unit: _newest(unit, holders, counts) for unit in ids}
    named = [last[n] for n in set(newest.values()) if n >= 0]
    values = {"ids": id_array(unit for unit, _event in named), "events": id_array(event for _unit, event in named)}
    said = {
        unit: Placed(place, person or "", happened)
        for unit, place, person, happened in fetch_rows(SAID, values) if place
    }  # fmt: skip
    told = ((unit, said.get(last[n][0])) for unit, n in newest.items() if n >= 0)
    return {unit: where for unit, where in told if where}


def _holders(ids: Collection[int], known: str) -> dict[int, list[int]]:
    """These units and all that they are in, each with what it is in itself."""
    found: dict[int, list[int]] = {unit: [] for unit in ids}
    asked: set[int] = set(ids)
    while asked:
        rows = _rows(INTO, asked, known)
        for unit, holder in rows:
            found[unit].append(holder)
        asked = {holder for _unit, holder in rows} - found.keys()
        found.update((holder, []) for holder in asked)
    return found


def _newest(unit: int, holders: dict[int, list[int]], counts: dict[int, int]) -> int:
    """Which placing counts of a unit: its own or one of what it is in; -1: it was never placed."""
    own = counts.get(unit, -1)
    above = holders[unit]
    return max(own, *(_newest(holder, holders, counts) for holder in above)) if above else own


def _rows(sql: str, units: Iterable[int], known: str) -> list[Any]:
    return fetch_rows(sql, {"ids": id_array(units), "known": known})
