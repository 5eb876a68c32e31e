"""What people blame first: the mould, the arm, the oven, the shift and the person that most of the bad ones share,
where that is no more than chance, so that the answer says so before somebody asks.
"""

from collections.abc import Iterator
from typing import NamedTuple

from trace.quality.common_cause import CommonCause
from trace.quality.exact import Table, table_chances
from trace.quality.factors import Factor
from trace.quality.ranking import LIMIT

BLAMED = ("mould", "arm", "oven", "shift", "person")


class Cleared(NamedTuple):
    """A cause that this many of the bad have and that chance explains."""

    factor: Factor
    table: Table


def blamed(answer: CommonCause) -> list[Cleared]:
    """Of each sort the one that most of the bad have, where those are at least half and it is no more than chance."""
    return [one for sort in BLAMED for one in _of_sort(answer, sort)]


def _of_sort(answer: CommonCause, sort: str) -> Iterator[Cleared]:
    bad = frozenset(answer.bad)
    found = []
    for n, factor in enumerate(answer.factors):
        if factor.sort == sort and not factor.part:
            has = answer.pairs.of(n)
            hit = sum(1 for hull in has.tolist() if hull in bad)
            found.append((Table(hit, len(has), len(bad), len(answer.hulls)), factor))
    if not found:
        return
    table, factor = max(found, key=lambda one: (one[0].hit, -one[0].exposed, one[1].key))
    # What all have is no difference, and nobody blames it for one.
    if 2 * table.hit >= table.bad and table.exposed < table.hulls and table_chances(table)[0] > LIMIT:
        yield Cleared(factor, table)
