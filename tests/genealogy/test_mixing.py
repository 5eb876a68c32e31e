"""What a vessel gives under three models and under the widest bounds: worked cases, and mass that is conserved."""

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given as tried
from hypothesis import settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from tests.genealogy.test_balance import vessel
from trace.genealogy.flows import flows
from trace.genealogy.mixing import MODELS, Emptied, In, Model, Out, Step, given
from trace.genealogy.scope import prepare, sweep
from trace.genealogy.walk import walk

F = Fraction
CHARGE = F("12.2")
# 400 kg of A in it; 600 kg of B, the wrong grade; 50 charges of 12.2 kg; 800 kg of C; and on until it is used up.
WRONG_GRADE: list[Step] = [In("A", F(400)), In("B", F(600)), *[Out(CHARGE)] * 50, In("C", F(800)), *[Out(CHARGE)] * 98]


def holding(model: Model) -> dict[int, Fraction]:
    """Charge (from 1) -> kg of B in it, where there is any."""
    drawn = given(WRONG_GRADE, model).drawn
    return {n: parts["B"] for n, parts in enumerate(drawn, 1) if parts.get("B")}


@pytest.mark.outside("identity", "600.0 kg of the wrong grade under every model: drawn and left are what went in")
def test_no_kilogram_is_lost() -> None:
    for model in MODELS:
        found = given(WRONG_GRADE, model)
        assert sum(parts.get("B", F(0)) for parts in found.drawn) + found.left.get("B", F(0)) == 600


def test_first_in_first_out() -> None:
    held = holding("plug")
    assert (min(held), max(held), sum(held.values())) == (33, 82, 600)
    drawn = given(WRONG_GRADE, "plug").drawn
    assert drawn[32] == {"A": F("9.6"), "B": F("2.6")}
    assert drawn[81] == {"B": F("11.8"), "C": F("0.4")}


def test_last_in_first_out() -> None:
    held = holding("funnel")
    assert (min(held), max(held), sum(held.values())) == (1, 50, 600)
    assert given(WRONG_GRADE, "funnel").drawn[49] == {"B": F("2.2"), "A": F(10)}


def test_fully_mixed() -> None:
    held = holding("mixed")
    assert {held[n] for n in range(1, 51)} == {F("7.32")}
    assert round(held[51] / CHARGE * 100, 2) == F("19.66")
    assert round(held[51], 3) == F("2.399")


@pytest.mark.django_db
def test_the_widest_bounds() -> None:
    """Nobody proved it empty: any charge after the wrong grade came may hold some, each model lies inside."""
    d = vessel()
    d.save()
    graph = walk([d.id("B")], "forward")
    shares = sweep(prepare(graph, flows(graph.nodes)), d.id("B")).shares
    bounds = [shares[d.id(f"CH{n}")].total for n in range(60)]
    assert {(b.least, b.most) for b in bounds} == {(0, 12_200_000)}
    for model in MODELS:
        held = holding(model)
        for n, bound in enumerate(bounds, 1):
            assert bound.most is not None
            assert bound.least <= held.get(n, F(0)) * 1_000_000 <= bound.most


@pytest.mark.outside("identity", "a heel of r of the whole leaves r to the n-th of a lot after n equal top-ups")
def test_how_long_a_lot_stays() -> None:
    """300 kg under 1200 kg each time: 0.2, 0.04, … ; below 0.1 % after five."""
    steps: list[Step] = [In("old", F(300))]
    for n in range(1, 6):
        steps += [In(f"new {n}", F(1200))]
        left = given(steps, "mixed").left
        assert left["old"] / 1500 * 5 == F(1, 5) ** (n - 1)
        steps += [Out(F(1200))]
    assert given(steps, "mixed").left["old"] / 300 == F(32, 100_000)
    for heel, per_cent in ((F(40), 1.02), (F(45), 1.85), (F(50), 3.13)):
        steps = [In("old", F(100))]
        for n in range(5):
            steps += [Out(100 - heel), In(f"new {n}", 100 - heel)]
        assert float(given(steps, "mixed").left["old"]) == pytest.approx(per_cent, abs=0.006)


@pytest.mark.outside("library", "scipy: the same bin as a differential equation, dm/dV = -m/V")
def test_many_small_top_ups_are_a_stirred_tank() -> None:
    """A bin of 500 kg kept full while 500 kg go through it keeps 36.8 % of what was in it."""
    steps: list[Step] = [In("old", F(500))]
    for _ in range(1000):
        steps += [Out(F("0.5")), In("new", F("0.5"))]
    left = float(given(steps, "mixed").left["old"]) / 500
    solved = solve_ivp(lambda _v, m: -m / 500, (0, 500), [1.0], rtol=1e-9, atol=1e-12)
    assert left == pytest.approx(float(np.asarray(solved.y)[0, -1]), abs=5e-4)
    assert left == pytest.approx(math.exp(-1), abs=5e-4)


@settings(max_examples=60)
@tried(st.lists(st.tuples(st.sampled_from("ioooe"), st.sampled_from("ABC"), st.integers(1, 40)), max_size=25))
def test_any_history_conserves(acts: list[tuple[str, str, int]]) -> None:
    steps: list[Step] = [
        In(lot, F(n)) if what == "i" else Out(F(n)) if what == "o" else Emptied() for what, lot, n in acts
    ]
    into = {lot: sum(s.amount for s in steps if isinstance(s, In) and s.lot == lot) for lot in "ABC"}
    for model in MODELS:
        found = given(steps, model)
        for lot, amount in into.items():
            drawn = sum(parts.get(lot, F(0)) for parts in found.drawn)
            assert drawn + found.left.get(lot, F(0)) + found.gone.get(lot, F(0)) == amount
        assert all(part > 0 for part in found.left.values())
