"""Which hulls have which cause: pairs in flat arrays, counted and compared all at once.

Hulls and causes are numbers from 0. Each pair has a grade: CERTAIN; MIXED, where the records lead from the cause to the
hull but not so that some of it must be in there (a silo that mixed lots); OPEN, where a record is missing that could
have named it. A hull of grade MIXED counts as having it, one of grade OPEN does not; both are counted apart, so that
anybody can ask what would follow if none or all of them had it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trace.quality.exact import Ints, Table

OPEN, MIXED, CERTAIN = 0, 1, 2
Flags = NDArray[np.bool_]
Small = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Incidence:
    """`cause` and `hull` are as long as there are pairs, in the order of causes; `grade` as above. `starts` has the
    place of the first pair of each cause, and one more for the end."""

    hulls: int
    cause: Small
    hull: Small
    grade: NDArray[np.int8]
    starts: Ints

    @property
    def causes(self) -> int:
        return len(self.starts) - 1

    def of(self, cause: int, least: int = MIXED) -> Ints:
        """The hulls that have a cause, by this grade at least."""
        here = slice(self.starts[cause], self.starts[cause + 1])
        return self.hull[here][self.grade[here] >= least].astype(np.int64)

    def flags(self, cause: int, least: int = MIXED) -> Flags:
        found = np.zeros(self.hulls, np.bool_)
        found[self.of(cause, least)] = True
        return found


def incidence(
    hulls: int, causes: int, cause: NDArray[np.integer], hull: NDArray[np.integer], grade: NDArray[np.integer]
) -> Incidence:
    """Out of pairs in any order; of a pair that comes more than once the highest grade counts."""
    key = cause.astype(np.int64) * hulls + hull.astype(np.int64)
    if len(key) and np.any(np.diff(key) <= 0):
        order = np.lexsort((-grade.astype(np.int8), key))
        key, grade = key[order], grade[order]
        first = np.concatenate([[True], key[1:] != key[:-1]])
        key, grade = key[first], grade[first]
    causes_of, hulls_of = np.divmod(key, hulls) if hulls else (key, key)
    starts = np.searchsorted(causes_of, np.arange(causes + 1))
    return Incidence(
        hulls, causes_of.astype(np.int32), hulls_of.astype(np.int32), grade.astype(np.int8), starts.astype(np.int64)
    )


@dataclass(frozen=True, slots=True)
class Counts:
    """Of each cause: hulls that have it (grade MIXED or CERTAIN) and the bad among them; by each grade alone too."""

    exposed: Ints
    hit: Ints
    by_grade: tuple[Ints, Ints, Ints]
    hit_by_grade: tuple[Ints, Ints, Ints]

    def table(self, cause: int, bad: int, hulls: int) -> Table:
        return Table(int(self.hit[cause]), int(self.exposed[cause]), bad, hulls)

    def least(self, cause: int, bad: int, hulls: int) -> Table:
        """If none had it that only may."""
        return Table(int(self.hit_by_grade[CERTAIN][cause]), int(self.by_grade[CERTAIN][cause]), bad, hulls)

    def most(self, cause: int, bad: int, hulls: int) -> Table:
        """If all had it that may."""
        hit = sum(int(x[cause]) for x in self.hit_by_grade)
        return Table(hit, sum(int(x[cause]) for x in self.by_grade), bad, hulls)


def counted(pairs: Incidence, bad: Flags) -> Counts:
    """One pass over the pairs for each grade."""
    among = bad[pairs.hull]
    each, hit = [], []
    for grade in (OPEN, MIXED, CERTAIN):
        here = pairs.grade == grade
        each.append(np.bincount(pairs.cause[here], minlength=pairs.causes))
        hit.append(np.bincount(pairs.cause[here & among], minlength=pairs.causes))
    return Counts(
        each[MIXED] + each[CERTAIN], hit[MIXED] + hit[CERTAIN], (each[0], each[1], each[2]), (hit[0], hit[1], hit[2])
    )


def alike(pairs: Incidence) -> Ints:
    """The same number for causes that the same hulls have, and the same hulls only may have for want of a record.

    Each hull has numbers of 64 random bits (the same in every run) and a cause their sum: two causes of different hulls
    get the same sum about once in 10^19.
    """
    rng = np.random.default_rng(20260601)
    of_hull = rng.integers(0, 2**64, (2, pairs.hulls), np.uint64, endpoint=False)
    numbers = of_hull[(pairs.grade > OPEN).astype(np.int8), pairs.hull]
    sums = np.concatenate([np.zeros(1, np.uint64), np.cumsum(numbers, dtype=np.uint64)])
    _values, same = np.unique(sums[pairs.starts[1:]] - sums[pairs.starts[:-1]], return_inverse=True)
    return same.astype(np.int64)
