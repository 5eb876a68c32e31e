"""The walk: what it reaches, as known on a day, against networkx (a general-purpose graph library)."""

from datetime import datetime

import networkx as nx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.genealogy.graphs import KG, Drawing, day
from trace.genealogy.all_ways import led_to
from trace.genealogy.flows import flows
from trace.genealogy.walk import REGRIND, reach, walk

pytestmark = pytest.mark.django_db
ROLES = ("draw", "heel", "topup", "charge", "cavity", "bind", "insert", "regrind", "fit", "join")


def names(drawing: Drawing, found: set[int]) -> str:
    return " ".join(sorted(drawing.name(n) for n in found))


def test_one_hull_and_one_lot() -> None:
    #   S1 -receive-> BAG1 -draw-> C1 -charge(skin)-> L1 -cavity-> M1 -bind-> H1 -pack-> P1
    #                  BAG1 -draw-> C2 -charge(skin)-> L2 -cavity-> M2         PLATE -plate-> H1
    #   S2 -receive-> BAG2 -draw-> C2
    d = Drawing()
    for lot in "S1", "S2":
        d.lot(lot)
    for bag, lot in ("BAG1", "S1"), ("BAG2", "S2"):
        d.content(bag, 25 * KG)
        d.edge(bag, lot, "receive", 25 * KG)
    for n in "12":
        d.unit("C" + n, "charge", 12 * KG)
        d.edge("C" + n, "BAG1", "draw", 10 * KG)
        d.unit("L" + n, "load")
        d.edge("L" + n, "C" + n, "charge", layer="skin")
        d.unit("M" + n, "moulding", lot_no="26-00" + n)
        d.edge("M" + n, "L" + n, "cavity")
    d.edge("C2", "BAG2", "draw", 2 * KG)
    for name, kind in ("H1", "hull"), ("PLATE", "plate"), ("P1", "pack"):
        d.unit(name, kind)
    d.serial("GHM-T430-004417", "PLATE")
    for child, parent, role in ("H1", "M1", "bind"), ("H1", "PLATE", "plate"), ("P1", "H1", "pack"):
        d.edge(child, parent, role)
    d.save()
    back = walk([d.id("H1")], "back")
    assert names(d, set(back.nodes)) == "BAG1 C1 H1 L1 M1 PLATE S1"
    assert back.nodes[d.id("H1")].code == "GHM-T430-004417"
    assert [(d.name(e.parent), d.name(e.child), e.role, e.layer) for e in back.edges] == [
        ("S1", "BAG1", "receive", None),
        ("BAG1", "C1", "draw", None),
        ("C1", "L1", "charge", "skin"),
        ("L1", "M1", "cavity", None),
        ("M1", "H1", "bind", None),
        ("PLATE", "H1", "plate", None),
    ]
    assert names(d, reach([d.id("S2")], "forward")) == "BAG2 C2 L2 M2 S2"
    assert names(d, set(walk([d.id("S1")], "forward").nodes)) == "BAG1 C1 C2 H1 L1 L2 M1 M2 P1 S1"
    assert flows(back.nodes) == {n: f for n, f in d.flows().items() if n in back.nodes}


def test_stops_and_says_where() -> None:
    #   A -draw-> B -regrind-> C -draw-> D          with a circle kept aside: D -decant-> A
    d = Drawing()
    for name, kind in ("A", "content"), ("B", "hull"), ("C", "regrind"), ("D", "charge"):
        d.unit(name, kind, 10 * KG)
    d.edge("B", "A", "draw", KG)
    d.edge("C", "B", "regrind", KG)
    d.edge("D", "C", "draw", KG)
    d.edge("A", "D", "decant", KG, aside=True)
    d.save()
    ordinary = walk([d.id("A")], "forward", stop_roles=REGRIND)
    assert (names(d, set(ordinary.nodes)), names(d, set(ordinary.stopped))) == ("A B", "B")
    assert ordinary.aside == ()
    through = walk([d.id("A")], "forward")
    assert names(d, set(through.nodes)) == "A B C D"
    assert [(d.name(e.parent), d.name(e.child)) for e in through.aside] == [("D", "A")]


