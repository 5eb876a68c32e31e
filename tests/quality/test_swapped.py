"""The finder of exchanged plates, on bindings made up to scatter as a plant's do.

Scatter, all common practice and no source: charges anywhere within the tolerance of their scale's target (skin and
foam ± 0.10 kg, inner ± 0.08 kg); the finished hull weighed to 0.01 kg, with 12 g of scatter in flash and dust; 96 of
100 hulls weighed; colour noted at inspection of all but 2 in 100, wrongly of 1 in 500; graphics of half of them. Two
shuttle arms run works orders of different colours beside each other three times out of four. Nine of ten exchanges
are of plates bound one after the other, the rest one further on.

Over twelve seeds, each with 200 exchanges among 4,200 bindings and 4,000 bindings without any: where colour and mass
are known 95.2 % are found with 0.73 named for nothing in 1,000; by colours alone 70.1 % (where both are of one colour
it cannot) with 0.02; by masses alone 82.7 % with 0.27.
"""

import os
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from trace.quality.swapped import Binding, exchanged

LONG = bool(os.environ.get("LONG_TESTS"))
TARGETS = ((12.20, 0.10), (9.15, 0.10), (7.32, 0.08))
OFFSET, SCATTER = -0.07, 0.012
COLOURS = ("red", "teal", "lime")


def line(seed: int, count: int, swaps: int) -> tuple[list[Binding], set[frozenset[str]], set[frozenset[str]]]:
    """Bindings in order, the pairs that were exchanged, and those of them that nothing seen can tell."""
    rng = np.random.default_rng(seed)
    charged = sum(t + rng.uniform(-tol, tol, count) for t, tol in TARGETS)
    charged = np.round(charged, 2)
    colour = _colours(rng, count)
    graphic = np.where(rng.random(count) < 0.5, "C", "B")
    partner = np.arange(count)
    at = rng.choice(np.arange(2, count - 4, 20), swaps, replace=False)
    for n in at:
        other = n + (1 if rng.random() < 0.9 else 2)
        partner[n], partner[other] = other, n
    weighed = np.round(charged[partner] + OFFSET + rng.normal(0, SCATTER, count), 2)
    bindings = []
    for n in range(count):
        p = partner[n]
        seen = {}
        if rng.random() < 0.98:
            seen["colour"] = str(colour[p]) if rng.random() > 0.002 else str(rng.choice(COLOURS))
        if rng.random() < 0.5:
            seen["graphic"] = str(graphic[p])
        bindings.append(Binding(
            f"P{n}", "T430", float(charged[n]), float(weighed[n]) if rng.random() < 0.96 else None,
            {"colour": str(colour[n]), "graphic": str(graphic[n])}, seen,
        ))  # fmt: skip
    pairs = {frozenset((f"P{n}", f"P{partner[n]}")) for n in range(count) if partner[n] != n}
    alike = {
        frozenset((f"P{n}", f"P{partner[n]}")) for n in range(count)
        if partner[n] != n and colour[n] == colour[partner[n]] and graphic[n] == graphic[partner[n]]
        and abs(charged[n] - charged[partner[n]]) < 2.5 * SCATTER
    }  # fmt: skip
    return bindings, pairs, alike


def _colours(rng: np.random.Generator, count: int) -> list[str]:
    """Two arms by turns, each with the colour of its order; orders of 8 to 40."""
    found: list[str] = []
    while len(found) < count:
        left = str(rng.choice(COLOURS))
        others = [c for c in COLOURS if c != left]
        right = str(rng.choice(others)) if rng.random() < 0.75 else left
        found += [left, right] * int(rng.integers(8, 41))
    return found[:count]


def named(bindings: list[Binding]) -> set[frozenset[str]]:
    return {frozenset((pair.one, pair.other)) for pair in exchanged(bindings)}


def by_colour(bindings: list[Binding]) -> list[Binding]:
    """A plant that weighs no hull."""
    return [replace(one, weighed=None, seen=_colour_of(one)) for one in bindings]


