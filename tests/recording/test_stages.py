"""What is seen while a mould cooks and cools: stops and their length, readings, and which stage fits which time."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.cast import Cast, rows_of
from tests.recording.test_oven import closed
from trace.readmodels.rebuild import differences
from trace.recording.acts.cook import CookStage, EndCook, EndCooling
from trace.recording.acts.oven import StartCook
from trace.recording.answers import Answer


@pytest.fixture
def inside(cast: Cast) -> Cast:
    """A kayak in the oven, its start told."""
    closed(cast, "T430-01", 0)
    cast.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",)), mode="tells")
    return cast


def seen(cast: Cast, stage: str, expect: str = "", **more: Any) -> Answer:
    return cast.scan(CookStage(mould="T430-01", stage=stage, **more), expect=expect)


def codes(answer: Answer) -> set[str]:
    return {found["code"] for found in answer.found}


@pytest.mark.parametrize("minutes", ["0", "-1"])
def test_a_stop_of_no_minutes_is_none(inside: Cast, minutes: str) -> None:
    refused = seen(inside, "stopped", expect="AMOUNT-UNREADABLE", minutes=minutes)
    assert "A stop is longer than nothing" in refused.why + refused.what


def test_a_stop_says_its_length_or_that_nobody_said_it(inside: Cast) -> None:
    short = seen(inside, "stopped", minutes="0.5")
    assert (short.code, "The cycle was stopped: 0.5 minutes." in short.what) == ("COOK-STOPPED", True)
    assert short.recorded == "T430-01: stopped, 0.5 minutes"
    unsaid = seen(inside, "stopped")
    assert "its length is not said" in unsaid.what
    assert unsaid.recorded == "T430-01: stopped"
    assert rows_of("SELECT count(*) FROM gap WHERE what = 'stop length'") == [(1,)]
    # Its length said afterwards is no second stop.
    later = seen(inside, "stopped", minutes="12")
    assert "COOK-STOPPED" not in codes(later)
    assert rows_of("SELECT count(*) FROM gap WHERE what = 'stop length'") == [(0,)]
    assert rows_of("SELECT value * 10 FROM reading WHERE quantity = 'stopped' ORDER BY event") == [(5,), (120,)]
    assert differences() == []


def test_a_stage_is_twice_when_it_comes_more_often_than_the_recipe_has_it(inside: Cast) -> None:
    first, second = seen(inside, "heat", temperature="121"), seen(inside, "heat", temperature="122")
    assert ("STAGE-TWICE" in codes(first), "STAGE-TWICE" in codes(second)) == (False, True)
    assert first.recorded == "T430-01: heat at 121 °C"


def test_a_cook_of_which_no_stage_was_recorded_is_held(inside: Cast) -> None:
    """Nobody saw any: that is a missing record and no pass."""
    ended = inside.scan(EndCook(mould="T430-01", piat="208", log="attached"))
    assert (ended.outcome, ended.code) == ("flagged", "STAGE-SKIPPED")
    assert ended.what == "Not seen: heat, drop foam, drop inner, out."


def test_what_is_seen_of_a_mould_that_cools_is_of_its_cooling_or_a_stop(inside: Cast) -> None:
    inside.scan(EndCook(mould="T430-01", piat="208", log="attached"), mode="tells")
    # Told at once it is judged as it stands, however little ago it was still in the oven.
    assert "STAGE-UNKNOWN" in codes(inside.scan(CookStage(mould="T430-01", stage="heat"), mode="tells"))
    assert "STAGE-UNKNOWN" in codes(seen(inside, "heat", expect="STAGE-UNKNOWN"))
    assert "STAGE-UNKNOWN" not in codes(seen(inside, "stopped", minutes="3"))


def test_a_stage_told_late_of_an_empty_mould_is_kept_as_a_question(cast: Cast) -> None:
    told = cast.late(CookStage(mould="T430-01", stage="heat"), cast.clock.now - timedelta(hours=1))
    assert told.outcome == "flagged"
    assert rows_of("SELECT count(*) FROM discrepancy WHERE closed_by IS NULL") == [(1,)]


def test_a_temperature_at_demoulding_is_a_reading_where_it_was_read(inside: Cast) -> None:
    inside.scan(EndCook(mould="T430-01", piat="208", log="attached"), mode="tells")
    unread = inside.scan(EndCooling(mould="T430-01"), mode="tells")
    assert unread.recorded == "T430-01 out of cooling, not read"
    assert rows_of("SELECT count(*) FROM reading WHERE quantity = 'at demould'") == [(0,)]
    read = inside.scan(EndCooling(mould="T430-01", demould_c="47"), mode="tells")
    assert read.recorded == "T430-01 out of cooling, 47 °C inside"
    assert rows_of("SELECT value::int FROM reading WHERE quantity = 'at demould'") == [(47,)]
