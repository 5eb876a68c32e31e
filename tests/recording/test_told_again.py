"""Whatever was told before, another told fact is recorded: what a replay says anew may go the same way twice."""

from __future__ import annotations

from datetime import timedelta

from tests.cast import LEAD, STORES, WO_RED, Cast, rows_of
from tests.recording.test_late import balances_agree
from trace.readmodels.rebuild import differences
from trace.recording.acts.loading import PlaceInserts, ReadyMould
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh

PAPER = {"unsure_ms": 60_000}


def test_an_insert_told_twice_and_its_box_filled_up_late(cast: Cast) -> None:
    then = cast.clock()
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(PlaceInserts(mould="T430-01", box=cast["m8"]))
    again = cast.scan(PlaceInserts(mould="T430-01", box=cast["m8"], positions=("S1",)), mode="tells")
    assert (again.outcome, again.code) == ("flagged", "INSERT-TAKEN")
    late = cast.late(TopUp(source=cast["m8b"], into=cast["m8"], amount="10", commingle=True), then, person=STORES)
    assert late.outcome == "accepted"
    used = rows_of(
        """SELECT sum(e.amount) FROM edge e WHERE e.role = 'insert' AND e.position = 'S1'
              AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id)"""
    )
    assert used == [(2,)]
    assert balances_agree() == []
    assert differences() == []


def test_a_draw_of_either_content_and_a_filling_before_both(cast: Cast) -> None:
    """Drawn on paper in the minute of a top-up, so out of the one or the other; then a first filling is told."""
    vessel, minute = cast["vessels"][0], timedelta(minutes=1)
    at = cast.clock().replace(second=0)
    cast.clock.now += timedelta(hours=1)
    cast.late(TopUp(source=cast["red"], into=vessel, amount="50"), at, person=LEAD, **PAPER)
    cast.late(TopUp(source=cast["red2"], into=vessel, amount="50"), at + 10 * minute, person=LEAD, **PAPER)
    weigh = Weigh(order=WO_RED, layer="skin", box=vessel, tub=cast["tubs"][0], scale="W-3", gross="12.20")
    cast.late(weigh, at + 11 * minute, **PAPER)
    first = cast.late(TopUp(source=cast["red"], into=vessel, amount="10"), at - minute, person=LEAD, **PAPER)
    assert first.outcome == "accepted"
    assert balances_agree() == []
    assert differences() == []
