"""Boxes of one part at one arm: one that was taken in place of another which is not empty by the book.

Plain Python. Where a box was exchanged while a load was filled from it and the new one was not scanned, that load says
one box and the next load another, and the first still holds by the book what it never gave.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import pairwise

# A box may hold somewhat less than its label says, and is empty all the same: the share of a filling from which a
# count is asked twice, where the plant has set none (common practice, no source).
A_SHARE = Decimal("0.05")


@dataclass(frozen=True, slots=True)
class Taken:
    """Inserts of one box put into one load. held, left: pieces in it at first and now by the book, None if unknown."""

    at: datetime
    box: int
    load: int
    held: int | None
    left: int | None


@dataclass(frozen=True, slots=True)
class Exchange:
    """`new` was taken for `next_load` at `at`; the load before took from `old`, which has `left` pieces left."""

    at: datetime
    old: int
    new: int
    load: int
    next_load: int
    left: int


def exchanges(taken: Sequence[Taken], away: Sequence[tuple[int, datetime]], share: Decimal) -> Iterator[Exchange]:
    """The first change from each box to each other one, of one part at one arm, where the one before has more than
    `share` of its filling left and was not put away (`away`: box, when) before the other was taken.

    Two boxes of one load were scanned both: between it and the loads beside it nothing was left unsaid.
    """
    loads: dict[int, list[Taken]] = {}
    for one in sorted(taken, key=lambda one: one.at):
        loads.setdefault(one.load, []).append(one)
    seen = set()
    for before, after in pairwise(loads.values()):
        old, new = before[-1], after[0]
        if {one.box for one in before} & {one.box for one in after} or (old.box, new.box) in seen:
            continue
        seen.add((old.box, new.box))
        put_away = any(box == old.box and old.at <= when <= new.at for box, when in away)
        if not put_away and old.left and old.left > share * (old.held or old.left):
            yield Exchange(new.at, old.box, new.box, old.load, new.load, old.left)
