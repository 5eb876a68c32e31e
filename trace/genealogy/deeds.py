"""What was done with a thing of the plant (a mould, an arm, a scale, a person …), and so to which hulls."""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from django.db import connection

from trace.genealogy.all_ways import Ids, can_be_read, hulls_led_to, ids_of
from trace.genealogy.cause_words import Thing
from trace.genealogy.checks import FIRST, LAST, Doubted
from trace.genealogy.graph import DRAWN_KINDS
from trace.genealogy.live import LIVE, LIVE_OF_ALL, id_array, known_by
from trace.genealogy.prepared import fetch_rows

# What follows from an act is not done to a unit by whoever acts: a gap is noticed, a hold is laid.
NOT_DONE = (
    "gap", "gap closed", "held", "hold released", "complained", "complaint tied", "complaint closed", "proved empty",
    "owner registered", "owner withdrawn", "stock seen", "stock unexpected", "stock missing",
)  # fmt: skip
# Nor is it done to what it only took from, or emptied: that is used up now, and what came out of it before was out.
TOUCHED = """
x.role <> ALL (%(not_done)s::text[]) AND NOT (x.role = 'status' AND (
  EXISTS (SELECT FROM edge g WHERE g.event = x.event AND g.parent = x.unit)
  OR EXISTS (SELECT FROM event_unit y WHERE y.event = x.event AND y.unit = x.unit AND y.role = 'proved empty')))
"""
# Nothing is done to a unit with an instrument that is checked, or a thing that is entered.
NO_ACT = ("checked", "corrected", "defined", "label reprinted")
# The ways along which the whole of a unit goes on: what was done to it was done to what it became.
OWN_ROLES = ("charge", "cavity", "cut", "bind", "join", "plate")
# Of what is mixed or drawn from, a part goes on: that has to be reckoned (carried.py).
BULK_KINDS = sorted({*DRAWN_KINDS, "regrind"})
PACKING = ("pack", "ship")
# Where something was or went is told by whatever act placed it there.
PLACES = ("place", "consignee")
THERE = "SELECT r.id FROM resource r WHERE r.kind = %(kind)s::text AND r.key = %(key)s::text"
# The acts whose time was put right, and the last word on it.
MOVED = """
  SELECT DISTINCT ON (c.of) c.of, c.at::timestamptz AS at FROM (
    SELECT v.id, (v.body::jsonb->>'corrects')::uuid AS of, NULLIF(v.body::jsonb #>> '{says,at}', '') AS at
    FROM event v WHERE v.kind = 'corrected' AND v.recorded <= %(known)s::timestamptz) c
  WHERE c.at IS NOT NULL ORDER BY c.of, c.id DESC
"""
ACTS = f"""
WITH moved AS MATERIALIZED ({MOVED})
SELECT x.event FROM event_resource x JOIN resource r ON r.id = x.resource
JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
LEFT JOIN moved m ON m.of = v.uid
WHERE r.kind = %(kind)s::text AND r.key = %(key)s::text
  AND (x.role = ANY (%(roles)s::text[]) OR %(roles)s::text[] = '{{}}')
  AND x.role <> ALL (%(no_act)s::text[])
  AND COALESCE(m.at, v.happened) >= %(since)s::timestamptz AND COALESCE(m.at, v.happened) < %(until)s::timestamptz
"""
# What an act touched, what it made, and what it put something into. What a correction or a late fact says again was
# done by the act that said it first: its edges stand where those of that act were withdrawn. A cook is of every mould
# on its arm, and each load was in one of them.
OF_MOULD = "(%(kind)s::text <> 'mould' OR COALESCE(u.about->>'mould', %(key)s::text) = %(key)s::text)"
AGAIN = """
acts AS MATERIALIZED (SELECT unnest(%(acts)s::bigint[]) AS event),
again(edge, act) AS (
  SELECT w.edge, e.event FROM edge_void w, LATERAL (SELECT i.event FROM edge i WHERE i.id = w.edge OFFSET 0) e
  WHERE e.event IN (SELECT event FROM acts) AND w.recorded <= %(known)s::timestamptz
  UNION
  SELECT s.id, g.act FROM again g JOIN edge_void w ON w.edge = g.edge AND w.recorded <= %(known)s::timestamptz
  JOIN event o ON o.id = w.event AND o.body LIKE '%%"of":%%' JOIN event a ON a.id = g.act
  JOIN edge s ON s.event = w.event
  WHERE o.body::jsonb #>> ARRAY['rows', 'edges', s.n::text, 'of'] = a.uid::text)
"""
DONE = f"""
{AGAIN},
touched(unit) AS MATERIALIZED (
  SELECT x.unit FROM acts a JOIN event_unit x ON x.event = a.event JOIN unit u ON u.id = x.unit
   WHERE {TOUCHED} AND {OF_MOULD}
  UNION SELECT u.id FROM acts a JOIN unit u ON u.event = a.event),
-- Whether an edge was withdrawn is looked up last, of what is left.
further AS MATERIALIZED (
  SELECT e.id, e.child, e.recorded FROM acts a JOIN edge e ON e.event = a.event
   WHERE NOT e.aside AND NOT EXISTS (SELECT FROM touched t WHERE t.unit = e.child)),
done(unit) AS MATERIALIZED (
  SELECT unit FROM touched
  UNION SELECT e.child FROM further e WHERE {LIVE}
  UNION SELECT e.child FROM again g JOIN edge e ON e.id = g.edge WHERE NOT e.aside AND {LIVE})
"""
# The same of very many acts, each step by itself: of a hundred thousand the server guesses badly how much comes of one
# step for the next. Said again was only what was withdrawn.
STEPS = (
    f"""SELECT x.unit FROM event_unit x JOIN unit u ON u.id = x.unit
      WHERE x.event = ANY (%(acts)s::bigint[]) AND {TOUCHED} AND {OF_MOULD}""",
    "SELECT u.id FROM unit u WHERE u.event = ANY (%(acts)s::bigint[])",
    f"""SELECT e.child FROM edge e
      WHERE e.event = ANY (%(acts)s::bigint[]) AND NOT e.aside AND {LIVE_OF_ALL}""",
)
CHANGED = "SELECT e.event FROM edge_void w JOIN edge e ON e.id = w.edge WHERE w.recorded <= %(known)s::timestamptz"
SAID_AGAIN = f"""
WITH RECURSIVE {AGAIN}
SELECT e.child FROM again g JOIN edge e ON e.id = g.edge WHERE NOT e.aside AND {LIVE}
"""
# Of these, more is asked than that something was done to them.
ASKED_ABOUT = "SELECT u.id FROM unit u WHERE u.kind = ANY (%(bulk)s::text[] || '{pack,consignment}'::text[])"
GIVEN = "done(unit) AS MATERIALIZED (SELECT unnest(%(units)s::bigint[]))"
# What was placed somewhere, whatever act placed it: an old hull has no other record of where it went.
PLACED = """
done(unit, event) AS MATERIALIZED (
  SELECT x.unit, v.id FROM event_unit x
  JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
  WHERE x.role = 'placed' AND position(%(quoted)s::text IN v.body) > 0 AND EXISTS (
    SELECT FROM unit u, jsonb_array_elements(COALESCE(v.body::jsonb->'rows'->'places', '[]')) AS p
    WHERE u.id = x.unit AND p->>'unit' = u.uid::text AND p->>'place' = %(place)s::text))
"""
# What was done to a pack or a consignment was done to the hulls in it.
INSIDE = f"""
inside(unit) AS (
  SELECT d.unit FROM done d JOIN unit u ON u.id = d.unit AND u.kind IN ('pack', 'consignment')
  UNION
  SELECT n.parent FROM inside i, LATERAL (
    SELECT e.parent FROM edge e WHERE e.child = i.unit AND e.role = ANY (%(packing)s::text[])
      AND NOT e.aside AND {LIVE} OFFSET 0) n)
"""
# To what it was done, and whether that is powder or pieces, of which a part goes on.
WHAT = f"""
WITH RECURSIVE {{done}}, {INSIDE}
SELECT d.unit, u.id IS NOT NULL FROM done d LEFT JOIN unit u ON u.id = d.unit AND u.kind = ANY (%(bulk)s::text[])
UNION ALL SELECT unit, FALSE FROM inside
"""
# The hulls that some units became, the whole of each going on.
OWN = f"""
WITH RECURSIVE own(unit) AS (
  SELECT unnest(%(units)s::bigint[])
  UNION
  SELECT n.child FROM own o, LATERAL (
    SELECT e.child FROM edge e WHERE e.parent = o.unit AND e.role = ANY (%(own)s::text[])
      AND NOT e.aside AND {LIVE} OFFSET 0) n)
SELECT u.id FROM own o JOIN unit u ON u.id = o.unit WHERE u.kind = 'hull'
"""
# Of more units than this it is quicker to read all ways than to look up those of each, of acts to go by steps.
MANY = 10_000
# The acts on some hulls, on what they were made of and on what they were packed in. Not through regrind: a hull is told
# of its own acts.
NEAR = f"""
behind(hull, unit) AS (
  SELECT h, h FROM unnest(%(hulls)s::bigint[]) AS h
  UNION
  SELECT b.hull, n.parent FROM behind b, LATERAL (
    SELECT e.parent FROM edge e
    WHERE e.child = b.unit AND e.role <> 'regrind' AND NOT e.aside AND {LIVE} OFFSET 0) n),
outside(hull, unit) AS (
  SELECT h, h FROM unnest(%(hulls)s::bigint[]) AS h
  UNION
  SELECT o.hull, n.child FROM outside o, LATERAL (
    SELECT e.child FROM edge e
    WHERE e.parent = o.unit AND e.role = ANY (%(packing)s::text[]) AND NOT e.aside AND {LIVE} OFFSET 0) n)
"""
# One by one by key (OFFSET 0): else the server reads all events for those that say something again.
WHICH = f"""
WITH RECURSIVE {NEAR},
near(hull, unit) AS MATERIALIZED (SELECT * FROM behind UNION SELECT * FROM outside),
acts(hull, event) AS (
  SELECT n.hull, x.event FROM near n JOIN event_unit x ON x.unit = n.unit AND {TOUCHED}
  UNION SELECT n.hull, u.event FROM near n JOIN unit u ON u.id = n.unit
  UNION SELECT n.hull, e.event FROM near n JOIN edge e ON e.child = n.unit WHERE NOT e.aside AND {LIVE}
  UNION SELECT n.hull, a.id FROM near n JOIN edge e ON e.child = n.unit AND NOT e.aside AND {LIVE}
    JOIN LATERAL (SELECT o.body FROM event o WHERE o.id = e.event AND o.body LIKE '%%"of":%%' OFFSET 0) o ON true
    JOIN LATERAL (
      SELECT i.id FROM event i WHERE i.uid = (o.body::jsonb #>> ARRAY['rows', 'edges', e.n::text, 'of'])::uuid OFFSET 0
    ) a ON true)
SELECT a.hull, v.id, v.kind, v.happened FROM acts a JOIN event v ON v.id = a.event
LEFT JOIN ({MOVED}) m ON m.of = v.uid
WHERE v.recorded <= %(known)s::timestamptz
  AND COALESCE(m.at, v.happened) >= %(since)s::timestamptz AND COALESCE(m.at, v.happened) < %(until)s::timestamptz
  AND EXISTS (
  SELECT FROM event_resource x JOIN resource r ON r.id = x.resource
  WHERE x.event = v.id AND r.kind = %(kind)s::text AND r.key = %(key)s::text
    AND (x.role = ANY (%(roles)s::text[]) OR %(roles)s::text[] = '{{}}') AND x.role <> ALL (%(no_act)s::text[])
  OFFSET 0)
ORDER BY v.happened, v.id
"""
WHEN_PLACED = f"""
WITH RECURSIVE {NEAR}, {PLACED}
SELECT DISTINCT o.hull, v.id, v.kind, v.happened
FROM outside o JOIN done d ON d.unit = o.unit JOIN event v ON v.id = d.event ORDER BY v.happened, v.id
"""
LOTS = """
SELECT u.id FROM unit u JOIN event e ON e.id = u.event AND e.recorded <= %(known)s::timestamptz
WHERE u.kind = 'lot' AND u.about->>'supplier' = %(supplier)s::text ORDER BY u.id
"""
LIKE = """
SELECT u.id FROM unit u JOIN event e ON e.id = u.event AND e.recorded <= %(known)s::timestamptz
WHERE u.kind = 'lot' AND u.about->>'material' IN (
  SELECT o.about->>'material' FROM unit o WHERE o.id = ANY (%(lots)s::bigint[])) ORDER BY u.id
"""


