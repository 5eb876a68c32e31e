"""Where units were, as known on a day, and who put them there: by the last event that placed them, or what they are
packed in.

What was dispatched is gone, though what was told of it last was dated later.
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
        return _placed_of_many(ids, known)
    with connection.cursor() as cursor:
        cursor.execute(PLACES, {"ids": id_array(ids), "known": known})
        rows = cursor.fetchall()
    return {unit: Placed(place, person or "", happened) for unit, place, person, happened in rows if place}


def places(ids: Collection[int], as_known_on: datetime | None = None) -> dict[int, str]:
    """The place key of each unit as known then; units that were never placed are left out."""
    return {unit: last.place for unit, last in placed(ids, as_known_on).items()}


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
