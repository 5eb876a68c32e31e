"""The made-up plant has the shape it says, and the measurement runs from end to end on a tiny one."""

from collections import Counter

import networkx as nx
import pytest
from django.core.management import call_command

from trace.measure.plant import Plant
from trace.measure.records import KINDS, ROLES
from trace.measure.walk import quantile


def test_the_made_up_plant_has_the_shape_it_says() -> None:
    plant = Plant(seed=1)
    plant.make(3000)
    r = plant.records
    assert 20 < len(r.child) / 3000 < 23
    draws = Counter(c for c, role in zip(r.child, r.role, strict=True) if ROLES[role] == "draw")
    assert 1.8 < sum(draws.values()) / len(draws) < 2.3
    assert 0.003 < len(r.void) / len(r.child) < 0.008
    out_of_order = sum(b < a for a, b in zip(r.minute, r.minute[1:], strict=False))
    assert out_of_order == 0
    # Recorded in order of ids, but of things made in another order.
    assert list(r.recorded) == sorted(r.recorded)
    late = sum(at > r.minute[child - 1] for child, at in zip(r.child, r.recorded, strict=True))
    assert 0.007 < (late - len(r.void)) / len(r.child) < 0.02
    assert nx.is_directed_acyclic_graph(nx.DiGraph(zip(r.parent, r.child, strict=True)))
    assert Counter(KINDS[k] for k in r.kind)["hull"] == len(plant.hulls)


def test_the_same_seed_makes_the_same_plant() -> None:
    one, other = Plant(seed=7), Plant(seed=7)
    one.make(100)
    other.make(100)
    assert one.records.child == other.records.child
    assert one.records.void == other.records.void


def test_quantiles() -> None:
    assert quantile([3, 1, 2, 4], 0.5) == 2
    assert quantile([3, 1, 2, 4], 0.99) == 4


def test_it_measures(fresh_database: object, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("measure", "walk", "--hulls", "60", "--small", "60", "--walks", "3")
    said = capsys.readouterr().out
    assert "back, not through regrind" in said
    assert "of the target of 20 ms" in said