def by_mass(bindings: list[Binding]) -> list[Binding]:
    """A plant that notes no colour."""
    return [replace(one, seen={}) for one in bindings]


def by_both(bindings: list[Binding]) -> list[Binding]:
    """What the product's inspections say: colour and mass, no graphic."""
    return [replace(one, seen=_colour_of(one)) for one in bindings]


def _colour_of(one: Binding) -> dict[str, str]:
    return {name: value for name, value in one.seen.items() if name == "colour"}


# Of 200 that were planted so many are found at least, in each plant.
PLANTS = ((by_both, 190), (by_colour, 134), (by_mass, 160))


@pytest.mark.parametrize(("known", "least"), PLANTS)
def test_planted_exchanges_are_found_and_hardly_any_other(
    known: Callable[[list[Binding]], list[Binding]], least: int
) -> None:
    seeds = range(3, 15 if LONG else 9)
    hit = wrong = count = 0
    for seed in seeds:
        bindings, pairs, _alike = line(seed, 4200, 200)
        found = named(known(bindings))
        assert len(pairs) == 200
        hit, wrong, count = hit + len(found & pairs), wrong + len(found - pairs), count + len(bindings)
    assert hit >= least * len(seeds), hit / len(seeds)
    assert wrong <= count / 1000, (wrong, count)


@pytest.mark.parametrize("known", [known for known, _least in PLANTS])
def test_where_nothing_was_exchanged_hardly_anything_is_named(
    known: Callable[[list[Binding]], list[Binding]]
) -> None:
    alarms = count = 0
    for seed in range(12 if LONG else 4):
        bindings, _pairs, _alike = line(100 + seed, 4000, 0)
        alarms, count = alarms + len(named(known(bindings))), count + len(bindings)
    assert alarms <= count / 1000, (alarms, count)


def test_of_what_is_missed_most_looks_alike_either_way() -> None:
    bindings, pairs, alike = line(3, 4200, 200)
    assert len(pairs - named(bindings) - alike) <= 6


def test_a_scale_that_was_off_accuses_nobody() -> None:
    """Every other skin was weighed on a scale that read 1.8 % low, for a day: their hulls are 0.22 kg heavier than
    their charges make them, and fit no neighbour."""
    bindings, _pairs, _alike = line(7, 1000, 0)
    off = [
        replace(one, weighed=one.weighed + 0.22) if one.weighed and 500 <= n < 540 and n % 2 else one
        for n, one in enumerate(bindings)
    ]
    assert len(named(by_mass(off))) <= 1


def test_a_plate_that_was_found_on_its_own_hull_is_not_named_again() -> None:
    two = [
        Binding("A", "T430", None, None, {"colour": "red"}, {"colour": "teal"}),
        Binding("B", "T430", None, None, {"colour": "teal"}, {"colour": "red"}),
    ]
    assert [(pair.one, pair.other) for pair in exchanged(two)] == [("A", "B")]
    assert exchanged(two, {"B"}) == []


def test_one_colour_and_charges_of_one_weight_look_alike() -> None:
    rows = [Binding(f"P{n}", "T430", 28.67, 28.6, {"colour": "red"}, {"colour": "red"}) for n in range(20)]
    assert exchanged(rows) == []


def test_nothing_is_weighed_or_seen_so_nothing_is_named() -> None:
    rows = [Binding(f"P{n}", "T430", None, None, {"colour": "red"}) for n in range(20)]
    assert exchanged(rows) == []
    assert exchanged([]) == []


def test_a_plate_of_another_model_cannot_be_the_other_one() -> None:
    two = [
        Binding("A", "T430", 28.67, None, {"colour": "red"}, {"colour": "teal"}),
        Binding("B", "T370", 24.10, None, {"colour": "teal"}, {"colour": "red"}),
    ]
    assert exchanged(two) == []
    same = [two[0], replace(two[1], model="T430")]
    assert [(pair.one, pair.other) for pair in exchanged(same)] == [("A", "B")]
