"""What a plan would put at stake, in plain numbers: worked by hand, and against drawing it out hull by hull."""

from collections.abc import Iterable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trace.genealogy.plans import (
    AS_PLANNED,
    EMPTY_FIRST,
    ONE_AFTER_ANOTHER,
    SAME_LOTS,
    WHOLE_CHARGES,
    Share,
    cheapest,
    split,
    top_up,
)

KG = 1_000_000


def test_a_top_up_onto_another_lot() -> None:
    """40 kg of lot 1 are left, 100 kg of lot 2 come; 10 kg a hull: 14 hulls hold both, or 4 and 10 one each."""
    ways = top_up({1: 30, 2: 5}, [1], [2], left=40 * KG, amount=100 * KG, charge=10 * KG)
    assert {w.name: (w.after, w.hulls, w.worst, float(w.mean)) for w in ways} == {
        AS_PLANNED: ({1: 44, 2: 19}, 14, 44, (44 + 19) / 2),
        EMPTY_FIRST: ({1: 34, 2: 15}, 14, 34, (34 + 15) / 2),
        SAME_LOTS: ({1: 44, 2: 5}, 14, 44, (44 + 5) / 2),
    }
    assert cheapest(ways).name == EMPTY_FIRST


def test_what_is_in_it_already_makes_no_difference() -> None:
    ways = top_up({1: 3}, [1], [1], left=5 * KG, amount=20 * KG, charge=10 * KG)
    assert [(w.name, w.after, w.rest) for w in ways] == [(AS_PLANNED, {1: 5}, 5 * KG)]


def test_a_lot_that_is_in_it_among_others() -> None:
    """Run empty first, only the hulls of what comes hold it alone: the other lot is done with."""
    ways = top_up({1: 30, 2: 19}, [1, 2], [2], left=40 * KG, amount=20 * KG, charge=10 * KG)
    assert {w.name: w.after for w in ways} == {AS_PLANNED: {1: 36, 2: 25}, EMPTY_FIRST: {1: 34, 2: 25}}


def test_a_split_over_two_orders() -> None:
    """25 kg for each of two orders at 10 kg a hull: two hulls are filled up from another lot, or one, or none."""
    shares = [Share("WO-1", 25 * KG, 10 * KG), Share("WO-2", 25 * KG, 10 * KG)]
    ways = split({1: 0, 2: 7}, 1, 2, shares)
    assert {w.name: (w.after, w.hulls, w.rest, w.orders) for w in ways} == {
        AS_PLANNED: ({1: 6, 2: 9}, 6, 0, 2),
        WHOLE_CHARGES: ({1: 4, 2: 9}, 6, 10 * KG, 2),
        ONE_AFTER_ANOTHER: ({1: 5, 2: 8}, 6, 0, 2),
    }


def drawn(fillings: Iterable[tuple[set[int], int]], charge: int) -> list[set[int]]:
    """Hull by hull out of one vessel: which lots may be in each. Each filling lies on what is left."""
    hulls: list[set[int]] = []
    inside: set[int] = set()
    left = 0
    for lots, amount in fillings:
        inside, left = inside | lots, left + amount
        while left >= charge:
            hulls.append(set(inside))
            left -= charge
    return hulls


@settings(max_examples=60)
@given(left=st.integers(0, 90), amount=st.integers(1, 90), charge=st.integers(1, 20), same=st.booleans())
@pytest.mark.outside("identity", "what a plan says is at stake is what drawing it out hull by hull puts at stake")
def test_drawn_hull_by_hull(left: int, amount: int, charge: int, same: bool) -> None:
    vessel, source = {1}, {1} if same else {2}
    ways = {w.name: w for w in top_up({1: 0, 2: 0}, vessel, source, left=left, amount=amount, charge=charge)}
    hulls = drawn([(vessel | source, left + amount)], charge)
    assert ways[AS_PLANNED].after == {lot: sum(lot in h for h in hulls) for lot in vessel | source}
    if EMPTY_FIRST in ways:
        apart = [*drawn([(vessel, left)], charge), *drawn([(source, amount)], charge)]
        assert ways[EMPTY_FIRST].after == {lot: sum(lot in h for h in apart) for lot in vessel | source}
        assert ways[EMPTY_FIRST].rest == left + amount - len(apart) * charge


@settings(max_examples=60)
@given(st.lists(st.integers(1, 60), min_size=1, max_size=4), st.integers(1, 15))
def test_every_way_makes_the_same_hulls(amounts: list[int], charge: int) -> None:
    shares = [Share(f"WO-{n}", amount, charge) for n, amount in enumerate(amounts)]
    ways = split({1: 0, 2: 0}, 1, 2, shares)
    every = sum(-(-amount // charge) for amount in amounts)
    for way in ways:
        assert way.hulls == every
        # A hull is of the lot, of the other, or of both; no more of both than parts were left over.
        assert every <= way.after[1] + way.after[2] <= every + len(amounts)
        assert way.after[1] * charge + way.rest >= sum(amounts)
