"""Figures of a balance over random vessels: against linear programs, exactly conserved, and bugs planted on purpose."""

from collections.abc import Callable, Mapping
from fractions import Fraction

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.genealogy import test_balance
from tests.genealogy.graphs import START, Drawing
from tests.genealogy.test_amounts import true_bounds, vessels
from trace.genealogy.answer import what_was_known
from trace.genealogy.balance import subjects
from trace.genealogy.balance.ends import Ends
from trace.genealogy.balance.figures import Figure
from trace.genealogy.balance.reckoning import Reckoning
from trace.genealogy.balance.records import Said
from trace.genealogy.scope import prepare, sweep

Patch = pytest.MonkeyPatch


@st.composite
def weighed(draw: st.DrawFn) -> Drawing:
    """Vessels that fill each other, and charges weighed out of each; some are tipped into a mould."""
    d = draw(vessels(tree=False))
    for name, unit in list(d.units.items()):
        left = (unit.amount or 0) - sum(e.amount or 0 for e in d.live() if e.parent == unit.id)
        for n in range(draw(st.integers(0, 2)) if name[0] != "X" else 0):
            if left > 0:
                amount = draw(st.integers(1, left))
                left -= amount
                d.unit(f"C{name}.{n}", "charge", amount)
                d.edge(f"C{name}.{n}", name, "draw", amount)
                if draw(st.booleans()):
                    d.unit(f"L{name}.{n}", "load")
                    d.edge(f"L{name}.{n}", f"C{name}.{n}", "charge", amount, layer="skin")
    return d


def figures(d: Drawing) -> tuple[list[Figure], int]:
    """The figures of the balance of S, and how much of it there was."""
    graph = d.graph("S")
    plan = prepare(graph, d.flows())
    said = {edge.id: Said("", START) for edge in graph.edges}
    shares = sweep(plan, d.id("S")).shares
    reckoning = Reckoning(plan, shares, "mg", {d.id("S")}, Ends(graph, (), plan.mass), said, {})
    came = d.units["S"].amount or 0
    return reckoning.figures(came), came


@pytest.mark.outside("library", "scipy: linear programs (HiGHS) over every flow that conserves mass")
@settings(max_examples=25, deadline=None)
@given(d=weighed())
def test_no_flow_lies_outside_the_figures(d: Drawing) -> None:
    found, came = figures(d)
    by_way = {figure.way: figure.bounds for figure in found}
    # Every vessel fully mixed, each milligram is somewhere, once.
    assert sum((bounds.best or Fraction(0) for bounds in by_way.values()), Fraction(0)) == came
    tipped = {d.name(e.parent) for e in d.live() if e.role == "charge"}
    for way, names in (
        ("moulds", tipped),
        ("charges", {name for name in d.units if name[0] == "C"} - tipped),
    ):
        least, most = true_bounds_of_draws(d, names)
        bounds = by_way.get(way)
        if bounds is None:
            assert most == pytest.approx(0, abs=1e-6)
            continue
        assert bounds.best is not None
        assert bounds.most is not None
        assert bounds.least <= least + 1e-6
        assert bounds.most >= most - 1e-6
        assert bounds.least <= bounds.best <= bounds.most


def true_bounds_of_draws(d: Drawing, names: set[str]) -> tuple[float, float]:
    """Of S in all these charges together; what went on from a charge is still of it."""
    bare = Drawing()
    bare.units = {name: unit for name, unit in d.units.items() if unit.kind != "load"}
    bare.edges = [drawn for drawn in d.edges if drawn.edge.role != "charge"]
    return true_bounds(bare, "S")(*names) if names else (0.0, 0.0)


def differences_forgotten(patch: Patch) -> None:
    patch.setattr(Reckoning, "left", lambda self, unit: _amount(self, unit) - self.plan.flows[unit].drawn)


def _amount(reckoning: Reckoning, unit: int) -> int:
    return reckoning.plan.graph.nodes[unit].amount or 0


def a_mix_counted_as_pure(patch: Patch) -> None:
    patch.setattr(Reckoning, "ratio", lambda *_: Fraction(1))


def scrap_forgotten(patch: Patch) -> None:
    patch.setattr(subjects, "scrapped_among", lambda *_: set())


def a_twin_counted_twice(patch: Patch) -> None:
    def twice(self: Ends, unit: int) -> Mapping[str, Fraction]:
        return {way: Fraction(1) for way in honest(self, unit)}

    honest = Ends.of
    patch.setattr(Ends, "of", twice)


def poured_back_forgotten(patch: Patch) -> None:
    patch.setattr("trace.genealogy.balance.reckoning._spread", lambda *_: False)


def day_forgotten(patch: Patch) -> None:
    patch.setattr(subjects, "what_was_known", lambda _asked: what_was_known(None))


CHECKS = (
    test_balance.test_where_it_is_now, test_balance.test_as_known_on_a_day,
    test_balance.test_what_is_missing_from_a_vessel_is_shared_out,
)  # fmt: skip


@pytest.mark.django_db
@pytest.mark.parametrize(
    "plant",
    [
        differences_forgotten, a_mix_counted_as_pure, scrap_forgotten, a_twin_counted_twice, poured_back_forgotten,
        day_forgotten,
    ],
)  # fmt: skip
def test_a_planted_bug_is_found(plant: Callable[[Patch], None], monkeypatch: Patch) -> None:
    plant(monkeypatch)
    found = []
    for check in CHECKS:
        with transaction.atomic():
            try:
                check()
            except AssertionError:
                found.append(check.__name__)
            transaction.set_rollback(True)
        if found:
            break
    assert found
