"""What is poured together: the mix is as free as the less free of the two."""

from __future__ import annotations

import pytest

from tests.cast import LEAD, STORES, WO_RED, Cast, rows_of
from trace.readmodels.rows import Rows
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.told_late.contents import worse
from trace.recording.transaction.circles import set_aside


def test_powder_on_top_does_not_release_what_waits_in_quarantine(cast: Cast) -> None:
    delivery = Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-2400", amounts=("100",), vessel_kind="vessel")
    vessel = cast.scan(delivery, person=STORES).made["codes"][0]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="5"), person=LEAD)
    weigh = Weigh(order=WO_RED, layer="skin", box=vessel, tub=cast["tubs"][0], scale="W-3", gross="12.20")
    assert cast.scan(weigh, expect="SOURCE-NOT-RELEASED").code == "SOURCE-NOT-RELEASED"


@pytest.mark.parametrize(
    ("heel", "added", "mix"),
    [
        (None, "released", "released"), ("released", "quarantine", "quarantine"),
        ("conditionally released", "released", "conditionally released"),
        ("quarantine", "conditionally released", "quarantine"), ("made before records", "released", "released"),
    ],
)  # fmt: skip
def test_the_less_free_of_two_stands(heel: str | None, added: str, mix: str) -> None:
    assert worse(added, heel) == mix


@pytest.mark.parametrize(("poured", "edges"), [("12.2", []), ("12.199999", [(1,)])], ids=["all", "all but a milligram"])
def test_a_tub_that_was_poured_out_is_tipped_with_nothing_in_it(
    cast: Cast, poured: str, edges: list[tuple[int]]
) -> None:
    tub = cast["tubs"][0]
    cast.charge("skin", cast["red"], tub)
    cast.scan(TopUp(source=tub, into=cast["vessels"][0], amount=poured), person=STORES, mode="tells")
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=tub), mode="tells")
    assert rows_of("SELECT amount FROM edge WHERE role = 'charge'") == edges
    gaps = rows_of("SELECT g.what FROM gap g JOIN unit u ON u.id = g.unit WHERE u.kind = 'load' AND g.what = 'charge'")
    assert bool(gaps) == (not edges)


@pytest.mark.parametrize("withdrawn", [False, True], ids=["stands", "is withdrawn by the same event"])
def test_a_way_back_closes_a_circle_only_while_the_way_there_stands(cast: Cast, withdrawn: bool) -> None:
    """The tub was poured into the vessel: that the vessel was poured into the tub would be a circle."""
    tub, vessel = cast["tubs"][0], cast["vessels"][0]
    cast.charge("skin", cast["red"], tub)
    cast.scan(TopUp(source=tub, into=vessel, amount="5"), person=STORES, mode="tells")
    ((event, n, child, parent),) = rows_of(
        """SELECT v.uid::text, e.n, c.uid::text, p.uid::text FROM edge e JOIN event v ON v.id = e.event
             JOIN unit c ON c.id = e.child JOIN unit p ON p.id = e.parent WHERE e.role = 'topup'"""
    )
    rows = Rows()
    if withdrawn:
        rows.void(event, n)
    rows.edge(parent, child, "topup", amount=5_000_000, uom="mg")
    set_aside(rows, set())
    (edge,) = rows.parts["edges"]
    assert bool(edge.get("aside")) is not withdrawn
    assert ("discrepancies" in rows.parts) is not withdrawn