@dataclass(frozen=True, slots=True)
class Deed:
    """One act, of this kind."""

    event: int
    kind: str
    happened: datetime


@dataclass(frozen=True, slots=True)
class Done:
    """The hulls that acts were done to, themselves or while they were charges, loads and mouldings; and the contents
    (powder, boxes) to which something was done, of which a part may be in a hull."""

    hulls: frozenset[int]
    contents: frozenset[int]


def is_there(kind: str, key: str) -> bool:
    """Whether the plant has, or had, a thing of this kind and key."""
    return bool(fetch_rows(THERE, {"kind": kind, "key": key}))


ALWAYS = Doubted(FIRST, LAST)


def done_with(
    thing: Thing, key: str, as_known_on: datetime | None = None, during: Doubted = ALWAYS
) -> Done:
    """To what something was done with the thing of this key in a time, as known then; of a place or a consignee, what
    was placed there, whenever."""
    values: dict[str, Any] = {
        **_asked(thing, key, during), "known": known_by(as_known_on), "packing": list(PACKING),
        "bulk": [] if thing.kind in PLACES else BULK_KINDS,
    }  # fmt: skip
    if thing.kind in PLACES:
        return _went_on(_what(PLACED, values), as_known_on)
    acts = np.unique(ids_of(ACTS, values))
    values["acts"] = id_array(acts.tolist())
    if len(acts) <= MANY:
        return _went_on(_what(DONE, values), as_known_on)
    units = np.unique(np.concatenate([*(ids_of(step, values) for step in STEPS), _said_again(acts, values)]))
    more = np.intersect1d(units, ids_of(ASKED_ABOUT, values), assume_unique=True)
    return _went_on(_what(GIVEN, {**values, "units": id_array(more.tolist())}), as_known_on, units)


