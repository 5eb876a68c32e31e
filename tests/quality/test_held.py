"""What many hulls hold, all in one pass: against the passes of trace/genealogy/scope.py, one suspect at a time."""

import os
from collections import Counter
from random import Random

import numpy as np
import pytest

from tests.genealogy.graphs import KG, Drawing
from tests.genealogy.test_scope import bags, charge, hull
from trace.genealogy.amounts import NOTHING as NONE
from trace.genealogy.graph import Graph
from trace.genealogy.scope import Share, prepare, sweep
from trace.quality.held import Held, Pairs, held

LONG = bool(os.environ.get("LONG_TESTS"))


def drawn(seed: int) -> Drawing:
    """Lots in bags, silos topped up with and without a weighed heel, charges out of one or two, twins, inserts from
    mixed boxes, counts that differ, records of amounts that are missing."""
    random = Random(seed)
    d = Drawing()
    bags(d, **dict.fromkeys(("A", "B", "C"), 400))
    stock = ["a", "b", "c"]
    for n in range(random.randint(1, 4)):
        name, parts = f"mix{n}", random.sample(stock, random.randint(1, 2))
        much = [random.choice((20, 60, 100)) * KG for _ in parts]
        known = [None if random.random() < 0.1 else m for m in much]
        d.content(name, sum(much) if None not in known or random.random() < 0.7 else None)
        for part, amount in zip(parts, known, strict=True):
            d.edge(name, part, random.choice(("topup", "heel")), amount)
        if random.random() < 0.2:
            d.difference(name, random.choice((-3, 2)) * KG)
        stock.append(name)
    for lot in ("N1", "N2"):
        d.lot(lot)
    d.content("box", 100, "pc")
    for lot in random.choice((("N1",), ("N1", "N2"))):
        d.edge("box", lot, "receive", 50, "pc")
    for n in range(5):
        layers = []
        for layer in ("skin", "inner"):
            name = f"c{n}{layer}"
            sources = random.sample(stock, random.randint(1, 2))
            told: list[tuple[str, int | None]] = [(s, None if random.random() < 0.1 else 6 * KG) for s in sources]
            charge(d, name, *told, amount=6 * KG * len(told) if random.random() < 0.8 else None)
            layers.append((name, layer))
        hull(d, str(n), *layers)
        for position in ("S1", "S2"):
            d.edge(f"L{n}", "box", "insert", 1, "pc", position=position)
        if random.random() < 0.3:
            d.unit(f"Mt{n}", "moulding")
            d.edge(f"Mt{n}", f"L{n}", "cavity")
            d.unit(f"Ht{n}", "hull")
            d.edge(f"Ht{n}", f"Mt{n}", "bind")
    return d


def everything(d: Drawing) -> Graph:
    return d.graph("A")


def found(d: Drawing) -> tuple[Held, list[int]]:
    hulls = sorted(node.id for node in d.units.values() if node.kind == "hull")
    return held(everything(d), d.flows(), np.array(hulls)), hulls


@pytest.mark.parametrize("seed", range(60 if LONG else 12))
@pytest.mark.outside("identity", "all lots at once is each lot by itself")
def test_every_lot_and_content_is_in_the_hulls_that_a_pass_of_its_own_finds(seed: int) -> None:
    d = drawn(seed)
    answer, hulls = found(d)
    plan = prepare(everything(d), d.flows())
    pairs = answer.pairs
    certain: Counter[str] = Counter()
    for node in d.units.values():
        if node.kind not in ("lot", "content"):
            continue
        mine = pairs.take(answer.units[pairs.source] == node.id)
        shares = {h: s for h, s in sweep(plan, node.id, only=hulls).shares.items() if s.verdict != "cannot"}
        assert {int(answer.units[u]) for u in mine.unit} == shares.keys()
        for h, share in shares.items():
            here = mine.take(answer.units[mine.unit] == h)
            same_parts(answer, here, share, certain)
    # What is certain of one draw alone is found; of several together it may be told as possible.
    assert certain["here"] >= 0.9 * certain["there"]


def same_parts(answer: Held, here: Pairs, share: Share, certain: Counter[str]) -> None:
    """No part is missing, none is certain that is not, and well mixed it is as much."""
    wanted = {part for part, bounds in share.layers.items() if bounds.verdict != "cannot"}
    assert {answer.parts[p] for p in here.part} >= wanted
    for part, sure, best in zip(here.part, here.certain, here.best, strict=True):
        bounds = share.layers.get(answer.parts[part], NONE)
        assert bounds.verdict == "certain" or not sure
        certain["here"] += bool(sure)
        certain["there"] += bounds.verdict == "certain"
        if bounds.best is not None and bounds.verdict != "cannot" and not np.isnan(best):
            assert best == pytest.approx(float(bounds.best), rel=1e-9, abs=1e-3)


def test_a_hull_holds_its_own_moulding_load_and_charges() -> None:
    d = drawn(1)
    answer, _hulls = found(d)
    mine = answer.pairs.take(answer.units[answer.pairs.unit] == d.id("H0"))
    named = {d.name(int(answer.units[s])) for s, certain in zip(mine.source, mine.certain, strict=True) if certain}
    assert {"H0", "M0"} <= named


def test_a_share_of_less_than_a_millionth_is_left_out_and_counted() -> None:
    d = Drawing()
    bags(d, A=400, B=400)
    last = "a"
    for n in range(8):
        d.content(f"m{n}", 101 * KG)
        d.edge(f"m{n}", last, "heel", KG)
        d.edge(f"m{n}", "b", "topup", 100 * KG)
        last = f"m{n}"
    charge(d, "C", (last, 10 * KG))
    hull(d, "1", ("C", "skin"))
    answer = held(d.graph("A"), d.flows(), np.array([d.id("H1")]))
    names = {d.name(int(answer.units[s])) for s in answer.pairs.source}
    assert "B" in names
    assert "A" not in names
    assert answer.left_out > 0
