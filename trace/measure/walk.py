"""Times the walk back from a hull and forward from a container, with the check for withdrawn edges in it."""

import gc
import math
import random
from argparse import ArgumentParser
from collections.abc import Iterator, Sequence
from time import perf_counter
from typing import Any

from trace.genealogy.walk import REGRIND, Direction, reach, walk
from trace.measure.plant import Plant
from trace.measure.records import KINDS, load
from trace.measure.scratch import open_for_load, scratch_database

HELP = "walks over the genealogy: p50 and p99 at two sizes of plant"
TARGET_MS = 20.0
Timings = dict[str, tuple[list[float], list[int]]]


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--hulls", type=int, default=100_000, help="the larger plant (default 100000)")
    parser.add_argument("--small", type=int, default=10_000, help="the smaller one, for the exponent")
    parser.add_argument("--walks", type=int, default=300, help="walks of each sort (default 300)")
    parser.add_argument("--seed", type=int, default=1)


def run(options: dict[str, Any]) -> Iterator[str]:
    """Lines of a table: one row a sort of walk and size, the growth exponent between sizes, the target."""
    found: dict[int, Timings] = {}
    sizes = sorted({options["small"], options["hulls"]})
    yield f"{'hulls':>8} {'walk':<34} {'units p50':>9} {'p99':>7} {'p50 ms':>8} {'p99 ms':>8} {'us a unit':>9}"
    for hulls in sizes:
        began = perf_counter()
        plant = Plant(options["seed"])
        plant.make(hulls)
        records = plant.records
        with scratch_database() as superuser:
            with open_for_load(superuser) as session:
                load(session, records)
            yield (
                f"{hulls:>8} {len(records.kind)} units, {len(records.child)} edges"
                f" ({len(records.child) / hulls:.1f} a hull), {len(records.void)} withdrawn;"
                f" made and loaded in {perf_counter() - began:.0f} s"
            )
            # The made-up plant is no part of a server's memory: the collector need not look at it.
            gc.freeze()
            found[hulls] = _timings(plant, options["walks"], options["seed"])
        for name, (times, units) in found[hulls].items():
            p50, p99 = quantile(times, 0.5), quantile(times, 0.99)
            a_unit = sum(times) / max(1, sum(units)) * 1e3
            reached = f"{quantile(units, 0.5):>9.0f} {quantile(units, 0.99):>7.0f}"
            yield f"{hulls:>8} {name:<34} {reached} {p50:>8.2f} {p99:>8.2f} {a_unit:>9.1f}"
    if len(sizes) == 2:
        small, large = sizes
        for name in found[large]:
            ratio = quantile(found[large][name][0], 0.5) / quantile(found[small][name][0], 0.5)
            yield f"{name}: p50 grows with exponent {math.log(ratio) / math.log(large / small):.2f}"
    for name in (*ORDINARY, IDS_ALONE):
        p99 = quantile(found[sizes[-1]][name][0], 0.99)
        yield f"{name}: p99 is {p99 / TARGET_MS:.2f} of the target of {TARGET_MS:.0f} ms"


ORDINARY = ("back, not through regrind", "forward, not through regrind")
# What a hold waits for; the others bring edges, units, labels, serials and times as well.
IDS_ALONE = "forward, ids alone as a hold does"


def _timings(plant: Plant, walks: int, seed: int) -> Timings:
    """Milliseconds and units reached of each walk, warm: the same walks were made once before."""
    rng = random.Random(seed)  # noqa: S311 - the same walks again for the same seed
    records = plant.records
    containers = [
        n for n, (kind, amount) in enumerate(zip(records.kind, records.amount, strict=True), 1)
        if KINDS[kind] == "content" and amount in CONTAINERS
    ]  # fmt: skip
    hulls = [rng.choice(plant.hulls) for _ in range(walks)]
    boxes = [rng.choice(containers) for _ in range(walks)]
    few = max(3, walks // 30)
    return {
        ORDINARY[0]: _each(hulls, "back", ordinary=True),
        ORDINARY[1]: _each(boxes, "forward", ordinary=True),
        IDS_ALONE: _each(boxes, "forward", ordinary=True, ids_alone=True),
        "back, through regrind": _each(hulls[:few], "back", ordinary=False),
        "forward, through regrind": _each(boxes[:few], "forward", ordinary=False),
    }


# A box of inserts, a roll, a kit box, an octabin, a bag of pigment.
CONTAINERS = {500, 200, 50, 600_000_000, 25_000_000}


def _each(
    roots: Sequence[int], direction: Direction, *, ordinary: bool, ids_alone: bool = False
) -> tuple[list[float], list[int]]:
    times, units = [], []
    stops = REGRIND if ordinary else frozenset()
    for warm in (True, False):
        for root in roots:
            began = perf_counter()
            found = (
                reach([root], direction, stop_roles=stops)
                if ids_alone
                else walk([root], direction, stop_roles=stops).nodes
            )
            if not warm:
                times.append((perf_counter() - began) * 1e3)
                units.append(len(found))
    return times, units


def quantile(values: Sequence[float], share: float) -> float:
    """The smallest value that at least `share` of them do not exceed."""
    return sorted(values)[max(0, math.ceil(share * len(values)) - 1)]
