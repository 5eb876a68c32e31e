"""Dispersion: links counted down from lots and up from hulls are the same links.

Total downward = total upward = number of links between raw lots and finished units (Dupuy, Botta-Genoulaz
& Guinet 2005, from memory). The worked case: hull groups G1 60 {S1 F1 N1}, G2 20 {S1 S2 F1 N1}, G3 70 {S2
F1 N1}, G4 50 {S2 F1 N2} have 620 links; the largest recall is 200, the mean 124.
"""

from collections import Counter

import pytest

from tests.genealogy.graphs import Drawing
from trace.genealogy.flows import flows
from trace.genealogy.scope import prepare, sweep
from trace.genealogy.walk import walk

pytestmark = pytest.mark.django_db
G = 1_000_000
GROUPS = ((60, "S1", "F1", "N1"), (20, "S1S2", "F1", "N1"), (70, "S2", "F1", "N1"), (50, "S2", "F1", "N2"))


def plant() -> tuple[Drawing, list[str]]:
    """Each group's skins come from one hopper; G2's holds 120 kg of S1 and 120 kg of S2, drawn by 12."""
    d = Drawing()
    for lot in "S1", "S2", "F1":
        d.lot(lot)
        d.content(lot.lower(), 5000 * G)
        d.edge(lot.lower(), lot, "receive", 5000 * G)
    for lot in "N1", "N2":
        d.lot(lot)
        d.content(lot.lower(), 500, "pc")
        d.edge(lot.lower(), lot, "receive", 500, "pc")
    d.content("s1s2", 240 * G)
    for lot in "s1", "s2":
        d.edge("s1s2", lot, "topup", 120 * G)
    hulls = []
    for group, (count, skin, foam, insert) in enumerate(GROUPS, 1):
        for n in range(count):
            name = f"G{group}.{n}"
            d.unit("CS" + name, "charge", 12 * G)
            d.edge("CS" + name, skin.lower(), "draw", 12 * G)
            d.unit("CF" + name, "charge", 9 * G)
            d.edge("CF" + name, foam.lower(), "draw", 9 * G)
            d.unit("L" + name, "load")
            d.edge("L" + name, "CS" + name, "charge", layer="skin")
            d.edge("L" + name, "CF" + name, "charge", layer="foam")
            d.edge("L" + name, insert.lower(), "insert", 1, "pc", position="S1")
            d.unit("M" + name, "moulding")
            d.edge("M" + name, "L" + name, "cavity")
            d.unit(name, "hull")
            d.edge(name, "M" + name, "bind")
            hulls.append(name)
    return d, hulls


def test_the_worked_case() -> None:
    d, hulls = plant()
    d.save()
    lots = ("S1", "S2", "F1", "N1", "N2")
    down = {}
    for lot in lots:
        graph = walk([d.id(lot)], "forward")
        down[lot] = sum(n.kind == "hull" for n in graph.nodes.values())
    back = {h: walk([d.id(h)], "back") for h in hulls}
    up = {h: sum(n.kind == "lot" for n in graph.nodes.values()) for h, graph in back.items()}
    assert down == {"S1": 80, "S2": 140, "F1": 200, "N1": 150, "N2": 50}
    assert sum(down.values()) == sum(up.values()) == 60 * 3 + 20 * 4 + 70 * 3 + 50 * 3 == 620
    assert (max(down.values()), sum(down.values()) / len(lots)) == (200, 124)
    # Of S1: the 60 drawn from its own bag for certain; the 20 from the mixed hopper may; the rest cannot.
    graph = walk([d.id("S1")], "forward")
    shares = sweep(prepare(graph, flows(graph.nodes)), d.id("S1")).shares
    said = Counter(shares[d.id(h)].verdict if d.id(h) in shares else "cannot" for h in hulls)
    assert said == {"certain": 60, "may": 20, "cannot": 120}
