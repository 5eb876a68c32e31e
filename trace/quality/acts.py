"""What was done to many units, with what, and what was read of them: each in one query for all of them."""

from collections.abc import Collection, Iterator
from datetime import datetime
from typing import Any, NamedTuple

from trace.genealogy.deeds import NOT_DONE
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.prepared import fetch_rows

# Of what is drawn from only what was done to it as a whole counts: its other draws are another hull's story.
# What makes a hull and sends it: what was done since it was gone, or about it, was done because it came back.
MAKING = (
    "received", "certified", "released", "opening_stock", "topped_up", "proved_empty", "weighed", "mould_ready",
    "inserts_placed", "graphic_placed", "tipped", "mould_closed", "cook_started", "cook_stage", "cook_ended", "cooled",
    "demoulded", "cut", "bound", "inspected", "racked", "packed", "dispatched",
)
AS_A_WHOLE = ("received", "certified", "released", "proved empty", "corrected", "told", "counted")
# When somebody complained of a hull, whether it was known then or found later.
COMPLAINED = """
  SELECT x.unit, v.happened AS at FROM event_unit x
  JOIN event v ON v.id = x.event AND v.kind = 'complained' AND v.recorded <= %(known)s::timestamptz
  WHERE x.unit = ANY (%(units)s::bigint[])
  UNION ALL
  SELECT x.unit, said.happened FROM event_unit x
  JOIN event v ON v.id = x.event AND v.kind = 'complaint_tied' AND v.recorded <= %(known)s::timestamptz
  JOIN complaint c ON c.number = (v.body::jsonb->'says'->>'complaint')::int JOIN event said ON said.id = c.event
  WHERE x.unit = ANY (%(units)s::bigint[])"""
SENT = """
  SELECT x.unit, v.happened AS at FROM event_unit x
  JOIN event v ON v.id = x.event AND v.kind = 'dispatched' AND v.recorded <= %(known)s::timestamptz
  WHERE x.unit = ANY (%(units)s::bigint[])"""
# When a hull was sent or complained of, for what follows to be left out: it was done because of that.
GONE = f"""gone(unit, at) AS (SELECT w.unit, min(w.at) FROM ({SENT} UNION ALL {COMPLAINED}) w GROUP BY 1)"""
DONE = f"""
WITH {GONE}, done(unit, event) AS (
  SELECT x.unit, x.event FROM event_unit x JOIN unit u ON u.id = x.unit
   WHERE x.unit = ANY (%(units)s::bigint[]) AND x.role <> ALL (%(not_done)s::text[])
     AND (u.kind <> ALL (%(stock)s::text[]) OR x.role = ANY (%(whole)s::text[]))
  UNION SELECT u.id, u.event FROM unit u WHERE u.id = ANY (%(units)s::bigint[])
  UNION SELECT e.child, e.event FROM edge e WHERE e.child = ANY (%(units)s::bigint[]) AND NOT e.aside AND {LIVE}),
acts AS (
  SELECT d.unit, v.id, v.kind, v.happened, v.body FROM done d
  JOIN event v ON v.id = d.event AND v.recorded <= %(known)s::timestamptz AND v.kind = ANY (%(making)s::text[])
  LEFT JOIN gone g ON g.unit = d.unit WHERE g.at IS NULL OR v.happened <= g.at)"""
