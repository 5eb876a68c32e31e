"""Bounds against an independent oracle: linear programs over every flow that conserves mass (scipy, HiGHS).

For each draw an unknown: how much of the suspect went along. A unit's outgoing amounts and what is left in
it sum to what came in, and no more of the suspect than there is in all can be in any of them. The least
and the most of an unknown over all such flows are the true bounds.
"""

from collections.abc import Callable
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from tests.genealogy.graphs import Drawing
from trace.genealogy.amounts import (
    NOTHING,
    OPEN,
    Bounds,
    Draw,
    capped,
    part,
    recorded_draw,
    split,
    together,
    unrecorded_draw,
    whole,
    wholly,
)
from trace.genealogy.scope import Swept, prepare, sweep


def true_bounds(d: Drawing, *suspects: str) -> Callable[..., tuple[float, float]]:
    """A function from the names of units to (min, max) of the suspects in them over every mass-conserving flow.

    Unknowns: what goes along each edge, then what is left in each unit.
    """
    edges = d.live()
    n, units = len(edges), list(d.units.values())
    bounds: list[tuple[float, float]] = [(0, float(e.amount or 0)) for e in edges]
    balance, right = [], []
    for i, unit in enumerate(units):
        row = np.zeros(n + len(units))
        for k, edge in enumerate(edges):
            row[k] += (edge.child == unit.id) - (edge.parent == unit.id)
        row[n + i] = -1
        amount = unit.amount or 0
        taken = sum(e.amount or 0 for e in edges if e.parent == unit.id)
        own = unit.id in map(d.id, suspects)
        # What is left of a unit may be anything from none to all of the suspect; the suspect's own rest is
        # pure.
        bounds.append((amount - taken, amount - taken) if own else (0, amount - taken))
        balance.append(row)
        right.append(-amount if own else 0)

    def of(*names: str) -> tuple[float, float]:
        goal, ids = np.zeros(n + len(units)), {d.id(name) for name in names}
        goal[[k for k, e in enumerate(edges) if e.child in ids]] = 1
        found = []
        for sign in (1, -1):
            solved = linprog(sign * goal, A_eq=np.array(balance), b_eq=right, bounds=bounds)
            assert solved.success, solved.message
            found.append(sign * solved.fun)
        return found[0], found[1]

    return of


def scope(d: Drawing, *suspects: str) -> Swept:
    return sweep(prepare(d.graph(suspects[0]), d.flows()), [d.id(name) for name in suspects])


def amounts(bounds: Bounds | None) -> tuple[int, int | None]:
    return (0, 0) if bounds is None else (bounds.least, bounds.most)


@st.composite
def vessels(draw: st.DrawFn, *, tree: bool) -> Drawing:
    """S and other lots fill vessels, vessels fill vessels; nothing is drawn that is not there.

    As a tree of the suspect each vessel gets material that may hold some of it from one vessel only.
    """
    d = Drawing()
    left: dict[str, int] = {}

    def root(name: str, least: int) -> None:
        d.content(name, amount := draw(st.integers(least, 60)))
        left[name] = amount

    root("S", 10)
    vessels = ["S"]
    for n in range(draw(st.integers(1, 6))):
        others = [v for v in vessels if left[v] > 0]
        if not others:
            break
        count = 1 if tree else draw(st.integers(1, min(3, len(others))))
        sources = draw(st.permutations(others))[:count]
        name = f"V{n}"
        into = []
        for source in sources:
            amount = draw(st.integers(1, left[source]))
            left[source] -= amount
            into.append((source, amount))
        if clean := draw(st.integers(0, 40)):
            d.content(f"X{n}", clean)
            left[f"X{n}"] = 0
            into.append((f"X{n}", clean))
        d.content(name, sum(a for _, a in into))
        left[name] = sum(a for _, a in into)
        for source, amount in into:
            d.edge(name, source, "draw", amount)
        vessels.append(name)
    return d


