"""Bad against good: who counts as good, and what is counted of them, held against plain sets."""

from random import Random
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from trace.quality.common_cause import CommonCause
from trace.quality.factors import Factor
from trace.quality.incidence import CERTAIN, MIXED, OPEN, incidence
from trace.quality.ranking import periods, ranked
from trace.quality.side_by_side import DIFFERENCE, NOT, differing, good_ones, same_in_all

HULLS = 50


def answer(bad: set[int], sets: dict[int, dict[int, int]]) -> CommonCause:
    """As much of an answer as is looked at here."""
    rows = np.array([(cause, hull, grade) for cause, has in sets.items() for hull, grade in has.items()])
    pairs = incidence(HULLS, len(sets), *rows.T)
    flags = np.array([n in bad for n in range(HULLS)])
    given: dict[str, Any] = {
        "hulls": range(HULLS), "bad": tuple(sorted(bad)), "pairs": pairs,
        "ranking": ranked(pairs, flags, periods(HULLS)), "factors": [Factor(f"sort {n}", str(n)) for n in sets],
    }  # fmt: skip
    return cast("CommonCause", SimpleNamespace(**given))


def test_good_are_those_made_in_the_same_time_where_they_are_enough() -> None:
    sets = {0: {1: CERTAIN}}
    assert np.flatnonzero(good_ones(answer({10, 14, 20}, sets))).tolist() == [11, 12, 13, 15, 16, 17, 18, 19]
    # Between two that follow each other nobody was made.
    assert int(good_ones(answer({10, 11}, sets)).sum()) == HULLS - 2


@pytest.mark.parametrize("seed", range(8))
def test_what_differs_is_what_counting_hull_by_hull_gives(seed: int) -> None:
    rng = Random(seed)
    bad = set(rng.sample(range(HULLS), 6))
    sets = {
        n: {h: rng.choice((OPEN, MIXED, CERTAIN)) for h in rng.sample(range(HULLS), rng.randint(1, 40))}
        for n in range(12)
    }
    good = set(range(min(bad), max(bad))) - bad
    wanted = {}
    for n, has in sets.items():
        sure = [{h for h in of if has.get(h) != OPEN} for of in (bad, good)]
        with_it = [sum(h in has for h in of) for of in sure]
        if all(sure) and abs(with_it[0] / len(sure[0]) - with_it[1] / len(sure[1])) >= DIFFERENCE:
            wanted[str(n)] = with_it[0], len(sure[0]), with_it[1], len(sure[1])
    told = differing(answer(bad, sets), lambda factor: factor.key)
    assert {one.name: (one.bad, one.of_bad, one.good, one.of_good) for one in told} == wanted


@pytest.mark.parametrize("seed", range(4))
def test_each_stroke_is_the_grade_of_its_hull(seed: int) -> None:
    rng = Random(seed)
    bad = set(rng.sample(range(HULLS), 6))
    sets = {
        n: {h: rng.choice((OPEN, MIXED, CERTAIN)) for h in rng.sample(range(HULLS), rng.randint(1, 40))}
        for n in range(12)
    }
    given = answer(bad, sets)
    good = np.flatnonzero(good_ones(given)).tolist()
    for one in differing(given, lambda factor: factor.key):
        has = sets[int(one.name)]
        assert list(one.bad_ones) == [has.get(h, NOT) for h in sorted(bad)]
        assert list(one.good_ones) == [has.get(h, NOT) for h in good]


def test_what_none_is_without_is_told_apart_from_what_one_has_not() -> None:
    every = dict.fromkeys(range(HULLS), CERTAIN)
    sets = {0: every, 1: {**every, 12: OPEN}, 2: {h: CERTAIN for h in every if h != 12}, 3: {**every, 12: MIXED}}
    # Made before the first bad one: no good hull that it is held against.
    sets[4] = {h: CERTAIN for h in every if h != 2}
    found = same_in_all(answer({10, 14, 20}, sets), lambda factor: factor.key)
    assert [one.name for one in found] == ["0", "1", "3", "4"]