def _said_again(acts: Ids, values: Mapping[str, Any]) -> Ids:
    """To what those of these acts were done that were said again."""
    changed = np.intersect1d(acts, ids_of(CHANGED, values))
    return ids_of(SAID_AGAIN, {**values, "acts": id_array(changed.tolist())})


def _went_on(done: Collection[tuple[int, bool]], as_known_on: datetime | None, more: Ids | None = None) -> Done:
    """`done`: units, and whether a part of them goes on; `more`: others, of which all does."""
    units: Collection[int] = {unit for unit, _bulk in done}
    if more is not None:
        units = np.union1d(more, np.fromiter(units, np.int64, len(units)))
    return Done(_became(units, as_known_on), frozenset(unit for unit, bulk in done if bulk))


def _what(done: str, values: Mapping[str, Any]) -> list[tuple[int, bool]]:
    # Planned for as many as there are: a few are looked up by key, a hundred thousand are joined.
    with connection.cursor() as cursor:
        cursor.execute(WHAT.format(done=done), values)
        return list(cursor.fetchall())


def _became(units: Collection[int], as_known_on: datetime | None) -> frozenset[int]:
    """The hulls that these units are, or became."""
    if len(units) > MANY and can_be_read():
        return frozenset(hulls_led_to(units, as_known_on, only=OWN_ROLES))
    values = {"units": id_array(units), "own": list(OWN_ROLES), "known": known_by(as_known_on)}
    return frozenset(hull for (hull,) in fetch_rows(OWN, values))