@pytest.mark.outside("library", "scipy: linear programs (HiGHS) over every flow that conserves mass")
@settings(max_examples=150, deadline=None)
@given(d=vessels(tree=True))
def test_bounds_are_exact_where_the_material_came_one_way(d: Drawing) -> None:
    shares = scope(d, "S").shares
    true = true_bounds(d, "S")
    for name, unit in d.units.items():
        if name[0] != "V":
            continue
        share = shares.get(unit.id)
        assert amounts(share.total if share else None) == pytest.approx(true(name), abs=1e-6)


@pytest.mark.outside("library", "scipy: linear programs (HiGHS) over every flow that conserves mass")
@settings(max_examples=200, deadline=None)
@given(d=vessels(tree=False))
def test_no_flow_that_conserves_mass_lies_outside_the_bounds(d: Drawing) -> None:
    shares = scope(d, "S").shares
    true = true_bounds(d, "S")
    for name, unit in d.units.items():
        if name[0] != "V":
            continue
        least, most = true(name)
        share = shares.get(unit.id)
        low, high = amounts(share.total if share else None)
        assert high is not None
        assert low <= least + 1e-6
        assert high >= most - 1e-6
        if share is not None:
            assert share.verdict != "certain" or least > 0
            assert share.total.best is not None
            assert low <= share.total.best <= high
        else:
            assert most == pytest.approx(0, abs=1e-6)


@pytest.mark.outside("library", "scipy: linear programs (HiGHS) over every flow that conserves mass")
@settings(max_examples=150, deadline=None)
@given(d=vessels(tree=False), chosen=st.data())
def test_several_suspects_together_lie_inside_the_bounds_too(d: Drawing, chosen: st.DataObject) -> None:
    clean = [name for name in d.units if name[0] == "X"]
    suspects = ["S", *chosen.draw(st.lists(st.sampled_from(clean), unique=True) if clean else st.just([]))]
    true = true_bounds(d, *suspects)
    shares = scope(d, *suspects).shares
    for name, unit in d.units.items():
        if name[0] == "V":
            least, most = true(name)
            share = shares.get(unit.id)
            low, high = amounts(share.total if share else None)
            assert high is not None
            assert low <= least + 1e-6
            assert high >= most - 1e-6
            assert share is None or share.verdict != "certain" or least > 0


@settings(max_examples=150, deadline=None)
@given(d=vessels(tree=False))
def test_the_model_gives_back_what_went_in(d: Drawing) -> None:
    """Fully mixed shares: what lies in each vessel after all draws adds up to the suspect, exactly."""
    shares = scope(d, "S").shares
    rest = Fraction(0)
    for unit in d.units.values():
        if unit.id not in shares:
            continue
        best = shares[unit.id].total.best
        taken = sum(e.amount or 0 for e in d.live() if e.parent == unit.id)
        assert best is not None
        assert unit.amount
        rest += best * (unit.amount - taken) / unit.amount
    assert rest == d.units["S"].amount


def test_one_draw_from_a_mixed_vessel() -> None:
    # 10 kg, 6 to 7 of the suspect: a draw of 5 has at least 5 - (10 - 6) = 1 and at most 5 of it.
    mixed = Bounds(6, Fraction(13, 2), 7, certain=True)
    assert part(mixed, 10, Draw(5, 5)) == Bounds(1, Fraction(13, 4), 5, certain=True)
    assert part(mixed, 10, Draw(3, 3)) == Bounds(0, Fraction(39, 20), 3)
    assert part(mixed, 10, Draw(9, 9)) == Bounds(5, Fraction(117, 20), 7, certain=True)
    assert part(mixed, 10, recorded_draw(None)) == Bounds(0, None, 7)
    assert part(mixed, None, Draw(5, 5)) == Bounds(0, None, 5)


def test_a_vessel_that_held_more_than_its_book_has_no_lower_bound() -> None:
    mixed = Bounds(6, Fraction(6), 6, certain=True)
    assert part(mixed, 10, Draw(8, 8), over=1) == Bounds(0, Fraction(48, 11), 7)
    assert part(wholly(10), 10, Draw(11, 11), over=1) == wholly(11)


