"""Times the telling of the invented plant's whole year (trace/demo/season): mouldings, scans, seconds."""

import time
from argparse import ArgumentParser
from collections.abc import Iterator
from typing import Any

import psycopg
from django.utils import timezone

from trace.demo.season.story import SEED, first_day, write
from trace.demo.season.tell import tell
from trace.measure.cpu import server_cpu
from trace.measure.scratch import scratch_database

HELP = "the invented year of the demo: mouldings, scans, seconds"
TARGET_SECONDS = 240


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--seed", type=int, default=SEED)


def run(options: dict[str, Any]) -> Iterator[str]:
    """Lines: what was written, and what telling it took."""
    began = time.perf_counter()
    season = write(options["seed"], first_day(timezone.localtime()), timezone.get_current_timezone())
    yield f"written in {time.perf_counter() - began:.1f} s"
    with scratch_database() as superuser:
        with psycopg.connect(superuser, autocommit=True) as session:
            session.execute('INSERT INTO installation ("only", demo) VALUES (TRUE, TRUE)')
        began, own, cpu = time.perf_counter(), time.process_time(), server_cpu()
        tell(season.steps, lambda *_: None)
        took, own, cpu = time.perf_counter() - began, time.process_time() - own, server_cpu() - cpu
    scans = len(season.steps)
    met = "met" if took <= TARGET_SECONDS else "NOT met"
    yield (
        f"{len(season.truth.mouldings)} mouldings, {scans} scans, {took:.0f} s: {took / scans * 1e3:.1f} ms a scan"
        f" ({own / scans * 1e3:.1f} ms of CPU here, {cpu / scans * 1e3:.1f} of the server's);"
        f" target {TARGET_SECONDS} s: {met}"
    )