THINGS = f"""{DONE}
SELECT DISTINCT a.unit, r.kind, r.key, x.role, a.kind FROM acts a JOIN unit u ON u.id = a.unit
JOIN event_resource x ON x.event = a.id JOIN resource r ON r.id = x.resource
-- A cook is of every mould on its arm, and each load was in one of them.
WHERE r.kind <> 'mould' OR COALESCE(u.about->>'mould', r.key) = r.key
"""
RULES = f"""{DONE}
SELECT DISTINCT a.unit, f->>'code', a.kind FROM acts a, jsonb_array_elements(a.body::jsonb->'found') AS f
WHERE a.body LIKE '%%"found":[{{%%'
"""
TIMES = f"""{DONE}
SELECT a.unit, a.kind, max(a.happened) FROM acts a WHERE a.kind = ANY (%(kinds)s::text[]) GROUP BY 1, 2
"""
READINGS = f"""
WITH {GONE}
SELECT u.id, r.row->>'quantity', COALESCE(r.row->>'zone', ''), r.row->>'value', r.row->>'uom', e.uid::text, r.n - 1
FROM event_unit x JOIN unit u ON u.id = x.unit
JOIN event e ON e.id = x.event AND e.recorded <= %(known)s::timestamptz
CROSS JOIN LATERAL jsonb_array_elements(COALESCE(e.body::jsonb->'rows'->'readings', '[]'))
  WITH ORDINALITY AS r(row, n)
LEFT JOIN gone g ON g.unit = x.unit
WHERE (g.at IS NULL OR e.happened <= g.at) AND x.unit = ANY (%(units)s::bigint[])
  AND ((x.role = 'read' AND r.row->>'unit' = u.uid::text)
    OR (x.role = 'cooked' AND e.kind = 'cook_started' AND r.row->>'unit' IS NULL))
ORDER BY e.happened, e.id, r.n
"""
RIGHTED = """
SELECT r->>'event', (r->>'n')::int, r->>'value' FROM event e
CROSS JOIN LATERAL jsonb_array_elements(COALESCE(e.body::jsonb->'rows'->'readings_righted', '[]')) AS r
WHERE e.kind IN ('reading_corrected', 'impact_reopened') AND e.recorded <= %(known)s::timestamptz
ORDER BY e.recorded, e.id
"""
# What a repair took went into the hull when it was repaired. One that was sold again after it may have failed by it.
REPAIRED_SINCE = f"""
WITH complained(unit, at) AS (SELECT w.unit, min(w.at) FROM ({COMPLAINED}) w GROUP BY 1),
sent(unit, at) AS (SELECT w.unit, min(w.at) FROM ({SENT}) w GROUP BY 1)
SELECT x.unit, v.id FROM event_unit x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
LEFT JOIN complained c ON c.unit = x.unit LEFT JOIN sent s ON s.unit = x.unit
WHERE x.unit = ANY (%(units)s::bigint[]) AND x.role = 'repaired' AND v.happened > COALESCE(c.at, s.at)
"""
PLACES_ON_ARM = """
SELECT c.unit, c.position FROM cook c JOIN event e ON e.id = c.event AND e.recorded <= %(known)s::timestamptz
WHERE c.unit = ANY (%(units)s::bigint[])
"""


class Thing(NamedTuple):
    """A thing of the plant in an act that was done to `unit`, by its role there."""

    unit: int
    kind: str
    key: str
    role: str
    act: str


class Reading(NamedTuple):
    """The value as it was put right by then."""

    unit: int
    quantity: str
    zone: str
    value: float
    uom: str


def _asked(units: Collection[int], known: datetime, stock: Collection[str]) -> dict[str, Any]:
    return {
        "units": id_array(units), "known": known_by(known), "not_done": list(NOT_DONE), "stock": sorted(stock),
        "whole": list(AS_A_WHOLE), "making": list(MAKING),
    }  # fmt: skip


def things_of(units: Collection[int], known: datetime, stock: Collection[str]) -> list[Thing]:
    """Every thing of every act on these units, made or filled them; `stock`: kinds of unit that are drawn from."""
    return [Thing(*row) for row in fetch_rows(THINGS, _asked(units, known, stock))]


def rules_of(units: Collection[int], known: datetime, stock: Collection[str]) -> list[tuple[int, str, str]]:
    """(unit, code of a rule that spoke, kind of act)."""
    return fetch_rows(RULES, _asked(units, known, stock))


def times_of(
    units: Collection[int], known: datetime, stock: Collection[str], kinds: Collection[str]
) -> list[tuple[int, str, datetime]]:
    """(unit, kind of act, when the last of them happened)."""
    return fetch_rows(TIMES, {**_asked(units, known, stock), "kinds": sorted(kinds)})


def readings_of(units: Collection[int], known: datetime) -> Iterator[Reading]:
    """In the order in which they were read: of several of one quantity the last is the one that stands."""
    values = {"units": id_array(units), "known": known_by(known)}
    righted = {(event, n): value for event, n, value in fetch_rows(RIGHTED, {"known": known_by(known)})}
    for unit, quantity, zone, text, uom, event, n in fetch_rows(READINGS, values):
        value = _number(righted.get((event, int(n)), text))
        if value is not None:
            yield Reading(unit, quantity, zone, value, uom)


def _number(text: str | None) -> float | None:
    try:
        return None if text is None else float(text)
    except ValueError:
        return None


def repaired_since(units: Collection[int], known: datetime) -> dict[int, set[int]]:
    """By unit, the repairs (ids of events) after it was complained of; of one that nobody complained of, after it was
    sent."""
    found: dict[int, set[int]] = {}
    for unit, event in fetch_rows(REPAIRED_SINCE, {"units": id_array(units), "known": known_by(known)}):
        found.setdefault(unit, set()).add(event)
    return found


def places_on_arm(units: Collection[int], known: datetime) -> list[tuple[int, str]]:
    return fetch_rows(PLACES_ON_ARM, {"units": id_array(units), "known": known_by(known)})
