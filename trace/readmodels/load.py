"""Loads, in one statement, the ids an event's rows name and the read-model rows they change."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from trace.genealogy.prepared import fetch_json
from trace.readmodels.store import Ids, Row, Store


@dataclass(frozen=True)
class Named:
    """What rows name: uids that exist already by table, keys, and how many new ids each table needs."""

    units: tuple[str, ...]
    carriers: tuple[str, ...]
    cycles: tuple[str, ...]
    holds: tuple[str, ...]
    events: tuple[str, ...]
    things: tuple[str, ...]
    serials: tuple[str, ...]
    new: dict[str, list[str]]


def named(rows: dict[str, list[Row]], corrects: str | None) -> Named:
    new = {
        "unit": [r["uid"] for r in rows.get("units", [])],
        "carrier": [r["uid"] for r in rows.get("carriers", [])],
        "cycle": [r["uid"] for r in rows.get("cycles", [])],
        "hold": [r["uid"] for r in rows.get("holds", [])],
        "resource": [f"{r['kind']}:{r['key']}" for r in rows.get("things", []) if r["uid"]],
        "edge": [str(n) for n in range(len(rows.get("edges", [])))],
    }

    def old(table: str, *found: Iterable[str | None]) -> tuple[str, ...]:
        every = {x for xs in found for x in xs if x is not None}
        return tuple(sorted(every - set(new.get(table, []))))

    def each(part: str, *names: str) -> list[str | None]:
        return [r[name] for r in rows.get(part, []) for name in names]

    return Named(
        units=old(
            "unit",
            each("edges", "child", "parent"),
            each("differences", "unit"),
            each("touches", "unit"),
            each("statuses", "unit"),
            each("places", "unit"),
            each("cooks", "unit"),
            each("labels", "unit"),
            each("serials", "plate"),
            each("serial_stands", "hull"),
            each("holds", "unit"),
            each("hold_releases", "unit"),
            each("readings", "unit"),
            each("discrepancies", "unit"),
            each("gaps", "unit"),
            each("gaps_closed", "unit"),
            [r.get("load") for r in rows.get("moulds", [])],
            [e["content"] for r in rows.get("logs", []) for e in r["entries"]],
        ),
        carriers=old("carrier", each("units", "carrier"), each("logs", "carrier"), each("labels", "carrier")),
        cycles=old("cycle", each("cooks", "cycle"), [r.get("cycle") for r in rows.get("moulds", [])]),
        holds=old("hold", each("hold_releases", "hold")),
        events=old("event", each("voids", "event"), each("closed", "event"), [corrects]),
        things=old(
            "resource",
            each("resources", "thing"),
            each("labels", "resource"),
            [f"mould:{k}" for k in each("moulds", "mould")],
            [f"instrument:{k}" for k in each("instruments", "instrument")],
            [f"{r['kind']}:{r['key']}" for r in rows.get("things", [])],
        ),
        serials=tuple(sorted({str(x) for x in each("serials", "text") + each("serial_stands", "text")})),
        new=new,
    )


# Every lookup of one event in one statement. Arrays of uuids and texts in; one JSON document out.
LOAD = """
WITH un AS (SELECT id, uid, EXISTS (SELECT FROM edge WHERE parent = unit.id) AS gone
              FROM unit WHERE uid = ANY (%(units)s::uuid[])),
     ca AS (SELECT id, uid FROM carrier WHERE uid = ANY (%(carriers)s::uuid[])),
     ev AS (SELECT id, uid FROM event WHERE uid = ANY (%(events)s::uuid[])),
     re AS (SELECT id, kind || ':' || key AS name FROM resource
             WHERE (kind, key) IN (SELECT split_part(t, ':', 1), substr(t, strpos(t, ':') + 1)
                                     FROM unnest(%(things)s::text[]) AS t))
