"""Chances around a shortlist of causes: many looked at, all in one window, hours in use, how many to try afterwards."""

from dataclasses import dataclass
from math import ceil, comb, erfc, inf, log, sqrt

import numpy as np

from trace.quality.exact import Floats, at_least


def corrected(p: Floats) -> Floats:
    """p corrected for how many were looked at: the share of false ones among all that pass at this value
    (the step-up of Benjamini and Hochberg 1995)."""
    p = np.asarray(p, np.float64)
    if not len(p):
        return p
    order = np.argsort(p, kind="stable")
    steps = p[order] * len(p) / np.arange(1, len(p) + 1)
    found = np.empty(len(p))
    found[order] = np.minimum(np.minimum.accumulate(steps[::-1])[::-1], 1)
    return found


def in_some_window(cases: int, share: float) -> float:
    """The chance that all cases fall within some stretch of this share of all that was made, in the order of making:
    the range of so many uniform numbers is at most `share`."""
    if cases < 2 or share >= 1:
        return 1.0
    near: float = share ** (cases - 1)
    return cases * near - (cases - 1) * near * share


def by_time_in_use(with_it: int, cases: int, months_with: float, months_without: float) -> float:
    """The chance of so many cases or more among those with it, were cases spread as the time in use is."""
    return at_least(with_it, cases, months_with / (months_with + months_without))


def tries_without_failure(rate: float, sure: float = 0.95) -> float:
    """So many without a failure show that the rate is below `rate`; round up for a whole number."""
    return log(1 - sure) / log(1 - rate) if 0 < rate < 1 else inf


def rate_after_none(tries: int, sure: float = 0.95) -> float:
    """Upper bound of the rate after so many tries without one failure."""
    bound: float = 1 - (1 - sure) ** (1 / tries)
    return bound


def tries_to_find_one(bad: int, lot: int, sure: float = 0.95) -> int:
    """How many of a lot to look at so that one of the bad in it is among them (drawn without putting back)."""
    for tries in range(1, lot + 1):
        if comb(lot - bad, tries) <= (1 - sure) * comb(lot, tries):
            return tries
    return lot


def whole_tries(tries: float) -> int:
    return ceil(tries)


@dataclass(frozen=True, slots=True)
class Doses:
    """How much of a lot is in the bad hulls that hold it and in the good ones (medians, in the lot's own unit).

    `more_in_bad`: how often a bad one holds more than a good one, of all pairs (an equal amount counts half); p:
    that it is so by chance, one-sided, by the normal curve with its correction for ties (Mann and Whitney 1947).
    """

    bad: float
    good: float
    more_in_bad: float
    p_more: float


def doses(bad: Floats, good: Floats) -> Doses | None:
    """None where one side is empty, or all hold the same."""
    m, n = len(bad), len(good)
    both = np.concatenate([bad, good])
    if not m or not n or both.min() == both.max():
        return None
    _values, back, counts = np.unique(both, return_inverse=True, return_counts=True)
    ends = np.cumsum(counts)
    ranks = (ends - (counts - 1) / 2)[back]
    u = float(ranks[:m].sum()) - m * (m + 1) / 2
    ties = float((counts.astype(float) ** 3 - counts).sum())
    spread = sqrt(m * n / 12 * (m + n + 1 - ties / ((m + n) * (m + n - 1))))
    p = 0.5 * erfc((u - m * n / 2 - 0.5) / spread / sqrt(2)) if spread else 1.0
    return Doses(float(np.median(bad)), float(np.median(good)), u / (m * n), min(1.0, p))
