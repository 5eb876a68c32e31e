"""Times which hulls share a cause, at a plant of a few hundred hulls and at one of many years, with the page of it."""

import gc
import time
from argparse import ArgumentParser
from collections.abc import Callable, Iterable, Iterator
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import psycopg
from django.db import connection

from trace.genealogy.causes import read_cause
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.sharing import shared_by
from trace.measure.children import point_children_here, set_up
from trace.measure.cpu import server_cpu
from trace.measure.scratch import is_kept, scratch_database
from trace.measure.whole import fill

HELP = "which hulls share a cause: seconds and MB, at two sizes of plant"
# Hulls up to which a plant is young, and the seconds that its answers and those of an old one may take.
YOUNG, YOUNG_SECONDS, SECONDS = 1_000, 1.0, 5.0
EACH = 50

# Who made what with which things: every load has an arm, a mould and a person, every charge a scale and a person.
ACTS = """
INSERT INTO resource (uid, kind, key, event) SELECT gen_random_uuid(), x.kind, x.key, 1 FROM (VALUES
  ('machine', 'S1'), ('machine', 'S2'), ('machine', 'S3'), ('instrument', 'W-1'), ('instrument', 'W-2'),
  ('person', 'P-01'), ('person', 'P-02'), ('mould', 'T430-01'), ('mould', 'T430-02'), ('supplier', 'VERRIN'))
  AS x(kind, key);
INSERT INTO event_resource (event, resource, role)
  SELECT u.event, r.id, x.role FROM unit u
    JOIN (VALUES ('load', 'arm', 'machine', 3), ('load', 'mould', 'mould', 2), ('charge', 'scale', 'instrument', 2),
                 ('load', 'person', 'person', 2), ('charge', 'person', 'person', 2)) AS x(unit, role, kind, n)
      ON x.unit = u.kind
    JOIN LATERAL (SELECT id FROM resource WHERE kind = x.kind ORDER BY key OFFSET u.id % x.n LIMIT 1) r ON true;
INSERT INTO event_unit (event, unit, role) SELECT event, id, 'cooked' FROM unit WHERE kind = 'load';
"""
REACHED = """
SELECT u.lot_no FROM unit u WHERE u.kind = 'lot' AND u.lot_no LIKE 'L-%%' ORDER BY u.id
"""


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--hulls", type=int, default=100_000, help="the larger plant (default 100000)")
    parser.add_argument("--small", type=int, default=600, help="the smaller one (default 600)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", default="", help="keep the plants under this name, or measure on those kept so")


def run(options: dict[str, Any]) -> Iterator[str]:
    """Lines: for each plant and question the seconds, the CPU, the MB above idle, and how many hulls share it."""
    for hulls in sorted({options["small"], options["hulls"]}):
        yield from on_a_plant(hulls, options, questions)


def on_a_plant(hulls: int, options: dict[str, Any], measured: Callable[[int], Iterable[str]]) -> Iterator[str]:
    """The lines of `measured`, on a plant of so many hulls: made for it, or kept from before."""
    keep = f"{options['keep']}_{hulls}" if options["keep"] else ""
    if keep and not is_kept(keep):
        with scratch_database(keep_as=keep) as superuser:
            yield from made_plant(superuser, hulls, options["seed"])
    with scratch_database(copy_of=keep) as superuser:
        if not keep:
            yield from made_plant(superuser, hulls, options["seed"])
        yield from measured(hulls)


def made_plant(superuser: str, hulls: int, seed: int) -> Iterator[str]:
    yield "; ".join(fill(superuser, hulls, seed))
    with psycopg.connect(superuser, autocommit=True) as session:
        session.execute("SET session_replication_role = replica")
        for table in ("resource", "event_resource", "event_unit"):
            session.execute(f"ALTER TABLE {table} DISABLE TRIGGER ALL")
        session.execute(ACTS)
        for table in ("resource", "event_resource", "event_unit"):
            session.execute(f"ALTER TABLE {table} ENABLE TRIGGER ALL")
        session.execute("VACUUM ANALYZE resource, event_resource, event_unit")


def questions(hulls: int) -> Iterator[str]:
    """Each asked in a process of its own, so that its memory is its own."""
    lots = [lot for (lot,) in fetch_rows(REACHED, {})]
    first, middle, late = lots[0], lots[len(lots) // 2], lots[len(lots) * 19 // 20]
    asked = [
        f"holds={late}", f"holds={middle}", f"holds={first}", "arm=S2", "scale=W-1", "person=P-01", "mould=T430-01",
        "supplier=VERRIN", "made=2020-03-02..2020-03-06", f"holds={middle} and made=2020-02-01.. and not arm=S2",
    ]  # fmt: skip
    point_children_here()
    for words in asked:
        gc.collect()
        with get_context("spawn").Pool(1, initializer=set_up) as pool:
            took, cpu, more, certain, may = pool.apply(timed, (words,))
        most = YOUNG_SECONDS if hulls <= YOUNG else SECONDS
        met = "met" if took <= most else "NOT met"
        yield (
            f"{hulls:>8} hulls  {took:>6.2f} s ({cpu:>5.2f} s of CPU) {more:>5} MB  {certain:>6} certain {may:>6} may"
            f"  {words}; target {most:.0f} s: {met}"
        )


def timed(words: str) -> tuple[float, float, int, int, int]:
    """Seconds, seconds of CPU here and on the server, MB above idle, and how many are certain and may, of one question
    with all that its page shows: where those are that share it, and a page of lines."""
    server_cpu()  # opens the session
    with connection.cursor() as cursor:
        cursor.execute("SET max_parallel_workers_per_gather = 0")  # what helpers use, nobody counts
    idle = peak_mb()
    began, own, served = time.perf_counter(), time.process_time(), server_cpu()
    answer = shared_by(read_cause(words.split()))
    sharing = [line for line in answer.lines if line.verdict != "cannot"]
    answer.look_up_places(sharing)
    answer.look_up(sharing[:EACH])
    took, cpu = time.perf_counter() - began, time.process_time() - own + server_cpu() - served
    more = peak_mb() - idle
    return took, cpu, more, answer.count("certain"), answer.count("may")


def peak_mb() -> int:
    """MB that this process had in memory at most; 0 where the system does not tell."""
    try:
        lines = Path("/proc/self/status").read_text().splitlines()
    except OSError:
        return 0
    return next((int(line.split()[1]) // 1024 for line in lines if line.startswith("VmHWM")), 0)
