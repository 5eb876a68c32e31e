"""Reads the records that a balance adds up: which event said each amount and when, differences, counts, scales."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from trace.genealogy.graph import Edge
from trace.genealogy.live import BOOKED_AT, LIVE, id_array, known_by
from trace.genealogy.prepared import fetch_rows

# What a late fact or a correction says again happened when it happened, not when that was told.
SAID = """
SELECT e.id, v.uid::text, CASE WHEN v.body LIKE '%%"of":%%' THEN COALESCE(
    (v.body::jsonb #>> ARRAY['rows', 'edges', e.n::text, 'at'])::timestamptz, v.happened) ELSE v.happened END
FROM edge e JOIN event v ON v.id = e.event WHERE e.id = ANY (%(ids)s::bigint[])
"""
MADE = "SELECT v.id, v.uid::text, v.happened FROM event v WHERE v.id = ANY (%(ids)s::bigint[])"
INTO = f"""
SELECT e.id, e.child, e.parent, e.event, e.role, e.layer, e.position, e.amount, e.uom FROM edge e
WHERE e.child = ANY (%(ids)s::bigint[]) AND NOT e.aside AND {LIVE} ORDER BY e.id
"""
DIFFERENCES = f"""
SELECT x.unit, x.cause, x.at, sum(x.amount)::bigint, min(x.event)
FROM (SELECT d.unit, d.cause, {BOOKED_AT} AS at, d.amount, v.uid::text AS event
  FROM difference d JOIN event v ON v.id = d.event AND v.recorded <= %(known)s::timestamptz
  WHERE d.unit = ANY (%(ids)s::bigint[])) x
GROUP BY 1, 2, 3 ORDER BY 1, 3, 2
"""
SCRAPPED = """
SELECT DISTINCT x.unit FROM event_unit x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
WHERE x.unit = ANY (%(ids)s::bigint[]) AND x.role = 'scrapped'
"""
LOOKED = """
SELECT x.unit, count(*) FILTER (WHERE x.role = 'counted') FROM event_unit x
JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
WHERE x.unit = ANY (%(ids)s::bigint[]) AND x.role IN ('counted', 'proved empty') GROUP BY 1
"""
# The scale that each of these acts was weighed on, as the plant data of its time has it.
SCALES = """
SELECT x.event, r.key, (SELECT v.body FROM revision v JOIN event k ON k.id = v.event
    WHERE v.thing = r.id AND v.valid_from <= e.happened AND k.recorded <= %(known)s::timestamptz
    ORDER BY v.version DESC LIMIT 1)
FROM event_resource x JOIN resource r ON r.id = x.resource AND r.kind = 'instrument'
JOIN event e ON e.id = x.event WHERE x.event = ANY (%(ids)s::bigint[]) AND x.role = 'scale'
"""
BODIES = """
SELECT DISTINCT ON (r.kind, r.key) r.kind, r.key, v.body FROM resource r JOIN revision v ON v.thing = r.id
JOIN event k ON k.id = v.event AND k.recorded <= %(known)s::timestamptz
WHERE (r.kind = 'material' AND r.key = ANY (%(materials)s::text[])) OR (r.kind = 'setting' AND r.key = 'fill tolerance')
ORDER BY r.kind, r.key, v.version DESC
"""


class Said(NamedTuple):
    """The event (uid) that says an amount, and when that happened."""

    event: str
    happened: datetime


@dataclass(frozen=True, slots=True)
class Differs:
    """A difference of one unit by its cause and time: `amount` more (above zero) or less than the book."""

    unit: int
    cause: str
    happened: datetime
    amount: int
    event: str


def said_by(edges: Collection[Edge]) -> dict[int, Said]:
    """Edge id -> the event that says it."""
    rows = fetch_rows(SAID, {"ids": id_array(e.id for e in edges)})
    return {edge: Said(event, happened) for edge, event, happened in rows}


def made_by(events: Collection[int]) -> dict[int, Said]:
    """Event id -> what names it."""
    rows = fetch_rows(MADE, {"ids": id_array(sorted(events))})
    return {event: Said(uid, happened) for event, uid, happened in rows}


def edges_into(units: Collection[int], as_known_on: datetime | None) -> list[Edge]:
    """The live edges into these units."""
    return [Edge(*row) for row in fetch_rows(INTO, _values(units, as_known_on))]


def differences_of(units: Collection[int], as_known_on: datetime | None) -> list[Differs]:
    """What was booked of these units then; one booked anew by a late fact is one with what it takes the place of."""
    rows = fetch_rows(DIFFERENCES, _values(units, as_known_on))
    return [Differs(*row) for row in rows if row[3]]


def scrapped_among(units: Collection[int], as_known_on: datetime | None) -> set[int]:
    return {unit for (unit,) in fetch_rows(SCRAPPED, _values(units, as_known_on))}


def looked_at(units: Collection[int], as_known_on: datetime | None) -> dict[int, int]:
    """Those of the units in which somebody counted or saw that nothing was left -> how many times it was counted."""
    return dict(fetch_rows(LOOKED, _values(units, as_known_on)))


def scales_of(events: Collection[int], as_known_on: datetime | None) -> dict[int, tuple[str, str]]:
    """Event id -> the scale's key and its body (JSON text) when it was used."""
    rows = fetch_rows(SCALES, _values(events, as_known_on))
    return {event: (key, body or "{}") for event, key, body in rows}


def tolerances(materials: Collection[str], as_known_on: datetime | None) -> Mapping[tuple[str, str], str]:
    """(kind, key) -> body (JSON text): these materials, and the plant's own setting of the fill tolerance."""
    values = {"known": known_by(as_known_on), "materials": sorted(materials)}
    return {(kind, key): body for kind, key, body in fetch_rows(BODIES, values)}


def _values(units: Collection[int], as_known_on: datetime | None) -> dict[str, Any]:
    return {"ids": id_array(sorted(units)), "known": known_by(as_known_on)}
