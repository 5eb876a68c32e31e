"""Bad hulls against good ones, many side by side: only what differs."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from trace.quality.common_cause import CommonCause
from trace.quality.factors import ORDER, SORTS, Factor
from trace.quality.incidence import OPEN, Flags, counted

# Of a hull that has not the cause; else the grades of incidence.py.
NOT = -1
# Where what is read was cut in two, or how much of a lot: a cut that all lie on one side of says nothing.
CUTS = ("reading", "certificate")
# What is at least so much commoner, or rarer, among the bad is told; the most telling of each sort, and so many in all.
DIFFERENCE, OF_SORT, MOST = 0.25, 3, 24


@dataclass(frozen=True, slots=True)
class Differs:
    """One cause: in how many of the bad and of the good it is, as shares of each too; hulls that only may have it
    count for neither."""

    sort: str
    name: str
    bad: int
    of_bad: int
    good: int
    of_good: int
    # Of each bad and each good hull its grade or NOT, in the order in which they were made.
    bad_ones: tuple[int, ...] = ()
    good_ones: tuple[int, ...] = ()

    @property
    def bad_percent(self) -> int:
        return round(100 * self.bad / self.of_bad)

    @property
    def good_percent(self) -> int:
        return round(100 * self.good / self.of_good)


def good_ones(answer: CommonCause) -> Flags:
    """The good hulls made from the first bad one to the last, so that what merely changed since tells nothing apart;
    all of them where that leaves fewer than there are bad ones."""
    good = np.ones(len(answer.hulls), np.bool_)
    good[list(answer.bad)] = False
    same_time = good & (np.arange(len(good)) >= min(answer.bad)) & (np.arange(len(good)) <= max(answer.bad))
    return same_time if same_time.sum() >= len(answer.bad) else good


def differing(answer: CommonCause, name: Callable[[Factor], str]) -> list[Differs]:
    """In the order of sorts; of several names of the same hulls the plainest. Against `good_ones`."""
    chosen, counts = good_ones(answer), answer.ranking.counts
    n_bad, n_good = answer.ranking.bad, int(chosen.sum())
    if not n_bad or not n_good:
        return []
    of_bad = n_bad - counts.hit_by_grade[OPEN]
    among = counted(answer.pairs, chosen)
    of_good, good = n_good - among.hit_by_grade[OPEN], among.hit
    apart = counts.hit / np.maximum(1, of_bad) - good / np.maximum(1, of_good)
    found: list[Differs] = []
    told: dict[str, int] = {}
    seen: set[tuple[str, int, int]] = set()
    for n in sorted(np.flatnonzero(np.abs(apart) >= DIFFERENCE), key=lambda n: (-abs(apart[n]), n)):
        factor = answer.factors[n]
        sets = _sort(factor), int(counts.hit[n]), int(good[n])
        if told.get(_sort(factor), 0) >= OF_SORT or sets in seen or not of_bad[n] or not of_good[n]:
            continue
        seen.add(sets)
        told[_sort(factor)] = told.get(_sort(factor), 0) + 1
        found.append(Differs(
            str(SORTS.get(_sort(factor), factor.sort)), name(factor), int(counts.hit[n]), int(of_bad[n]), int(good[n]),
            int(of_good[n]), *_each(answer, int(n), chosen),
        ))  # fmt: skip
    order = {str(said): ORDER[sort] for sort, said in SORTS.items()}
    return sorted(found[:MOST], key=lambda one: order.get(one.sort, len(order)))


def _each(answer: CommonCause, cause: int, chosen: Flags) -> tuple[tuple[int, ...], tuple[int, ...]]:
    grades = np.full(len(answer.hulls), NOT)
    here = slice(answer.pairs.starts[cause], answer.pairs.starts[cause + 1])
    grades[answer.pairs.hull[here]] = answer.pairs.grade[here]
    return tuple(grades[list(answer.bad)].tolist()), tuple(grades[chosen].tolist())


@dataclass(frozen=True, slots=True)
class Alike:
    """A cause that every bad hull and every good one has, or may have where its record is missing."""

    sort: str
    name: str


def same_in_all(answer: CommonCause, name: Callable[[Factor], str]) -> list[Alike]:
    """What tells nothing apart, since none of the bad and of `good_ones` is without it, in the order of sorts."""
    chosen, counts = good_ones(answer), answer.ranking.counts
    among = counted(answer.pairs, chosen)
    every_bad = counts.hit + counts.hit_by_grade[OPEN] == answer.ranking.bad
    every_good = among.hit + among.hit_by_grade[OPEN] == chosen.sum()
    in_all = every_bad & every_good & (counts.hit > 0) & (among.hit > 0)
    found = [answer.factors[n] for n in np.flatnonzero(in_all)]
    whole = [one for one in found if one.sort not in CUTS and one.sort == _sort(one)]
    whole.sort(key=lambda one: ORDER.get(one.sort, len(ORDER)))
    return [Alike(str(SORTS.get(one.sort, one.sort)), name(one)) for one in whole]


def _sort(factor: Factor) -> str:
    return factor.sort.removeprefix("much ")
