"""Figures of one instrument in the order in which they were read: runs of one value, and last digits.

Plain Python. None of it says that a figure is wrong: it says that figures lie closer together than such figures do,
and that somebody should look how they are read.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import erf, erfc, exp, pi, sqrt
from statistics import mean, pstdev

# A run is named when fewer than one such series in a thousand shows one by chance, and never below so many.
LIKELY, SHORTEST = 0.001, 4
# Before a series tells itself how often two of its figures are the same: one pair in four (common practice).
PRIOR_SAME, PRIOR_PAIRS = 1, 4
# Last digits are named from so many figures on, when that far from what is expected by chance and in size.
# The size is Cohen's w, the root of chi-square over the number (Cohen 1988); above 0.5 he calls it large.
ENOUGH, UNLIKELY, LARGE = 20, 1e-6, 0.8
DIGITS = 10


@dataclass(frozen=True, slots=True)
class Run:
    """So many of the same one after the other, from number `first` of a series; one series in so many shows it."""

    first: int
    length: int
    one_in: float


def runs(figures: Sequence[str]) -> list[Run]:
    """The runs of one figure in a series that are too long for how often its other figures agree.

    How likely two figures are the same is counted over all pairs of the series, each run as one; a run of r has r - 1
    such agreements, and may begin anywhere (the union bound).
    """
    found, first = [], 0
    for n in range(1, len(figures) + 1):
        if n == len(figures) or figures[n] != figures[first]:
            found.append((first, n - first))
            first = n
    counts = Counter(figures[first] for first, _length in found)
    pairs = len(found) * (len(found) - 1) / 2
    same = sum(count * (count - 1) / 2 for count in counts.values())
    alike = (same + PRIOR_SAME) / (pairs + PRIOR_PAIRS)
    chances = [(first, length, min(1.0, len(found) * alike ** (length - 1))) for first, length in found]
    return [Run(first, n, 1 / chance) for first, n, chance in chances if n >= SHORTEST and chance <= LIKELY]


@dataclass(frozen=True, slots=True)
class Digits:
    """Last digits that are not as the figures' own scatter makes them; `often`: those that are there too often."""

    count: int
    chi_square: float
    chance: float
    often: tuple[int, ...]


def last_digits(figures: Sequence[str], step: float) -> Digits | None:
    """The last digits of figures read in such steps, where they are not as they should be; else None.

    Chi-square of ten digits against what a normal distribution of the figures' own mean and scatter puts on each
    (the last digits of narrow figures are not even). Few figures make the chance of it an estimate, so it has to be
    far out, and the size of the effect large besides.
    """
    values = [float(figure) for figure in figures]
    if len(values) < ENOUGH or step <= 0:
        return None
    middle, scatter = mean(values), max(pstdev(values), step / 2)
    expected = [0.0] * DIGITS
    centre = round(middle / step)
    reach = int(6 * scatter / step) + 1
    for n in range(centre - reach, centre + reach + 1):
        expected[n % DIGITS] += _below((n + 0.5) * step, middle, scatter) - _below((n - 0.5) * step, middle, scatter)
    seen = Counter(round(value / step) % DIGITS for value in values)
    count, share = len(values), sum(expected)
    even = [max(one / share * count, 0.1) for one in expected]
    chi = sum((seen[digit] - one) ** 2 / one for digit, one in enumerate(even))
    chance = above_chi_square_9(chi)
    if chance > UNLIKELY or sqrt(chi / count) < LARGE:
        return None
    often = tuple(digit for digit, one in enumerate(even) if seen[digit] > 1.5 * one and seen[digit] > 1)
    return Digits(count, chi, chance, often)


def above_chi_square_9(value: float) -> float:
    """The chance that chi-square with nine degrees of freedom is as large or larger
    (Abramowitz and Stegun 1964, 26.4.4)."""
    root = sqrt(value)
    terms = root + root**3 / 3 + root**5 / 15 + root**7 / 105
    return erfc(root / sqrt(2)) + 2 * exp(-value / 2) / sqrt(2 * pi) * terms


def _below(value: float, middle: float, scatter: float) -> float:
    return 0.5 * (1 + erf((value - middle) / (scatter * sqrt(2))))
