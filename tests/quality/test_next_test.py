"""Which one test would shrink the list most: boxes by the hulls that hang on them, records missing together."""

import numpy as np
import pytest

from tests.genealogy.graphs import KG, Drawing, day
from tests.genealogy.test_scope import bags, charge, hull
from trace.quality.factors import Factor
from trace.quality.incidence import CERTAIN, MIXED, OPEN, incidence
from trace.quality.next_test import tests_of as worth_a_look
from trace.quality.ranking import periods, ranked


@pytest.mark.django_db
def test_what_most_hulls_hang_on_comes_first() -> None:
    d = Drawing()
    bags(d, A=400)
    for box in ("one", "two"):
        d.content(box, 100 * KG)
        d.edge(box, "a", "decant", 100 * KG)
    d.content("silo", 200 * KG)
    d.edge("silo", "two", "topup", 50 * KG)
    charge(d, "C", ("one", 12 * KG))
    hull(d, "1", ("C", "skin"))
    d.save()
    factors = [
        Factor("lot", str(d.id("A"))), Factor("container", str(d.id("one"))), Factor("container", str(d.id("silo"))),
        Factor("gap", "insert", "S1"), Factor("gap", "insert", "S2"), Factor("mould", "T430-01"),
    ]  # fmt: skip
    # Twelve of forty hulls are on the list: six out of one, four by the silo, two for want of two records each.
    sets = {0: range(6), 1: range(6), 2: range(6, 10), 3: (10, 11), 4: (10, 11), 5: range(0, 40, 2)}
    rows = [(cause, h, CERTAIN) for cause, hulls in sets.items() for h in hulls]
    rows += [(0, h, MIXED) for h in range(6, 10)] + [(0, h, OPEN) for h in (10, 11)]
    pairs = incidence(40, 6, *np.array(rows).T)
    ranking = ranked(pairs, np.arange(40) < 9, periods(40))
    assert ranking.first is not None
    found = worth_a_look(ranking.first, factors, pairs, day(9))
    assert [([f.key for f in test.factors], test.hulls, test.of, test.settles) for test in found] == [
        ([str(d.id("one"))], 6, 12, False), ([str(d.id("silo"))], 4, 12, True), (["insert", "insert"], 2, 12, True),
    ]  # fmt: skip
    assert worth_a_look(None, factors, pairs, day(9)) == ()
