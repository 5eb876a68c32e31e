"""Times the comparison of every cause over a made-up plant, of as many pairs as the records of so many hulls give."""

from argparse import ArgumentParser
from collections.abc import Iterator
from time import perf_counter, process_time
from typing import Any

import numpy as np

from trace.quality.incidence import CERTAIN, MIXED, Flags, Incidence, incidence
from trace.quality.ranking import periods, ranked

HELP = "what the bad ones share: all causes over many hulls at once"
TARGET_S = 2.0
# Causes behind one hull: lots, containers, fillings, things, people, readings.
BEHIND = 72


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--hulls", type=int, default=100_000)
    parser.add_argument("--causes", type=int, default=24_000)
    parser.add_argument("--bad", type=int, default=60)
    parser.add_argument("--times", type=int, default=5, help="comparisons, of which the median counts (default 5)")
    parser.add_argument("--seed", type=int, default=1)


def run(options: dict[str, Any]) -> Iterator[str]:
    """The size, the seconds of one comparison with its exact tests and splits, and whether the target is met."""
    began = perf_counter()
    pairs, bad, planted = plant(options["hulls"], options["causes"], options["bad"], options["seed"])
    yield (
        f"{pairs.hulls} hulls, {pairs.causes} causes, {len(pairs.hull)} pairs ({len(pairs.hull) / pairs.hulls:.0f} a"
        f" hull), {int(bad.sum())} bad; made in {perf_counter() - began:.1f} s"
    )
    times, cpu = [], []
    for _ in range(options["times"]):
        began, used = perf_counter(), process_time()
        ranking = ranked(pairs, bad, periods(pairs.hulls))
        times.append(perf_counter() - began)
        cpu.append(process_time() - used)
    place = next((n for n, one in enumerate(ranking.nearest, 1) if planted in one.causes), 0)
    yield f"{ranking.sets} sets compared; the planted cause is number {place or 'none of the nearest'}"
    middle = sorted(times)[len(times) // 2]
    verdict = "met" if middle <= TARGET_S else "not met"
    yield f"one comparison {middle:.2f} s (CPU {sorted(cpu)[len(cpu) // 2]:.2f} s); target {TARGET_S} s {verdict}"


def plant(hulls: int, causes: int, count: int, seed: int) -> tuple[Incidence, Flags, int]:
    """Lots that follow each other in stocks of many sizes, and things that alternate; a tenth of all pairs by mixing.
    The bad ones have the planted cause, but for a tenth."""
    rng = np.random.default_rng(seed)
    each, made = [], 0
    for stock in range(BEHIND):
        left = max(2, (causes - made) // (BEHIND - stock))
        lot = (np.arange(hulls) + int(rng.integers(hulls))) * left // hulls % left
        each.append(made + (lot if stock % 4 else rng.integers(0, left, hulls)))
        made += left
    cause = np.concatenate(each)
    hull = np.tile(np.arange(hulls), BEHIND)
    grade = np.where(rng.random(len(cause)) < 0.9, CERTAIN, MIXED)
    order = np.lexsort((hull, cause))
    pairs = incidence(hulls, made, cause[order], hull[order], grade[order])
    sizes = np.diff(pairs.starts)
    planted = int(rng.choice(np.flatnonzero(sizes >= 2 * count)))
    bad = np.zeros(hulls, np.bool_)
    bad[rng.choice(pairs.of(planted), count - count // 10, replace=False)] = True
    bad[rng.choice(hulls, count // 10, replace=False)] = True
    return pairs, bad, planted
