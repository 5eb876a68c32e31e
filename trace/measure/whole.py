"""Fills the whole set of tables with a made-up plant of any size: blocks one after the other, each made of the last.

The first block is made hull by hull (plant.py) and copied in. A further block is the same again with later ids and
times, written by the server itself, and its first blends take regrind of the block before: what an early lot came
into goes on through all of them. Read models are filled as scans would leave them.
"""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import psycopg

from trace.codes import issue_label_code
from trace.measure.plant import BLEND, MINUTES_A_HULL, Plant
from trace.measure.records import load
from trace.measure.scratch import guard_again, open_for_load, without_indexes

BLOCK = 100_000
# The first block again, as block number n; edges are most of it, so they go beside the rest.
NEXT = """
INSERT INTO event (id, uid, body, leaf, kind, ver, happened, offset_min, unsure_ms, recorded)
  SELECT id + %(units)s, {uid}, body, leaf, kind, ver, happened + %(time)s, offset_min, unsure_ms, recorded + %(time)s
    FROM event WHERE id > %(units_from)s AND id <= %(units_to)s ORDER BY id;
INSERT INTO carrier (id, uid, kind, event) SELECT id + %(units)s, {uid}, kind, event + %(units)s
    FROM carrier WHERE id > %(units_from)s AND id <= %(units_to)s ORDER BY id;
INSERT INTO unit (id, uid, kind, lot_no, amount, uom, about, carrier, event)
  SELECT id + %(units)s, {uid}, kind, 'L-' || (substr(lot_no, 3)::bigint + %(units)s), amount, uom, about,
         carrier + %(units)s, event + %(units)s
    FROM unit WHERE id > %(units_from)s AND id <= %(units_to)s ORDER BY id;
INSERT INTO serial (text, plate, format, product, event)
  SELECT 'T-' || lpad((plate + %(units)s)::text, 9, '0'), plate + %(units)s, format, product, event + %(units)s
    FROM serial WHERE plate > %(units_from)s AND plate <= %(units_to)s ORDER BY plate;
"""
NEXT_EDGES = """
INSERT INTO edge (id, child, parent, event, n, role, layer, position, amount, uom, aside, recorded)
  SELECT id + %(edges)s, child + %(units)s, parent + %(units)s, event + %(units)s, n, role, layer, position, amount,
         uom, aside, recorded + %(time)s
    FROM edge WHERE id > %(edges_from)s AND id <= %(edges_to)s ORDER BY id;
INSERT INTO edge_void (edge, event, recorded) SELECT edge + %(edges)s, event + %(units)s, recorded + %(time)s
    FROM edge_void WHERE edge > %(edges_from)s AND edge <= %(edges_to)s ORDER BY edge;
"""
UID = "('00000000-0000-7000-8000-' || lpad(to_hex(id + %(units)s), 12, '0'))::uuid"
# Regrind of the block before in the first blends of the next.
LINK = """
INSERT INTO edge (child, parent, event, n, role, amount, uom, aside, recorded)
  SELECT c.id, p.id, c.event, 1000000 + p.id, 'ingredient', 25000000, 'mg', FALSE, v.recorded
    FROM (SELECT id, event FROM unit WHERE id > %(next)s AND kind = 'content' AND amount = %(blend)s
           ORDER BY id LIMIT 24) c
    CROSS JOIN (SELECT id FROM unit WHERE id <= %(next)s AND kind = 'regrind' ORDER BY id DESC LIMIT 3) p
    JOIN event v ON v.id = c.event
"""
READ_MODELS = """
INSERT INTO unit_state (unit, status, status_at, balance, overdrawn)
  SELECT id, CASE kind WHEN 'hull' THEN 'released' WHEN 'content' THEN 'released' WHEN 'pack' THEN 'packed' END,
         now(), amount, FALSE FROM unit ORDER BY id;
INSERT INTO carrier_state (carrier, content) SELECT carrier, id FROM unit WHERE carrier IS NOT NULL ORDER BY 1;
INSERT INTO carrier_log (content, carrier, since, event)
  SELECT u.id, u.carrier, v.happened, v.id FROM unit u JOIN event v ON v.id = u.event WHERE u.carrier IS NOT NULL;
INSERT INTO serial_state (text, hull, standing)
  SELECT s.text, (SELECT e.child FROM edge e WHERE e.parent = s.plate AND e.role = 'plate' LIMIT 1), 'bound'
    FROM serial s;
INSERT INTO place_now (unit, place, since, event)
  SELECT u.id, 'R-' || u.id %% 40, now(), u.event FROM unit u WHERE u.kind IN ('hull', 'pack') ORDER BY u.id;
INSERT INTO event_unit (event, unit, role)
  SELECT u.event, u.id, 'placed' FROM unit u WHERE u.kind = 'hull' ORDER BY u.id;
"""
FIRST = ("event", "unit", "edge", "edge_void", "carrier", "serial")
THEN = ("label", "event_unit", "unit_state", "carrier_state", "carrier_log", "serial_state", "place_now")
LABELLED = 50_000  # contents and packs, the newest, that have a label which can be scanned


