"""One arm runs one cycle at a time with one mould on a position; a stage told late is judged by its own time."""

from __future__ import annotations

from datetime import datetime, timedelta

from tests.cast import WO_RED, Cast, rows_of
from trace.readmodels.rebuild import differences
from trace.recording.acts.cook import CookStage, EndCook
from trace.recording.acts.demould import Demould
from trace.recording.acts.loading import CloseMould, ReadyMould
from trace.recording.acts.oven import StartCook


def cooked(cast: Cast, mould: str, minutes: int = 60) -> tuple[datetime, datetime]:
    """One load cooked on S1 and taken out; from when to when it was in its cycle."""
    cast.moulding(mould, "S1")
    start, end = rows_of(
        """SELECT max(happened) FILTER (WHERE kind = 'cook_started'), max(happened) FILTER (WHERE kind = 'cooled')
             FROM event"""
    )[0]
    cast.scan(Demould(mould=mould))
    cast.clock.now += timedelta(minutes=minutes)
    return start, end


def test_a_cook_told_late_that_overlaps_another_on_its_arm_is_held(cast: Cast) -> None:
    start, end = cooked(cast, "T430-01")
    cast.scan(ReadyMould(mould="T430-02", order=WO_RED, arm="S1"), happened=start - timedelta(minutes=5), mode="tells")
    cast.scan(CloseMould(mould="T430-02", counted="12"), happened=start - timedelta(minutes=4), mode="tells")
    told = cast.late(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-02",)), start + (end - start) / 2)
    assert "COOK-OVERLAPS" in {f["code"] for f in told.found}
    assert told.outcome == "flagged"


def test_a_cook_told_late_beside_no_other_is_not(cast: Cast) -> None:
    _start, end = cooked(cast, "T430-01")
    cast.scan(ReadyMould(mould="T430-02", order=WO_RED, arm="S1"))
    cast.clock.now += timedelta(minutes=30)
    told = cast.late(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-02",)), end + timedelta(minutes=50))
    assert "COOK-OVERLAPS" not in {f["code"] for f in told.found}


def test_an_end_told_late_that_reaches_into_the_next_cook_is_held(cast: Cast) -> None:
    start, end = cooked(cast, "T430-01")
    cast.scan(ReadyMould(mould="T430-02", order=WO_RED, arm="S1"), happened=start - timedelta(minutes=9), mode="tells")
    first = cast.late(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-02",)), start - timedelta(minutes=8))
    assert "COOK-OVERLAPS" not in {f["code"] for f in first.found}
    told = cast.late(EndCook(mould="T430-02", piat="208", log="attached"), start + (end - start) / 2)
    assert "COOK-OVERLAPS" in {f["code"] for f in told.found}


def test_a_stage_told_late_is_judged_by_the_stage_of_its_time(cast: Cast) -> None:
    cast.moulding()
    times = dict(rows_of("SELECT kind, max(happened) FROM event GROUP BY kind"))
    started, ended = times["cook_started"], times["cook_ended"]
    assert ended - started >= timedelta(minutes=5)
    # It stands in the mould still, to be demoulded; the stage was seen while it was in the oven.
    cast.clock.now += timedelta(minutes=30)
    told = cast.late(CookStage(mould="T430-01", stage="heat", temperature="121"), started + (ended - started) / 2)
    assert "STAGE-UNKNOWN" not in {f["code"] for f in told.found}
    before = cast.late(CookStage(mould="T430-01", stage="heat"), started - timedelta(minutes=10))
    assert "STAGE-UNKNOWN" in {f["code"] for f in before.found}
    after = cast.late(CookStage(mould="T430-01", stage="heat"), times["cooled"] + timedelta(minutes=10))
    assert "STAGE-UNKNOWN" in {f["code"] for f in after.found}


def test_moulds_of_one_arm_stand_on_positions_of_their_own(cast: Cast) -> None:
    for mould in ("T430-02", "T430-01"):
        cast.scan(ReadyMould(mould=mould, order=WO_RED, arm="S1"))
        cast.scan(CloseMould(mould=mould, counted="12"), mode="tells")
    cast.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01", "T430-02")), mode="tells")
    found = rows_of("SELECT u.about->>'mould', k.position FROM cook k JOIN unit u ON u.id = k.unit ORDER BY 1")
    assert found == [("T430-01", "S1/2"), ("T430-02", "S1/1")]
    assert differences() == []


def test_two_moulds_cannot_be_made_ready_on_one_position(cast: Cast) -> None:
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1", position="2"))
    second = ReadyMould(mould="T430-02", order=WO_RED, arm="S1", position="2")
    assert cast.scan(second, expect="ARM-POSITION-TAKEN").code == "ARM-POSITION-TAKEN"
    assert cast.scan(ReadyMould(mould="T430-02", order=WO_RED, arm="S1", position="1")).outcome == "accepted"
