"""Times what a thousand holds on scopes cost a scan at packing: what is behind a hull read once, each cause judged."""

from argparse import ArgumentParser
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import cycle, islice
from statistics import median
from time import perf_counter, process_time
from typing import Any

from trace.codes.plant_day import calendar_of
from trace.genealogy.causes import Cause, Holds, read_cause, simple_parts
from trace.genealogy.find import find_unit
from trace.genealogy.prepared import fetch_rows
from trace.measure.cpu import server_cpu
from trace.measure.scope import REACHED, on_a_plant
from trace.recording.floor.behind_hull import Behind, Judge, read_behind

HELP = "a scan's look at many holds on scopes: milliseconds for one hull at packing"
TARGET_MS = 5.0
MANY_LOTS = 400
HULLS = "SELECT id FROM unit WHERE kind = 'hull' ORDER BY id DESC LIMIT 50"


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--hulls", type=int, default=100_000, help="hulls in the plant (default 100000)")
    parser.add_argument("--holds", type=int, default=1_000, help="holds on scopes in force (default 1000)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", default="", help="keep the plant under this name, or measure on the one kept so")


def run(options: dict[str, Any]) -> Iterator[str]:
    """Lines: for a hull at packing the milliseconds of reading what is behind it, and of judging all holds."""
    return on_a_plant(options["hulls"], options, lambda hulls: timed(hulls, mixed(options["holds"])))


def mixed(holds: int) -> list[Cause]:
    """So many causes of every sort that is read for a hull: lots, things, days, figures, and several joined."""
    lots = [lot for (lot,) in fetch_rows(REACHED, {})]
    named = cycle(lots[:: max(1, len(lots) // MANY_LOTS)])
    asked = (
        "holds={lot}", "arm=S2", "holds={lot} and not arm=S1", "scale=W-1 and made=2020-02-01..2020-03-01",
        "supplier=VERRIN", "person=P-01 or person=P-02", "mould=T430-01 and peak=215..", "made=2020-03-02..2020-03-06",
        "certificate:mfi=3.4..3.6", "thickness=..4.1 or cook-time=40..", "model=T430 and not holds={lot}",
    )  # fmt: skip
    return [read_cause(words.format(lot=next(named)).split()) for words in islice(cycle(asked), holds)]


def timed(hulls: int, causes: list[Cause]) -> Iterator[str]:
    """Each hull as a scan meets it: its holds were parsed and their codes looked up when they were laid."""
    codes = {part.code for cause in causes for part in simple_parts(cause) if isinstance(part, Holds)}
    judge = Judge({code: find_unit(code) for code in codes}, calendar_of(_unset, UTC), _any_value)
    ids = [hull for (hull,) in fetch_rows(HULLS, {})]
    took, cpu, shared = [], [], 0
    began = perf_counter()
    read_behind({hull: (_hull(), [hull]) for hull in ids})
    yield f"what lies behind the ground powder in {len(ids)} hulls: {perf_counter() - began:.1f} s, once for a process"
    for hull in ids:
        behind = _hull()
        began, own, served = perf_counter(), process_time(), server_cpu()
        read_behind({hull: (behind, [hull])})
        read = perf_counter()
        shared += sum(judge.verdict(cause, behind) != "cannot" for cause in causes)
        cpu.append(1000 * (process_time() - own + server_cpu() - served))
        took.append((1000 * (read - began), 1000 * (perf_counter() - read)))
    reading, judging = median(read for read, _ in took), median(judged for _, judged in took)
    spent = sum(cpu) / len(cpu)
    met = "met" if spent <= TARGET_MS else "NOT met"
    yield (
        f"{hulls} hulls, {len(causes)} holds on scopes: {reading:.1f} ms to read, {judging:.1f} ms to judge,"
        f" {spent:.1f} ms of CPU a hull; {shared / len(ids):.0f} shared or may be; target {TARGET_MS:.0f} ms: {met}"
    )


def _hull() -> Behind:
    return Behind({"product": "T430"}, datetime.now(UTC), datetime.now(UTC))


def _unset(_key: str, otherwise: Any) -> Any:
    return otherwise


def _any_value(_material: str, _name: str) -> bool:
    return False