def fill(superuser: str, hulls: int, seed: int) -> Iterator[str]:
    """Fill empty tables with a plant of so many hulls, as a superuser at that address; a line for each step."""
    with open_for_load(superuser) as session, open_for_load(superuser) as beside:
        block = min(hulls, BLOCK)
        blocks = -(-hulls // block)
        plant = Plant(seed)
        plant.make(block)
        records = plant.records
        with without_indexes(session, FIRST):
            load(session, records, whole=True)
            yield f"{block} hulls: {len(records.kind)} units, {len(records.child)} edges"
            units, edges = len(records.kind), len(records.child)
            del plant, records
            for n, of_edges in enumerate(_further(session, beside, range(1, blocks), units, edges, block), 2):
                yield f"{n * block} hulls: {n * units} units, {of_edges} edges"
        for n in range(1, blocks):
            _link(session, n * units)
        yield "indexes"
        with without_indexes(session, THEN):
            session.execute(READ_MODELS.replace("%%", "%"))
        _labels(session)
        for table in ("event", "unit", "edge", "carrier"):
            session.execute(f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), (SELECT max(id) FROM {table}))")
        session.execute("CHECKPOINT")
        session.execute(f"VACUUM ANALYZE {', '.join((*FIRST, *THEN))}")
        guard_again(session)
        yield "read models and statistics"


def _further(
    session: psycopg.Connection, beside: psycopg.Connection, blocks: range, units: int, edges: int, block: int
) -> Iterator[int]:
    """These blocks, out of the first one; after each the number of edges."""
    with ThreadPoolExecutor(1) as pool:
        for n in blocks:
            values = {
                "units": n * units, "edges": n * edges, "time": f"make_interval(mins => {n * block * MINUTES_A_HULL})",
                "units_from": 0, "units_to": units, "edges_from": 0, "edges_to": edges,
            }  # fmt: skip
            of_edges = pool.submit(beside.execute, NEXT_EDGES % values)
            session.execute(NEXT.format(uid=UID) % values)
            of_edges.result()
            yield (n + 1) * edges


def _link(session: psycopg.Connection, until: int) -> None:
    """Regrind of the block that ends with unit `until` in the first blends of the next."""
    session.execute(
        "SELECT setval(pg_get_serial_sequence('edge', 'id'), greatest(2000000000, (SELECT max(id) FROM edge)))"
    )
    session.execute(LINK % {"next": until, "blend": BLEND})


def _labels(session: psycopg.Connection) -> None:
    rows = session.execute(
        """SELECT id, carrier FROM (
             (SELECT id, carrier FROM unit WHERE kind = 'content' ORDER BY id DESC LIMIT %s) UNION ALL
             (SELECT id, carrier FROM unit WHERE kind = 'pack' ORDER BY id DESC LIMIT %s)) x ORDER BY id""",
        [LABELLED, LABELLED],
    ).fetchall()
    first = 1_000_000
    with session.cursor() as cursor, cursor.copy("COPY label (code, carrier, unit, event) FROM STDIN") as copy:
        for n, (unit, carrier) in enumerate(rows, first):
            copy.write_row((issue_label_code(n), carrier, None if carrier else unit, unit))
    session.execute("SELECT setval('label_number', %s)", [first + len(rows)])

