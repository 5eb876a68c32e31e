"""Times the writing of a paper with a long list as each form, and the memory of a process that does nothing else."""

import multiprocessing
import resource
import time
from argparse import ArgumentParser
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from trace.exports.forms import EPCIS, FORMS
from trace.exports.paper import Column, Paper, Row, Table
from trace.exports.pdf.sheet import Stamp
from trace.measure.children import set_up

HELP = "how long a paper of 100,000 rows takes as each form, and its memory"
TARGET_MB = 200


class Hulls:
    """Rows made as they are asked for, so that the memory measured is that of the writing alone."""

    def __init__(self, count: int) -> None:
        self.count = count

    def __len__(self) -> int:
        return self.count

    def __iter__(self) -> Iterator[Row]:
        made = datetime(2026, 4, 1, 6, 0, tzinfo=UTC)
        for n in range(self.count):
            verdict = "may" if n % 9 == 0 else "certain"
            place = f"Rack R{n % 40}, level {n % 4}"
            yield f"GHM-T430-{n:06d}", verdict, place, f"{n % 12} kg of V-2291 in its skin", Decimal("12.240"), made


def a_paper(count: int) -> Paper:
    columns = (
        Column("hull", "Hull", "The number on its plate.", wide=1.7),
        Column("verdict", "Shares it", "Certain or may.", "verdict", wide=0.9),
        Column("place", "Place", "Where it was.", wide=1.8),
        Column("why", "Because", "What it rests on.", wide=4),
        Column("most", "Most", "Most of the lot in it.", "number", "kg", wide=0.8),
        Column("made", "Made", "When.", "time", wide=1.2),
    )
    table = Table("hulls", "The hulls that share it, whole", "One hull.", columns, Hulls(count))
    known = datetime(2026, 12, 3, tzinfo=UTC)
    return Paper("scope", "Scope report", "A long list", (("q", "holds=V-2291"),), known, 1, (), (table,), "A record.")


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--rows", type=int, default=100_000)


def run(options: Mapping[str, Any]) -> Iterator[str]:
    """A line a form: seconds, MB of the whole process, MB of the file. Each is written by a process of its own."""
    start = multiprocessing.get_context("spawn")
    for form in FORMS:
        if form.name == EPCIS:
            continue
        with start.Pool(1, initializer=set_up) as pool:
            seconds, memory, size = pool.apply(_written, (form.name, options["rows"]))
        met = "met" if memory <= TARGET_MB else "NOT met"
        yield (
            f"{form.name}: {options['rows']} rows in {seconds:.1f} s, {memory:.0f} MB of memory in all, a file of "
            f"{size / 1e6:.1f} MB; target {TARGET_MB} MB of memory: {met}"
        )


def _written(name: str, count: int) -> tuple[float, float, int]:
    form = next(form for form in FORMS if form.name == name)
    began = time.perf_counter()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "paper"
        with path.open("wb") as file:
            form.write(a_paper(count), Stamp(datetime(2026, 12, 3, tzinfo=UTC), "Nobody", "0" * 64), file, _nothing)
        size = path.stat().st_size
    return time.perf_counter() - began, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, size


def _nothing() -> None:
    """Nobody is told how far it is."""
