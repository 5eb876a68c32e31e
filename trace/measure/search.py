"""Times half-a-plate search among many hulls: what a person waits who has a photo of half a plate."""

import time
from argparse import ArgumentParser
from collections.abc import Iterator
from typing import Any

import psycopg

from trace.measure.scratch import scratch_database
from trace.pages.finding import Wanted
from trace.pages.search import search_page
from trace.readmodels import plantdata
from trace.recording.acts.setup import Define
from trace.recording.commands import By
from trace.recording.record import record

HELP = "half-a-plate search among 100,000 hulls"
TARGET_MS = 150

# One event stands for all of them: only what a search reads is filled.
HULLS = """
WITH e AS (SELECT max(id) AS id FROM event),
 p AS (INSERT INTO unit (uid, kind, lot_no, about, event)
   SELECT gen_random_uuid(), 'plate', 'GHM-T430-' || lpad(n::text, 6, '0'), '{"product": "T430"}', e.id
     FROM e, generate_series(1, %(many)s) n RETURNING id, lot_no),
 h AS (INSERT INTO unit (uid, kind, lot_no, about, event)
   SELECT gen_random_uuid(), 'hull', p.lot_no, jsonb_build_object('product', 'T430', 'colour',
       (ARRAY['red', 'lime', 'teal'])[1 + p.id %% 3]), e.id FROM p, e RETURNING id, lot_no),
 s AS (INSERT INTO serial (text, plate, format, product, event)
   SELECT p.lot_no, p.id, 'plant', 'T430', e.id FROM p, e),
 t AS (INSERT INTO serial_state (text, hull, standing) SELECT lot_no, id, 'bound' FROM h),
 u AS (INSERT INTO unit_state (unit, status, overdrawn) SELECT id, 'released', false FROM h)
INSERT INTO place_now (unit, place, since, event) SELECT h.id, 'R4-2', now(), e.id FROM h, e
"""
ASKED = (
    ("4417", Wanted(part="4417")),
    ("04?17", Wanted(part="04?17")),
    ("GHM (nearly all)", Wanted(part="GHM")),
    ("no such plate", Wanted(part="999999X")),
    ("model and colour", Wanted(model="T430", colour="lime")),
    ("place and state", Wanted(place="R4-2", status="released")),
)


KAYAK = {
    "name": "Tamsin 430", "area_m2": "5.2", "layers": [], "hull_number": {"format": "plant", "prefix": "GHM-T430-"},
}  # fmt: skip


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--hulls", type=int, default=100_000)
    parser.add_argument("--times", type=int, default=20, help="searches of each sort (default 20)")


def run(options: dict[str, Any]) -> Iterator[str]:
    """Lines of a table: one row a search with its median and longest answer."""
    with scratch_database() as superuser:
        plantdata.forget()
        record(Define(kind="product", key="T430", body=KAYAK), By(person="P-09"))
        with psycopg.connect(superuser, autocommit=True) as session:
            session.execute(HULLS, {"many": options["hulls"]})
            session.execute("ANALYZE serial; ANALYZE serial_state; ANALYZE unit; ANALYZE unit_state; ANALYZE place_now")
        yield f"{'search':<20} {'found':>6} {'p50 ms':>8} {'max ms':>8}   target {TARGET_MS} ms"
        for name, wanted in ASKED:
            times = []
            for _ in range(options["times"]):
                began = time.perf_counter()
                page = search_page(wanted)
                times.append((time.perf_counter() - began) * 1e3)
            times.sort()
            p50 = times[len(times) // 2]
            met = "no budget" if not wanted.part else "met" if p50 <= TARGET_MS else "NOT met"
            yield f"{name:<20} {len(page.found):>6} {p50:>8.1f} {times[-1]:>8.1f}   {met}"
