"""Which one test would shrink the list most: boxes by the hulls that hang on them, records missing together."""

from random import Random

import numpy as np
import pytest

from tests.genealogy.graphs import KG, Drawing, day
from tests.genealogy.test_scope import bags, charge, hull
from trace.quality import next_test
from trace.quality.factors import Factor
from trace.quality.incidence import CERTAIN, MIXED, OPEN, incidence
from trace.quality.next_test import MOST_TESTS
from trace.quality.next_test import tests_of as worth_a_look
from trace.quality.ranking import periods, ranked
from trace.quality.samples import Sample, kept_samples


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


@pytest.mark.parametrize("seed", range(12))
def test_how_much_the_list_shrinks_is_what_counting_hull_by_hull_gives(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The oracle counts sets: of a box, the listed hulls out of it; of missing records, those whose only doubt they
    are."""
    rng = Random(seed)
    hulls, fillings = range(60), range(1, 9)
    has = {n: {h: rng.choice((MIXED, CERTAIN)) for h in rng.sample(hulls, rng.randint(1, 25))} for n in fillings}
    below = {n for n in fillings if rng.random() < 0.7}
    lot = dict.fromkeys(range(12), CERTAIN)
    lot |= {h: rng.choice((MIXED, OPEN, OPEN)) for h in rng.sample(range(12, 60), 12)}
    gaps = {n: set(rng.sample(hulls, rng.randint(1, 9))) for n in (9, 10, 11)}
    factors = [Factor("lot", "0"), *(Factor("container", str(n)) for n in fillings),
               *(Factor("gap", "insert", f"S{n}") for n in gaps)]  # fmt: skip
    rows = [(0, h, grade) for h, grade in lot.items()]
    rows += [(n, h, grade) for n, held in has.items() for h, grade in held.items()]
    rows += [(n, h, CERTAIN) for n, held in gaps.items() for h in held]
    pairs = incidence(60, len(factors), *np.array(rows).T)
    first = next(one for one in ranked(pairs, np.arange(60) < 10, periods(60)).nearest if 0 in one.causes)
    monkeypatch.setattr(next_test, "reach", lambda *_a, **_k: below)
    kept = [Sample(100 + n, n, None, f"S{n}") for n in fillings if rng.random() < 0.4]
    kept += [Sample(200, 9, 0, "OF LOT")] if seed % 3 == 0 else []
    monkeypatch.setattr(next_test, "kept_samples", lambda asked, _known: [one for one in kept if one.of in {*asked, 9}])

    wanted: dict[frozenset[str], tuple[int, bool]] = {}
    kept_of: dict[frozenset[str], list[str]] = {}
    doubts: dict[frozenset[str], int] = {}
    if seed % 3 == 0:
        wanted[frozenset({"0"})], kept_of[frozenset({"0"})] = (len(lot), False), ["OF LOT"]
        doubts[frozenset({"0"})] = sum(grade != CERTAIN for grade in lot.values())
    for n in below:
        hang = has[n].keys() & lot.keys()
        doubtful = [h for h in hang if lot[h] != CERTAIN]
        if hang:
            wanted[frozenset({str(n)})] = len(hang), 2 * len(doubtful) > len(hang)
            kept_of[frozenset({str(n)})] = [one.code for one in kept if one.of == n]
            doubts[frozenset({str(n)})] = len(doubtful)
    only_doubt = {n: frozenset(h for h in held if lot.get(h) == OPEN) for n, held in gaps.items()}
    for same in set(only_doubt.values()) - {frozenset()}:
        wanted[frozenset(f"S{n}" for n in gaps if only_doubt[n] == same)] = len(same), True
    found = worth_a_look(first, factors, pairs, day(9))
    told = {frozenset(f.part or f.key for f in test.factors): (test.hulls, test.settles) for test in found}
    assert told == {what: wanted[what] for what in told}
    for what, test in zip(told, found, strict=True):
        assert [one.code for one in test.samples] == kept_of.get(what, [])
        assert test.may == doubts.get(what, test.hulls)
        assert test.whole == (what == {"0"})
    assert {test.of for test in found} <= {len(lot)}
    assert [test.hulls for test in found] == sorted((n for n, _settles in wanted.values()), reverse=True)[:MOST_TESTS]


@pytest.mark.django_db
def test_a_sample_is_kept_until_it_is_used_or_discarded() -> None:
    """What each was taken of, and of which lot that was delivered; of a mix none is said."""
    d = Drawing()
    d.lot("A")
    d.content("a", 100 * KG, lot=d.units["A"].uid)
    d.edge("a", "A", "receive", 100 * KG)
    d.content("mix", 50 * KG)
    d.edge("mix", "a", "topup", 40 * KG)
    for name, of in (("S1", "a"), ("S2", "mix"), ("S3", "a"), ("S4", "a")):
        d.unit(name, "sample")
        d.edge(name, of, "sample", KG // 2)
    d.at(4).event("sample_ended", {}, [("S3", "status")])
    d.at(5).void("S4", "a")
    d.save()
    fillings = [d.id("a"), d.id("mix")]

    def told(n: int) -> dict[str, tuple[int, int | None]]:
        return {d.name(one.unit): (one.of, one.lot) for one in kept_samples(fillings, day(n))}

    of_lot, mixed = (d.id("a"), d.id("A")), (d.id("mix"), None)
    assert told(3) == {"S1": of_lot, "S2": mixed, "S3": of_lot, "S4": of_lot}
    assert told(4) == {"S1": of_lot, "S2": mixed, "S4": of_lot}
    assert told(5) == {"S1": of_lot, "S2": mixed}
    assert kept_samples([d.id("mix")], day(9))[0].tells_of(d.id("mix"))
    assert [one.tells_of(d.id("A")) for one in kept_samples(fillings, day(9))] == [True, False]
    assert kept_samples([], day(9)) == []