def test_a_pure_parent_gives_exactly_what_was_drawn_even_when_nobody_weighed_it() -> None:
    assert part(wholly(25), 25, Draw(12, 12)) == wholly(12)
    assert part(wholly(None), None, Draw(12, 12)) == wholly(12)
    assert part(wholly(25), 25, recorded_draw(None)) == Bounds(0, None, 25, certain=True, pure=True)
    assert part(wholly(25), 25, recorded_draw(None)).verdict == "certain"


def test_a_draw_nobody_weighed_follows_from_the_child_only_when_it_is_the_only_one() -> None:
    assert unrecorded_draw(12, 7, 1) == Draw(5, 5)
    assert unrecorded_draw(12, 7, 2) == Draw(0, 5)
    assert unrecorded_draw(None, 7, 1) == Draw(0, None)


def test_what_goes_on_whole() -> None:
    mixed = Bounds(6, Fraction(6), 8, certain=True)
    assert whole(mixed) == mixed
    assert whole(mixed, 20, 5) == Bounds(1, Fraction(9, 2), 8, certain=True)
    assert whole(mixed, 20, None) == Bounds(0, None, 8)
    # The skin is all of the suspect: whatever was trimmed, the hull has a skin.
    assert whole(wholly(12), 28, None) == Bounds(0, None, 12, certain=True, pure=True)


def test_what_is_shared_among_children() -> None:
    mixed = Bounds(6, Fraction(6), 8, certain=True)
    assert split(mixed, 1) == mixed
    assert split(mixed, 2) == Bounds(0, Fraction(3), 8)
    assert split(wholly(12), 2) == Bounds(0, Fraction(6), 12, certain=True, pure=True)
    assert split(NOTHING, 2) == NOTHING


def test_sums_caps_and_verdicts() -> None:
    assert together([]) == NOTHING
    assert together([Bounds(1, Fraction(2), 3), Bounds(0, Fraction(1), 2)]) == Bounds(1, Fraction(3), 5, certain=True)
    assert together([wholly(2), OPEN]) == Bounds(2, None, None, certain=True)
    assert capped(Bounds(1, Fraction(4), 9, certain=True), 3) == Bounds(1, Fraction(3), 3, certain=True)
    assert capped(OPEN, 3) == Bounds(0, None, 3)
    assert (NOTHING.verdict, OPEN.verdict, Bounds(0, None, 4).verdict) == ("cannot", "may", "may")


def test_a_share_that_passed_ten_thousand_vessels_stays_short_and_right() -> None:
    share = Bounds(0, Fraction(10**9), 10**9)
    exact = 1.0
    for n in range(10_000):
        total = 2 * 10**9 + n
        share = part(share, total, Draw(total - n - 1, total - n - 1))
        exact *= (total - n - 1) / total
    assert share.best is not None
    assert share.best.denominator.bit_length() <= 256
    assert float(share.best) == pytest.approx(1e9 * exact, rel=1e-9)


def test_what_was_drawn_of_a_suspect_that_is_empty_by_the_book_is_of_it() -> None:
    assert part(wholly(0), 0, recorded_draw(5)) == Bounds(5, Fraction(5), 5, certain=True, pure=True)
    assert part(NOTHING, 10, recorded_draw(5)) == NOTHING


def test_the_least_amount_there_is_makes_it_certain() -> None:
    assert [Bounds(n, None, None, certain=False).verdict for n in (0, 1)] == ["may", "certain"]


def test_a_draw_from_what_holds_nothing_by_the_book_says_nothing_of_its_mix() -> None:
    share = Bounds(0, Fraction(5), 10, certain=False)
    assert part(share, 0, recorded_draw(5)) == Bounds(0, None, 5, certain=False)


@pytest.mark.parametrize("share", [Bounds(5, Fraction(5), 5, certain=False), Bounds(0, Fraction(2), 5, certain=False)])
def test_the_only_way_into_a_unit_counts_as_it_would_beside_an_empty_one(share: Bounds) -> None:
    """Of what some is in for sure, it is certain, however the share was said."""
    assert together([share]) == together([share, NOTHING])
