"""The oven's records: what is told late moves no mould back, and what a cook can be asked that no page asks."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.cast import LEAD, WO_RED, Cast, plate, rows_of
from trace.readmodels.plantdata import newest
from trace.readmodels.rebuild import differences
from trace.recording.acts.cook import CookStage, EndCook, EndCooling
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.oven import StartCook, _before_the_oven, logger_facts
from trace.recording.commands import By
from trace.recording.floor.standing import Floor


def stands(mould: str = "T430-01") -> tuple[str, str, str | None]:
    """Stage of the mould, status of its load, number of its cycle."""
    stage, status, number = rows_of(
        """SELECT m.stage, s.status, c.number FROM mould_state m JOIN resource r ON r.id = m.mould
             JOIN unit_state s ON s.unit = m.load LEFT JOIN cycle c ON c.id = m.cycle WHERE r.key = %s""",
        mould,
    )[0]
    return stage, status, number


def test_what_is_told_of_a_stage_that_has_passed_moves_no_mould_back(cast: Cast) -> None:
    cast.moulding()
    before = stands()
    assert before[:2] == ("to demould", "to demould")
    end = EndCook(mould="T430-01", piat="209", log="attached")
    for command in (end, StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",)), EndCooling(mould="T430-01")):
        told = cast.scan(command, mode="tells")
        assert told.outcome == "flagged"
        assert stands() == before
    # The record is kept, and so is what was read; the second cycle too.
    read = rows_of("SELECT value::int FROM reading WHERE quantity = 'peak internal air' ORDER BY event")
    assert read == [(208,), (209,)]
    assert rows_of("SELECT count(*) FROM cook") == [(2,)]
    touched = rows_of(
        "SELECT count(DISTINCT e.id) FROM event_unit x JOIN event e ON e.id = x.event JOIN unit u ON u.id = x.unit"
        " WHERE u.kind = 'load' AND e.kind IN ('cook_ended', 'cooled')"
    )
    assert touched == [(4,)]
    assert differences() == []


def test_a_start_that_is_told_after_its_end_gives_the_cycle_and_moves_nothing(cast: Cast) -> None:
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(EndCook(mould="T430-01", piat="208", log="attached"), mode="tells")
    assert stands() == ("cooling", "cooling", None)
    cast.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",)), mode="tells")
    stage, status, number = stands()
    assert (stage, status, bool(number)) == ("cooling", "cooling", True)
    assert differences() == []


def test_an_empty_mould_stays_empty_whatever_is_told_of_its_cook(cast: Cast) -> None:
    for command in (
        StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",)), EndCook(mould="T430-01", piat="208", log="attached"),
        EndCooling(mould="T430-01", demould_c="50"),
    ):  # fmt: skip
        cast.scan(command, mode="tells")
        assert rows_of("SELECT count(*) FROM mould_state WHERE stage <> 'empty'") == [(0,)]


def closed(cast: Cast, mould: str, n: int, arm: str = "S1") -> None:
    """A kayak's mould closed on its arm, with its three charges from the n-th tub and drop boxes."""
    tub, foam, inner = cast["tubs"][n], cast["boxes"][2 * n], cast["boxes"][2 * n + 1]
    cast.charge("skin", cast["red"], tub)
    cast.charge("foam", cast["foam"][0], foam)
    cast.charge("inner", cast["natural"], inner)
    cast.shift.load(
        mould, WO_RED, arm, [tub, foam, inner], [cast["m8"], cast["m6"]],
        [cast["side"], cast["side"], cast["capacity"]],
    )  # fmt: skip


def test_an_arm_with_a_hull_cooked_again_takes_no_second_start(cast: Cast) -> None:
    cast.hull(plate(1))
    closed(cast, "T430-02", 1)
    cast.scan(StartCook(oven="OVEN-2", arm="S1", units=(plate(1),)))
    second = StartCook(oven="OVEN-2", arm="S1", moulds=("T430-02",), loggers=("LG-2",))
    refused = cast.scan(second, expect="SECOND-OPEN-CYCLE")
    assert (refused.code, refused.why) == ("SECOND-OPEN-CYCLE", f"{plate(1)} is in oven again.")
    elsewhere = cast.scan(StartCook(oven="OVEN-2", arm="S2", moulds=("T430-02",)), expect="MOULD-ON-OTHER-ARM")
    assert elsewhere.code == "MOULD-ON-OTHER-ARM"


