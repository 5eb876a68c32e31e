"""Half a plate among 100,000 hulls is found in well under the time a person notices."""

import time

from django.db import connection

from tests.databases import Database
from trace.pages.finding import Wanted
from trace.pages.search import search_page
from trace.readmodels import plantdata
from trace.recording.commands import By
from trace.recording.record import record
from trace.recording.setup import Define

MANY = 100_000
BUDGET_S = 0.150  # what a person does not notice; measured 0.01 to 0.02 s, 0.07 s for "GHM", 0.2 s without a plate

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
 u AS (INSERT INTO unit_state (unit, status, overdrawn, rank) SELECT id, 'released', false, 0 FROM h)
INSERT INTO place_now (unit, place, since, event) SELECT h.id, 'R4-2', now(), e.id FROM h, e
"""


def test_half_a_plate_among_a_hundred_thousand(fresh_database: Database) -> None:
    plantdata.forget()
    record(Define(kind="product", key="T430", body={"name": "Tamsin 430"}), By(person="P-09"))
    with connection.cursor() as cursor:
        cursor.execute(HULLS, {"many": MANY})
        cursor.execute("ANALYZE serial; ANALYZE serial_state; ANALYZE unit; ANALYZE unit_state; ANALYZE place_now")
    asked = (
        Wanted(part="4417"), Wanted(part="04?17"), Wanted(part="GHM"), Wanted(part="999999X"),
        Wanted(model="T430", colour="lime"), Wanted(place="R4-2", status="released"),
    )  # fmt: skip
    for wanted in asked:
        times: list[float] = []
        for _ in range(5):
            began = time.perf_counter()
            page = search_page(wanted)
            times.append(time.perf_counter() - began)
        assert len(page.found) == 50 or wanted.part, wanted
        # The best of five: other tests share the machine.
        assert min(times) < BUDGET_S * (3 if wanted.besides or wanted.part == "GHM" else 1), (wanted, times)
