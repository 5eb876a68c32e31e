"""What do the bad ones share that the rest does not? Every cause compared, rivals split, the rest said to be chance.

Statistics name a suspect and no more: what is ranked first here is what to look at first.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from trace.quality.chances import corrected
from trace.quality.exact import Floats, Ints, Stratified, Table, fisher, stratified, table_chances
from trace.quality.incidence import CERTAIN, Counts, Flags, Incidence, alike, counted

# What p, and p corrected for all that was looked at, must be below to be more than chance (common practice).
LIMIT = 0.05
# So many sets of hulls are looked at more closely than by their one table.
NEAREST = 12
# So many strata of equally many hulls, in the order of making; fewer hulls make fewer.
PERIODS, LEAST_OF_PERIOD = 4, 10

Standing = Literal[
    "stands out",  # first, and more than chance among so many
    "stands out too",  # more than chance, and not through the first
    "goes with",  # falls silent once the first is held fixed, while the first does not
    "not told apart",  # the first falls silent once it is held fixed: tied with the first
    "within chance",  # also: beside the first no more than one of so many rivals shows by chance
]


@dataclass(frozen=True, slots=True)
class Split:
    """A cause and its rival, one held fixed: tables of the cause within the rival and outside of it, each with its p
    (as many or more by chance), and both together."""

    within: Table
    p_within: float
    outside: Table
    p_outside: float
    together: Stratified


@dataclass(frozen=True, slots=True)
class Ranked:
    """One set of hulls, under all the causes that it is the set of (`causes`, by number).

    `cuts`: of how many cuts of one quantity this is the likeliest (1: it is no cut); `corrected` counts them.
    `least`, `most`: the table if none or all of those had it that only may, with p of each. `period`: with the time of
    making held fixed. `against`: this one, the first held fixed; `first_against`: the first, this one held fixed.
    """

    causes: tuple[int, ...]
    table: Table
    p_more: float
    p_both: float
    corrected: float
    cuts: int
    least: Table
    p_least: float
    most: Table
    p_most: float
    period: Stratified
    standing: Standing
    against: Split | None = None
    first_against: Split | None = None


@dataclass(frozen=True, slots=True)
class Ranking:
    """`nearest` first to last; of `causes` looked at, which are `sets` different sets of hulls. `pairs` as they
    came."""

    nearest: tuple[Ranked, ...]
    causes: int
    sets: int
    bad: int
    hulls: int
    counts: Counts

    @property
    def first(self) -> Ranked | None:
        """What stands out first; None where all is within chance."""
        return self.nearest[0] if self.nearest and self.nearest[0].standing == "stands out" else None

    @property
    def tied(self) -> tuple[Ranked, ...]:
        """What the records cannot part from the first: any of them may be it."""
        return tuple(one for one in self.nearest if one.standing == "not told apart")


def limit_of_chance(bad: int, hulls: int, causes: int) -> list[int]:
    """For 1, 2 … `bad` hits the greatest number of hulls with a cause at which so many are more than chance among so
    many causes (p times their number below LIMIT); 0 where they never are."""
    hit = np.arange(1, bad + 1)
    low, high = np.zeros(bad, np.int64), np.full(bad, hulls)
    while np.any(low < high):
        middle = (low + high + 1) // 2
        more, _both = fisher(np.clip(hit, bad - hulls + middle, middle), middle, bad, hulls)
        holds = (middle >= hit) & (more * causes < LIMIT)
        # Fewer than so many hulls cannot have so many hits: there the search goes up.
        holds |= middle < hit
        low, high = np.where(holds, middle, low), np.where(holds, high, middle - 1)
    return [int(n) if n >= a else 0 for n, a in zip(low, hit, strict=True)]


def periods(hulls: int) -> Ints:
    """The stratum of each hull, for hulls in the order in which they were made: as many in each, as near as may be."""
    count = max(1, min(PERIODS, hulls // LEAST_OF_PERIOD))
    return np.arange(hulls) * count // max(1, hulls)


def ranked(pairs: Incidence, bad: Flags, period: Ints, family: Ints | None = None) -> Ranking:
    """Compare all causes. `bad` and `period` (the stratum of each hull) are as long as there are hulls.

    `family` gives causes that are cuts of one quantity the same number (None: none are). Of a family the likeliest
    stands for all, with its p times how many different sets they are (Bonferroni), so that a quantity cut in many
    places is no likelier to come first by chance than a thing that is there or not. Of sets that are equally likely
    the one that more of the bad have comes first, then the one with fewer hulls.
    """
    counts = counted(pairs, bad)
    n_bad, hulls = int(bad.sum()), pairs.hulls
    more, both = fisher(counts.hit, counts.exposed, n_bad, hulls)
    same = alike(pairs)
    stands, cuts = _of_families(more, same, np.arange(pairs.causes) if family is None else family)
    judged = np.minimum(1, more * cuts)
    q = np.ones(pairs.causes)
    q[stands] = corrected(judged[stands])
    order = stands[np.lexsort((stands, counts.exposed[stands], -counts.hit[stands], judged[stands]))]
    found: list[Ranked] = []
    for n in _different(order, same):
        if len(found) == NEAREST or counts.hit[n] == 0:
            break
        members = (n, *(int(x) for x in np.flatnonzero(same == same[n]) if x != n))
        p = float(more[n]), float(both[n]), float(q[n]), int(cuts[n])
        found.append(_looked_at(pairs, bad, period, counts, members, p, found[0] if found else None))
    return Ranking(tuple(found), len(stands), len(np.unique(same)), n_bad, hulls, counts)


def _of_families(p: Floats, same: Ints, family: Ints) -> tuple[Ints, Ints]:
    """(The likeliest of each family, how many different sets the family of each cause is)."""
    _names, number = np.unique(family, return_inverse=True)
    sets = np.unique(np.stack([number, same]), axis=1)
    size = np.bincount(sets[0], minlength=int(number.max(initial=-1)) + 1)
    order = np.lexsort((np.arange(len(p)), p, number))
    first = np.concatenate([[True], np.diff(number[order]) != 0]) if len(p) else np.zeros(0, np.bool_)
    return np.sort(order[first]), size[number]


def _different(order: Ints, same: Ints) -> Iterator[int]:
    """Those of the causes in this order whose set did not come before."""
    seen: set[int] = set()
    for n in order:
        if int(same[n]) not in seen:
            seen.add(int(same[n]))
            yield int(n)


def _looked_at(
    pairs: Incidence, bad: Flags, period: Ints, counts: Counts, members: tuple[int, ...],
    p: tuple[float, float, float, int], first: Ranked | None,
) -> Ranked:  # fmt: skip
    """One set of hulls, with the first of all where this is not it."""
    n, n_bad = members[0], int(bad.sum())
    # The same hulls under several names: least is told of the name that is surest of the fewest.
    unsurest = min(members, key=lambda m: (counts.by_grade[CERTAIN][m], m))
    least, most = counts.least(unsurest, n_bad, pairs.hulls), counts.most(n, n_bad, pairs.hulls)
    has = pairs.flags(n)
    against = first_against = None
    if first is not None and first.standing == "stands out":
        other = pairs.flags(first.causes[0])
        against, first_against = split(has, other, bad), split(other, has, bad)
    p_more, p_both, q, cuts = p
    return Ranked(
        causes=members,
        table=counts.table(n, n_bad, pairs.hulls),
        p_more=p_more, p_both=p_both, corrected=q, cuts=cuts,
        least=least, p_least=table_chances(least)[0],
        most=most, p_most=table_chances(most)[0],
        period=stratified(tables(has, bad, [period == one for one in np.unique(period)])),
        standing=_standing(p_more, q, first, against, first_against),
        against=against, first_against=first_against,
    )  # fmt: skip


def _standing(
    p: float, q: float, first: Ranked | None, against: Split | None, first_against: Split | None
) -> Standing:
    if first is None:
        return "stands out" if q < LIMIT else "within chance"
    if against is None or first_against is None or p >= LIMIT:
        return "within chance"
    if first_against.together.p_more >= LIMIT:
        return "not told apart"
    if against.together.p_more >= LIMIT:
        return "goes with"
    # Held against the first are as many as there are rivals, so each of them counts for one of so many (Bonferroni).
    return "stands out too" if q < LIMIT and against.together.p_more * (NEAREST - 1) < LIMIT else "within chance"


def split(has: Flags, other: Flags, bad: Flags) -> Split:
    """A cause within its rival and outside of it."""
    within, outside = tables(has, bad, [other, ~other])
    return Split(
        within, table_chances(within)[0], outside, table_chances(outside)[0], stratified([within, outside])
    )


def tables(has: Flags, bad: Flags, strata: Sequence[Flags]) -> list[Table]:
    """The table of one cause in each stratum."""
    return [
        Table(int((has & bad & s).sum()), int((has & s).sum()), int((bad & s).sum()), int(s.sum())) for s in strata
    ]
