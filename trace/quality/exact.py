"""Exact tests of two-by-two tables, for many tables at once, and exact bounds of a rate.

One question has `hulls` at risk of which `bad` are bad. A cause is in `exposed` of them, of which `hit` are bad:

                 bad           not bad
    with it      hit           exposed - hit
    without it   bad - hit     the rest

With all four sums given, `hit` follows the hypergeometric distribution when the cause does nothing (Fisher 1935).
Everything here is plain numbers; nothing reads a database.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import comb, erfc, lgamma, sqrt

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
# Two probabilities this near to each other count as equal, so that rounding does not part a table from its mirror.
AS_LIKELY = 1 + 1e-7
# So many cells of tables are worked on at once: 80 MB.
AT_ONCE = 5_000_000
# With more bad ones than this the sum over strata is told by the normal curve.
MOST_EXACT = 5_000


class TableError(ValueError):
    """The four sums of a table cannot stand together."""


@dataclass(frozen=True, slots=True)
class Table:
    """One cause among hulls at risk; counts as above."""

    hit: int
    exposed: int
    bad: int
    hulls: int

    @property
    def coverage(self) -> float:
        """The share of the bad that have it; nan where none is bad."""
        return self.hit / self.bad if self.bad else float("nan")

    @property
    def rate_with(self) -> float:
        return self.hit / self.exposed if self.exposed else float("nan")

    @property
    def rate_without(self) -> float:
        others = self.hulls - self.exposed
        return (self.bad - self.hit) / others if others else float("nan")

    @property
    def lift(self) -> float:
        """How many times as bad those with it are as all at risk."""
        return self.rate_with * self.hulls / self.bad if self.bad else float("nan")


def log_factorials(most: int) -> Floats:
    """ln n! for n = 0 to `most` at least."""
    return _log_factorials(max(10, most.bit_length()))


@lru_cache(maxsize=4)
def _log_factorials(bits: int) -> Floats:
    """For n below 2 to the power of `bits`: few tables serve all that is asked."""
    return np.fromiter((lgamma(n + 1) for n in range(2**bits)), np.float64, 2**bits)


def fisher(hit: Ints, exposed: Ints, bad: int, hulls: int) -> tuple[Floats, Floats]:
    """(p that as many or more are hit by chance alone, p of both sides) of each table.

    Both sides: all tables no likelier than the one seen (Fisher's exact test as it is usually given). Tables of the
    same two numbers are worked out once. Raises TableError.
    """
    hit, exposed = np.asarray(hit, np.int64), np.asarray(exposed, np.int64)
    if not 0 <= bad <= hulls or np.any((hit < np.maximum(0, bad - hulls + exposed)) | (hit > np.minimum(bad, exposed))):
        raise TableError("More are hit than can be.")
    if np.any((exposed < 0) | (exposed > hulls)):
        raise TableError("More have it than there are.")
    alike, back = np.unique(exposed * (bad + 1) + hit, return_inverse=True)
    n, a = np.divmod(alike, bad + 1)
    more, both = np.empty(len(alike)), np.empty(len(alike))
    step = max(1, AT_ONCE // (bad + 1))
    for at in range(0, len(alike), step):
        here = slice(at, at + step)
        more[here], both[here] = _tails(a[here], n[here], bad, hulls)
    return more[back], both[back]


def _tails(hit: Ints, exposed: Ints, bad: int, hulls: int) -> tuple[Floats, Floats]:
    chance = chances(exposed, bad, hulls)
    seen = chance[np.arange(len(hit)), hit]
    more = np.where(np.arange(bad + 1) >= hit[:, None], chance, 0).sum(axis=1)
    both = np.where(chance <= seen[:, None] * AS_LIKELY, chance, 0).sum(axis=1)
    return np.minimum(more, 1), np.minimum(both, 1)


def chances(exposed: Ints, bad: int, hulls: int) -> Floats:
    """The chance of 0, 1 … `bad` hits for each number exposed: an array of as many rows."""
    lf = log_factorials(hulls)
    x = np.arange(bad + 1)
    n = np.asarray(exposed, np.int64)[:, None]
    can = (x <= n) & (bad - x <= hulls - n)
    inside, outside = np.where(can, n - x, 0), np.where(can, hulls - n - bad + x, 0)
    # C(bad, x) C(hulls - bad, exposed - x) / C(hulls, exposed)
    log = lf[bad] - lf[x] - lf[bad - x] + lf[hulls - bad] - lf[inside] - lf[outside]
    log = log - lf[hulls] + lf[n] + lf[hulls - n]
    return np.where(can, np.exp(np.where(can, log, 0)), 0)


def table_chances(table: Table) -> tuple[float, float]:
    """As `fisher`, of one table."""
    more, both = fisher(np.array([table.hit]), np.array([table.exposed]), table.bad, table.hulls)
    return float(more[0]), float(both[0])


@dataclass(frozen=True, slots=True)
class Stratified:
    """Tables compared stratum by stratum: p that as many or more are hit in all, p of both sides, the statistic of
    Cochran, Mantel and Haenszel (one degree of freedom, corrected for continuity; nan where nothing can vary),
    whether p is exact.
    """

    p_more: float
    p_both: float
    statistic: float
    exact: bool


def stratified(tables: Sequence[Table]) -> Stratified:
    """Does the cause hold with the strata held fixed (Cochran 1954; Mantel and Haenszel 1959)?

    Exact: the sum of independent hypergeometric numbers, by convolution of their chances. With very many bad ones the
    normal curve with correction for continuity stands in.
    """
    tables = [t for t in tables if t.hulls]
    seen = sum(t.hit for t in tables)
    off = seen - sum(t.exposed * t.bad / t.hulls for t in tables)
    spread = sum(_variance(t) for t in tables)
    statistic = max(0.0, abs(off) - 0.5) ** 2 / spread if spread else float("nan")
    if sum(t.bad for t in tables) > MOST_EXACT:
        p_more = 0.5 * erfc((off - 0.5) / sqrt(spread) / sqrt(2)) if spread else 1.0
        return Stratified(p_more, erfc(sqrt(statistic / 2)) if spread else 1.0, statistic, False)
    sums = np.ones(1)
    for t in tables:
        sums = np.convolve(sums, chances(np.array([t.exposed]), t.bad, t.hulls)[0])
    both = float(sums[sums <= sums[seen] * AS_LIKELY].sum())
    return Stratified(min(1.0, float(sums[seen:].sum())), min(1.0, both), statistic, True)


def _variance(t: Table) -> float:
    """Of the number hit, with all four sums given."""
    if t.hulls < 2:
        return 0.0
    return t.exposed * (t.hulls - t.exposed) * t.bad * (t.hulls - t.bad) / (t.hulls**2 * (t.hulls - 1))


def at_least(hits: int, tries: int, chance: float) -> float:
    """The chance of so many hits or more in independent tries."""
    return sum(comb(tries, x) * chance**x * (1 - chance) ** (tries - x) for x in range(hits, tries + 1))


def exact_bounds(hits: int, tries: int, sure: float = 0.95) -> tuple[float, float]:
    """Two-sided exact bounds of a rate (Clopper and Pearson 1934)."""
    if tries == 0:
        return 0.0, 1.0
    tail = (1 - sure) / 2
    low = 0.0 if hits == 0 else _where(lambda p: 1 - _up_to(hits - 1, tries, p) >= tail)
    high = 1.0 if hits == tries else _where(lambda p: _up_to(hits, tries, p) <= tail)
    return low, high


def _up_to(hits: int, tries: int, chance: float) -> float:
    """The chance of so many hits or fewer."""
    if chance in (0.0, 1.0):
        return 1.0 if chance == 0.0 or hits >= tries else 0.0
    lf = log_factorials(tries)
    x = np.arange(hits + 1)
    log = lf[tries] - lf[x] - lf[tries - x] + x * np.log(chance) + (tries - x) * np.log1p(-chance)
    return min(1.0, float(np.exp(log).sum()))


def _where(holds: Callable[[float], bool]) -> float:
    """The least chance from which on `holds` is true, by halving."""
    low, high = 0.0, 1.0
    for _step in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return (low + high) / 2