def test_an_edge_counts_from_its_recording_to_its_withdrawal() -> None:
    #   A -draw-> C on day 1; withdrawn on day 3, when B -draw-> C took its place; a late edge A -draw-> E
    #   happened on day 1 and was recorded on day 5.
    d = Drawing()
    for name in "ABCE":
        d.content(name, 10 * KG)
    d.at(1).edge("C", "A", "draw", KG)
    d.at(3).void("C", "A")
    d.edge("C", "B", "draw", KG)
    d.at(1, recorded=5).edge("E", "A", "draw", KG)
    d.save()
    a = d.id("A")
    for when, wanted in (day(0.5), "A"), (day(1), "A C"), (day(2.9), "A C"), (day(3), "A"), (day(5), "A E"):
        assert names(d, reach([a], "forward", when)) == wanted
        assert names(d, set(walk([a], "forward", when).nodes)) == wanted
    assert names(d, reach([d.id("C")], "back", day(2))) == "A C"
    assert names(d, reach([d.id("C")], "back")) == "B C"


@st.composite
def histories(draw: st.DrawFn) -> Drawing:
    """Random graphs without circles: 2-14 units, edges recorded in any order, some withdrawn, some aside."""
    size = draw(st.integers(2, 14))
    d = Drawing()
    for n in range(size):
        d.content(f"N{n}", draw(st.integers(1, 50)) * KG)
    # The order of the graph is not the order of the ids: a late fact puts an old unit below a new one.
    order = draw(st.permutations(range(size)))
    for _ in range(draw(st.integers(0, 30))):
        above, below = sorted(draw(st.lists(st.integers(0, size - 1), min_size=2, max_size=2, unique=True)))
        d.at(draw(st.integers(1, 9)))
        amount = draw(st.one_of(st.none(), st.integers(1, 9)))
        d.edge(
            f"N{order[below]}", f"N{order[above]}", draw(st.sampled_from(ROLES)), amount and amount * KG,
            aside=draw(st.integers(0, 9)) == 0,
        )  # fmt: skip
        if draw(st.integers(0, 4)) == 0:
            d.at(draw(st.integers(1, 9))).void(f"N{order[below]}", f"N{order[above]}")
    if draw(st.booleans()):
        d.at(4).difference("N0", draw(st.integers(-3, 3)) * KG)
    return d


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(d=histories(), root=st.integers(0, 13), on=st.one_of(st.none(), st.integers(0, 10)), stop=st.booleans())
def test_reaches_what_networkx_reaches(db: None, d: Drawing, root: int, on: int | None, stop: bool) -> None:
    from django.db import transaction

    known: datetime | None = None if on is None else day(on)
    start = root % len(d.units) + 1
    live = [e for e in d.live(known) if not (stop and e.role == "regrind")]
    library: nx.MultiDiGraph[int] = nx.MultiDiGraph([(e.parent, e.child) for e in live])
    library.add_nodes_from(n.id for n in d.units.values())
    stop_roles = REGRIND if stop else ()
    with transaction.atomic():
        d.save()
        forward = walk([start], "forward", known, stop_roles=stop_roles)
        back = walk([start], "back", known, stop_roles=stop_roles)
        ids = reach([start], "forward", known, stop_roles=stop_roles)
        assert set(led_to([start], known, stop=stop_roles).tolist()) == ids
        counted = flows([n.id for n in d.units.values()], known)
        transaction.set_rollback(True)
    assert set(forward.nodes) == ids == nx.descendants(library, start) | {start}
    assert set(back.nodes) == nx.ancestors(library, start) | {start}
    assert {e.id for e in forward.edges} == {e.id for e in live if e.parent in ids}
    assert {e.id for e in back.edges} == {e.id for e in live if e.child in set(back.nodes)}
    assert counted == d.flows(known)
