"""Dispersion: links counted down from lots and up from hulls are the same links.

Total downward = total upward = number of links between raw lots and finished units (Dupuy, Botta-Genoulaz
& Guinet 2005, from memory). The worked case: hull groups G1 60 {S1 F1 N1}, G2 20 {S1 S2 F1 N1}, G3 70 {S2
F1 N1}, G4 50 {S2 F1 N2} have 620 links; the largest recall is 200, the mean 124.
"""

import random
from collections import Counter

import networkx as nx
import pytest

from tests.genealogy.graphs import Drawing
from trace.genealogy.dispersion import at_stake, counted, dispersion_of
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


@pytest.mark.outside("library", "networkx: ancestors and descendants of random graphs")
def test_random_graphs_against_networkx() -> None:
    for seed in range(60):
        dice = random.Random(seed)
        size = dice.randint(2, 60)
        edges = {(child, dice.randrange(child)) for child in range(1, size) for _ in range(dice.randint(0, 3))}
        graph: nx.DiGraph[int] = nx.DiGraph()
        graph.add_nodes_from(range(size))
        graph.add_edges_from((parent, child) for child, parent in edges)
        lots = [n for n in graph if graph.in_degree(n) == 0]
        hulls = [n for n in graph if graph.out_degree(n) == 0 and n not in lots]
        found = counted(edges, lots, hulls)
        down = {lot: len(nx.descendants(graph, lot) & set(hulls)) for lot in lots}
        assert found.down == {lot: count for lot, count in down.items() if count}
        assert found.up == {hull: len(nx.ancestors(graph, hull) & set(lots)) for hull in hulls}
        assert sum(found.down.values()) == sum(found.up.values()) == found.links


def test_a_circle_ends() -> None:
    found = counted([(2, 1), (3, 2), (2, 3), (4, 3)], [1], [4])
    assert found.down == {1: 1} and found.up == {4: 1}


@pytest.mark.outside("published", "Dupuy, Botta-Genoulaz and Guinet 2005: links counted down and up, from memory")
def test_the_worked_case() -> None:
    d, hulls = plant()
    d.save()
    found = dispersion_of([d.id(h) for h in hulls])
    assert found.down == {d.id(lot): n for lot, n in (("S1", 80), ("S2", 140), ("F1", 200), ("N1", 150), ("N2", 50))}
    assert (found.links, found.worst, float(found.mean)) == (620, 200, 124)
    assert Counter(found.up.values()) == {3: 180, 4: 20}
    stake = at_stake([d.id("S1"), d.id("N2")])
    assert [(s.lot.lot_no, s.count, len(s.under_way)) for s in stake] == [("S1", 80, 0), ("N2", 50, 0)]
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


@pytest.mark.outside("identity", "sum down = sum up = links; a clean changeover takes 20 links away, 620 to 600")
def test_a_clean_changeover() -> None:
    """The 20 hulls of G2 come 10 from S1 alone and 10 from S2 alone: nobody topped up, the hopper was run empty."""
    edges = []
    for group, (count, skin, foam, insert) in enumerate(GROUPS, 1):
        for n in range(count):
            skins = (("S1",) if n < 10 else ("S2",)) if group == 2 else (skin,)
            edges += [(f"G{group}.{n}", lot) for lot in (*skins, foam, insert)]
    names = {name: n for n, name in enumerate(sorted({name for edge in edges for name in edge}))}
    found = counted(
        [(names[child], names[lot]) for child, lot in edges], [names[x] for x in ("S1", "S2", "F1", "N1", "N2")],
        [n for name, n in names.items() if name.startswith("G")],
    )  # fmt: skip
    assert (found.down[names["S1"]], found.down[names["S2"]]) == (70, 130)
    assert found.links == sum(found.up.values()) == 600
    assert found.mean == 120