def deeds_on(
    thing: Thing,
    key: str,
    hulls: Collection[int],
    as_known_on: datetime | None = None,
    during: Doubted = ALWAYS,
) -> Mapping[int, list[Deed]]:
    """For each of the hulls the acts with this thing on it and on what went into it, oldest first."""
    values: dict[str, Any] = {
        **_asked(thing, key, during), "known": known_by(as_known_on), "packing": list(PACKING),
        "hulls": id_array(hulls),
    }  # fmt: skip
    found: dict[int, list[Deed]] = {hull: [] for hull in hulls}
    for hull, event, kind, happened in fetch_rows(WHEN_PLACED if thing.kind in PLACES else WHICH, values):
        found[hull].append(Deed(event, kind, happened))
    return found


def _asked(thing: Thing, key: str, during: Doubted) -> dict[str, Any]:
    if thing.kind in PLACES:
        place = key if thing.kind == "place" else f"gone: {key}"
        return {"place": place, "quoted": json.dumps(place, ensure_ascii=False)}
    return {
        "kind": thing.kind, "key": key, "roles": sorted(thing.roles), "not_done": list(NOT_DONE),
        "no_act": list(NO_ACT), "since": during.since.isoformat(), "until": during.until.isoformat(),
    }  # fmt: skip


def lots_of_supplier(supplier: str, as_known_on: datetime | None = None) -> list[int]:
    return [unit for (unit,) in fetch_rows(LOTS, {"supplier": supplier, "known": known_by(as_known_on)})]


def lots_like(lots: Collection[int], as_known_on: datetime | None = None) -> set[int]:
    """The lots, known by then, that are of the material of one of these."""
    values = {"lots": id_array(lots), "known": known_by(as_known_on)}
    return {unit for (unit,) in fetch_rows(LIKE, values)}