def test_a_start_told_of_before_the_open_cycle_is_no_second_one(cast: Cast) -> None:
    closed(cast, "T430-01", 0)
    then = cast.clock()
    closed(cast, "T430-02", 1)
    cast.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-02",), loggers=("LG-2",)))
    first = StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",), loggers=("LG-1",))
    assert cast.scan(first, expect="SECOND-OPEN-CYCLE").code == "SECOND-OPEN-CYCLE"
    assert cast.late(first, then).outcome == "accepted"


@pytest.mark.parametrize(
    ("stages", "said"),
    [
        ({"A": "empty"}, "A: nothing is in it, take it off the list"),
        ({"A": "open", "B": "open"}, "A and B: close it at the loading station"),
        ({"A": "open", "B": "empty"}, "B: nothing is in it, take it off the list; A: close it at the loading station"),
        ({"A": "closed"}, "Take off the list what does not go in"),
    ],
)
def test_what_is_to_be_done_before_the_oven_is_said_of_each_mould(stages: dict[str, str], said: str) -> None:
    assert _before_the_oven(stages) == said


@pytest.mark.parametrize(("units", "strange"), [((), True), (("M-1",), False)])
def test_a_moulding_cooked_again_may_have_any_logger(cast: Cast, units: tuple[str, ...], *, strange: bool) -> None:
    start = StartCook(oven="OVEN-2", arm="S1", units=units, loggers=("L-1",))
    floor = Floor(By(person=LEAD), newest(), cast.clock.now, cast.clock.now)
    assert logger_facts(start, floor)["strange"] == strange


def test_what_was_seen_of_a_cook_is_said_and_kept(cast: Cast) -> None:
    closed(cast, "T430-01", 0)
    cast.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",)))
    heat = cast.scan(CookStage(mould="T430-01", stage="heat", temperature="160"))
    assert heat.recorded == "T430-01: heat at 160 °C"
    nothing = CookStage(mould="T430-01", stage="stopped", minutes="0")
    assert cast.scan(nothing, expect="AMOUNT-UNREADABLE").why.startswith("A stop is longer than nothing")
    stopped = cast.scan(CookStage(mould="T430-01", stage="stopped", minutes="12"))
    assert stopped.recorded == "T430-01: stopped, 12 minutes"
    cast.scan(EndCook(mould="T430-01", piat="208", log="attached"))
    cast.scan(EndCooling(mould="T430-01", demould_c="48"))
    assert rows_of("SELECT value::int, uom FROM reading WHERE quantity = 'at demould'") == [(48, "C")]


def test_what_is_set_for_a_cook_is_kept_with_it(cast: Cast) -> None:
    closed(cast, "T430-01", 0)
    cast.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",), loggers=("LG-1",), arm_rpm="6", set_c="290"))
    read = "SELECT quantity, value::int, uom FROM reading WHERE quantity IN ('arm speed', 'plate speed', 'oven set')"
    assert sorted(rows_of(read)) == [("arm speed", 6, "rpm"), ("oven set", 290, "C")]


def test_a_stage_told_late_is_judged_by_its_own_time(cast: Cast) -> None:
    """In a cook shorter than clocks are apart it fits nevertheless; told at once it is judged by what is recorded."""
    closed(cast, "T430-01", 0)
    cast.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",)))
    during = cast.clock.now + timedelta(seconds=30)
    cast.scan(EndCook(mould="T430-01", piat="208", log="attached"))
    heat = CookStage(mould="T430-01", stage="heat")
    assert cast.scan(heat, mode="tells").code == "STAGE-UNKNOWN"
    cast.clock.now += timedelta(minutes=10)
    assert "STAGE-UNKNOWN" not in [rule["code"] for rule in cast.late(heat, during).found]


def test_a_stage_told_late_of_an_empty_mould_is_looked_at(cast: Cast) -> None:
    then = cast.clock()
    cast.clock.now += timedelta(minutes=10)
    told = cast.late(CookStage(mould="T430-01", stage="heat"), then)
    assert (told.outcome, told.code) == ("flagged", "STAGE-UNKNOWN")