SELECT json_build_object(
  'event_id', nextval(pg_get_serial_sequence('event', 'id')),
  'unit', (SELECT json_agg(json_build_array(uid, id, gone)) FROM un),
  'carrier', (SELECT json_agg(json_build_array(uid, id)) FROM ca),
  'cycle', (SELECT json_agg(json_build_array(uid, id)) FROM cycle WHERE uid = ANY (%(cycles)s::uuid[])),
  'hold', (SELECT json_agg(json_build_array(uid, id)) FROM hold WHERE uid = ANY (%(holds)s::uuid[])),
  'event', (SELECT json_agg(json_build_array(uid, id)) FROM ev),
  'resource', (SELECT json_agg(json_build_array(name, id)) FROM re),
  'edges', (SELECT json_agg(json_build_array(v.uid, v.n, e.id, e.child, e.parent, e.amount, e.role, e.aside))
              FROM unnest(%(void_events)s::uuid[], %(void_ns)s::int[]) AS v(uid, n)
              JOIN ev ON ev.uid = v.uid JOIN edge e ON e.event = ev.id AND e.n = v.n),
  'fresh', json_build_object(
     'unit', (SELECT json_agg(nextval(pg_get_serial_sequence('unit', 'id'))) FROM generate_series(1, %(n_unit)s::int)),
     'carrier', (SELECT json_agg(nextval(pg_get_serial_sequence('carrier', 'id')))
                   FROM generate_series(1, %(n_carrier)s::int)),
     'cycle', (SELECT json_agg(nextval(pg_get_serial_sequence('cycle', 'id')))
                 FROM generate_series(1, %(n_cycle)s::int)),
     'hold', (SELECT json_agg(nextval(pg_get_serial_sequence('hold', 'id'))) FROM generate_series(1, %(n_hold)s::int)),
     'resource', (SELECT json_agg(nextval(pg_get_serial_sequence('resource', 'id')))
                    FROM generate_series(1, %(n_resource)s::int)),
     'edge', (SELECT json_agg(nextval(pg_get_serial_sequence('edge', 'id'))) FROM generate_series(1, %(n_edge)s::int))),
  'unit_state', (SELECT json_agg(s) FROM unit_state s WHERE s.unit IN
     (SELECT id FROM un UNION SELECT e.parent FROM unnest(%(void_events)s::uuid[], %(void_ns)s::int[]) AS v(uid, n)
        JOIN ev ON ev.uid = v.uid JOIN edge e ON e.event = ev.id AND e.n = v.n)),
  'unit_hold', (SELECT json_agg(s) FROM unit_hold s WHERE s.unit IN
     (SELECT id FROM un UNION SELECT unnest(ARRAY[e.parent, e.child])
        FROM unnest(%(void_events)s::uuid[], %(void_ns)s::int[]) AS v(uid, n)
        JOIN ev ON ev.uid = v.uid JOIN edge e ON e.event = ev.id AND e.n = v.n)),
  'place_now', (SELECT json_agg(s) FROM place_now s WHERE s.unit IN (SELECT id FROM un)),
  'carrier_state', (SELECT json_agg(s) FROM carrier_state s WHERE s.carrier IN (SELECT id FROM ca)),
  'carrier_log', (SELECT json_agg(s) FROM carrier_log s WHERE s.carrier IN (SELECT id FROM ca)
     AND (s.until IS NULL OR s.until >= %(log_from)s::timestamptz)),
  'mould_state', (SELECT json_agg(s) FROM mould_state s WHERE s.mould IN (SELECT id FROM re)),
  'instrument_state', (SELECT json_agg(s) FROM instrument_state s WHERE s.instrument IN (SELECT id FROM re)),
  'serial_state', (SELECT json_agg(s) FROM serial_state s WHERE s.text = ANY (%(serials)s::text[])),
  'discrepancy', (SELECT json_agg(s) FROM discrepancy s WHERE s.event IN (SELECT id FROM ev)))::text
"""


def load(rows: dict[str, list[Row]], corrects: str | None, log_from: str) -> tuple[Ids, Store, int]:
    """The ids and read-model rows that `rows` name, new ids for what they add, and the new event's id."""
    want = named(rows, corrects)
    voids = rows.get("voids", [])
    parameters: dict[str, Any] = {
        "units": list(want.units),
        "carriers": list(want.carriers),
        "cycles": list(want.cycles),
        "holds": list(want.holds),
        "events": list(want.events),
        "things": list(want.things),
        "serials": list(want.serials),
        "void_events": [v["event"] for v in voids],
        "void_ns": [v["n"] for v in voids],
        "log_from": log_from,
        **{f"n_{table}": len(uids) for table, uids in want.new.items()},
    }
    found = fetch_json(LOAD, parameters)
    ids = Ids()
    for table in ("unit", "carrier", "cycle", "hold", "event", "resource"):
        known: dict[str, int] = getattr(ids, table)
        known.update({row[0]: row[1] for row in found[table] or []})
        known.update(zip(want.new.get(table, []), found["fresh"].get(table) or [], strict=True))
    for uid, n, id_, child, parent, amount, role, aside in found["edges"] or []:
        ids.edge[(uid, n)] = {
            "id": id_, "child": child, "parent": parent, "amount": amount, "role": role, "aside": aside,
        }  # fmt: skip
    ids.new_edges = found["fresh"]["edge"] or []
    ids.parents = {row[1] for row in found["unit"] or [] if row[2]}
    store = Store()
    for table in (
        "unit_state", "unit_hold", "place_now", "carrier_state", "carrier_log", "mould_state", "instrument_state",
        "serial_state", "discrepancy",
    ):  # fmt: skip
        for row in found[table] or []:
            store.know(table, row)
    return ids, store, found["event_id"]
