"""Mould changeover: which mould hangs where, as it was then, and what loading says of one that does not."""

from __future__ import annotations

from datetime import timedelta

from tests.cast import LEAD, PLANNER, WO_RED, WO_TRIAL, Cast, rows_of
from trace.readmodels.rebuild import differences
from trace.recording.acts.cook import AbortCook
from trace.recording.acts.demould import Demould
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.mould_care import CareForMould, PassFirstOff
from trace.recording.acts.mounting import Mount, TakeOff
from trace.recording.acts.setup import Define
from trace.recording.floor.mould_life import hanging

MOULD = "T430-01"


def ready(cast: Cast, expect: str = "") -> str:
    answer = cast.scan(ReadyMould(mould=MOULD, order=WO_RED, arm="S1"), expect=expect)
    if answer.outcome != "refused":
        cast.scan(AbortCook(mould=MOULD))
    return answer.outcome


def test_a_mould_that_nobody_ever_recorded_as_mounted_is_not_asked_about(cast: Cast) -> None:
    assert ready(cast) == "accepted"


def test_it_hangs_where_it_was_mounted_last(cast: Cast) -> None:
    cast.scan(Mount(mould=MOULD, arm="S1", position="2"), person=LEAD)
    assert hanging(cast.clock.now) == {MOULD: ("S1", "2")}
    assert ready(cast) == "accepted"
    [(position,)] = rows_of("SELECT about->>'position' FROM unit WHERE kind = 'load' ORDER BY id DESC LIMIT 1")
    assert position == "2"
    cast.scan(TakeOff(mould=MOULD), person=LEAD)
    assert hanging(cast.clock.now) == {}
    assert ready(cast) == "warned"
    assert differences() == []


def test_what_is_told_late_is_judged_by_where_it_hung_then(cast: Cast) -> None:
    cast.scan(TakeOff(mould=MOULD), person=LEAD)
    before = cast.clock()
    for _minute in range(30):
        cast.clock()
    cast.scan(Mount(mould=MOULD, arm="S1"), person=LEAD)
    late = cast.late(ReadyMould(mould=MOULD, order=WO_RED, arm="S1"), before + timedelta(minutes=5))
    assert "MOULD-UNMOUNTED" in {found["code"] for found in late.found}


def test_a_plant_may_ask_for_a_first_off_after_a_changeover(cast: Cast) -> None:
    setting = Define(kind="setting", key="rule:MOUNTED-FIRST-OFF", body={"value": "refuse"})
    cast.scan(setting, person=PLANNER)
    cast.scan(Mount(mould=MOULD, arm="S1"), person=LEAD)
    assert ready(cast, expect="MOUNTED-FIRST-OFF") == "refused"
    cast.moulding(MOULD, order=WO_TRIAL)
    number = cast.scan(Demould(mould=MOULD)).made["units"][0]["lot_no"]
    cast.scan(PassFirstOff(mould=MOULD, unit=number), person=LEAD)
    assert ready(cast) == "accepted"


def test_a_coat_that_is_told_after_the_load_is_a_question_at_that_load(cast: Cast) -> None:
    """The load knows the coat that was on record when it was made ready, and keeps it."""
    before = cast.clock()
    for _minute in range(30):
        cast.clock()
    cast.moulding(MOULD)
    agent = cast.shift.stock("TOLBY", "TR-4", "R-12", ("5",))[0]
    cast.late(CareForMould(mould=MOULD, done=("release coat",), agent=agent), before, person=LEAD)
    [(kind, of)] = rows_of(
        "SELECT d.kind, u.kind FROM discrepancy d JOIN unit u ON u.id = d.unit WHERE d.kind LIKE '%%coat%%'"
    )
    assert (kind, of) == ("made ready on a release coat that was told of only later", "load")
