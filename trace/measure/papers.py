"""Times the writing of a paper with a long list as each form, and the memory of a process that does nothing else: of
rows made as they are asked for, and of a scope of a plant of many years with its hulls gathered from its records.
"""

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

from trace.exports.asked import Asked, Reader
from trace.exports.forms import EPCIS, FORMS
from trace.exports.kinds.scope import scope_paper
from trace.exports.paper import Column, Paper, Row, Table
from trace.exports.pdf.sheet import Stamp
from trace.genealogy.answer import what_was_known
from trace.genealogy.prepared import fetch_rows
from trace.measure.children import point_children_here, set_up
from trace.measure.scope import on_a_plant, peak_mb

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
    parser.add_argument("--hulls", type=int, default=0, help="gather a scope in a plant of so many hulls")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--question", default="person=P-01", help="the scope that is gathered")
    parser.add_argument("--forms", nargs="*", default=["json", "pdf"], help="the forms that it is written as")
    parser.add_argument("--keep", default="", help="keep the plant under this name, or measure on the one kept so")


def run(options: Mapping[str, Any]) -> Iterator[str]:
    """A line a form: seconds, MB of the whole process, MB of the file. Each is written by a process of its own."""
    if options["hulls"]:
        yield from on_a_plant(options["hulls"], dict(options), lambda hulls: _of_records(hulls, options))
        return
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


def _of_records(hulls: int, options: Mapping[str, Any]) -> Iterator[str]:
    point_children_here()
    for name in options["forms"]:
        with multiprocessing.get_context("spawn").Pool(1, initializer=set_up) as pool:
            seconds, more, size, rows = pool.apply(_gathered, (name, options["question"]))
        met = "met" if more <= TARGET_MB else "NOT met"
        yield (
            f"{name}: {options['question']}, {rows} of {hulls} hulls gathered from records and written in"
            f" {seconds:.1f} s, {more} MB above idle, a file of {size / 1e6:.1f} MB;"
            f" target {TARGET_MB} MB above idle: {met}"
        )


def _gathered(name: str, question: str) -> tuple[float, int, int, int]:
    """Seconds, MB above a process that has only opened its session, bytes, and rows of the list on paper."""
    fetch_rows("SELECT 1", {})
    idle, began = peak_mb(), time.perf_counter()
    form = next(form for form in FORMS if form.name == name)
    known, _size = what_was_known(None)
    paper = scope_paper(Asked({"q": question.replace(" ", "\n")}, known, Reader(consignees=True, words=True)))
    with TemporaryDirectory() as folder:
        path = Path(folder) / "paper"
        with path.open("wb") as file:
            form.write(paper, Stamp(datetime(2026, 12, 3, tzinfo=UTC), "Nobody", "0" * 64), file, _nothing)
        size = path.stat().st_size
    rows = next(len(table.rows) for table in paper.tables() if table.name == "hulls")
    return time.perf_counter() - began, peak_mb() - idle, size, rows
