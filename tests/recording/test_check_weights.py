"""A weighing is judged by the last check-weight before it; one that fails reaches back to the last that passed."""

from __future__ import annotations

from datetime import datetime, timedelta

from tests.cast import DEPUTY, LEAD, MORNING, STORES, WO_RED, Cast, plate, rows_of
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.holds import ReleaseHold
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import CheckWeight, Weigh
from trace.recording.answers import Answer

FAIL, PASS = "10.10", "10.00"


def check(cast: Cast, shown: str, happened: datetime | None = None) -> Answer:
    command = CheckWeight(scale="W-3", shown=shown)
    return cast.late(command, happened) if happened else cast.scan(command)


def told(cast: Cast, tub: int, happened: datetime, box: str = "red") -> Answer:
    weigh = Weigh(order=WO_RED, layer="skin", box=cast[box], tub=cast["tubs"][tub], scale="W-3", gross="12.20")
    return cast.late(weigh, happened)


def asked(cast: Cast, tub: int, expect: str = "") -> Answer:
    return cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][tub], expect=expect)


def held() -> set[str]:
    """The tubs whose charge is under a hold that a failed check-weight laid."""
    found = rows_of(
        """SELECT l.code FROM unit_hold x JOIN hold h ON h.id = x.hold JOIN carrier_state c ON c.content = x.unit
             JOIN label l ON l.carrier = c.carrier WHERE h.rule = 'CHECK-WEIGHT-FAILS'"""
    )
    return {code for (code,) in found}


def test_a_fail_is_not_forgotten_at_midnight(cast: Cast) -> None:
    check(cast, FAIL)
    cast.clock.now += timedelta(days=1)
    refused = asked(cast, 0, expect="SCALE-FAILED")
    assert [f["code"] for f in refused.found] == ["SCALE-FAILED"]
    check(cast, PASS)
    assert asked(cast, 0).outcome == "accepted"


def test_a_pass_does_not_clear_what_was_weighed_after_a_fail(cast: Cast) -> None:
    check(cast, FAIL)
    between = cast.clock()
    check(cast, PASS)
    answer = told(cast, 0, between)
    assert (answer.outcome, answer.code) == ("flagged", "SCALE-FAILED")
    assert told(cast, 1, cast.clock()).outcome == "accepted"


def test_a_weighing_before_the_first_check_of_its_day(cast: Cast) -> None:
    cast.clock.now = MORNING + timedelta(days=1)
    before = cast.clock()
    check(cast, PASS)
    answer = told(cast, 0, before)
    assert (answer.outcome, answer.code) == ("flagged", "SCALE-UNCHECKED")


def test_a_weighing_of_yesterday_is_judged_by_the_check_of_yesterday(cast: Cast) -> None:
    then = cast.clock()
    cast.clock.now += timedelta(days=1)
    check(cast, PASS)
    assert told(cast, 0, then).outcome == "accepted"


def test_a_fail_holds_what_was_weighed_since_the_last_pass(cast: Cast) -> None:
    tubs = cast["tubs"]
    asked(cast, 0)
    check(cast, PASS)
    asked(cast, 1)
    cast.shift.weigh(WO_RED, "skin", cast["red"], tubs[2], gross="5.00", part=True)
    cast.shift.weigh(WO_RED, "skin", cast["red2"], tubs[2], gross="7.20")
    answer = check(cast, FAIL)
    assert (answer.outcome, answer.code) == ("warned", "CHECK-WEIGHT-FAILS")
    assert held() == {tubs[1], tubs[2]}
    # Tried again it fails again: they are under one hold each.
    holds = rows_of("SELECT count(*) FROM hold")
    check(cast, FAIL)
    assert rows_of("SELECT count(*) FROM hold") == holds
    assert differences() == []


def test_a_fail_holds_the_hull_made_of_it_until_quality_has_looked(cast: Cast) -> None:
    cast.hull(plate(1))
    hull = "SELECT h.uid::text FROM serial_state s JOIN unit_hold x ON x.unit = s.hull JOIN hold h ON h.id = x.hold"
    answer = check(cast, FAIL)
    assert {uid for (uid,) in rows_of(hull)} == set(answer.made["holds"])
    assert len(answer.made["holds"]) == 3
    for uid in answer.made["holds"]:
        cast.scan(ReleaseHold(hold=uid, reason="wall measured"), person=DEPUTY)
    assert rows_of(hull) == []


def test_a_fail_told_late_holds_what_was_weighed_on_both_sides_of_it(cast: Cast) -> None:
    tubs = cast["tubs"]
    asked(cast, 0)
    check(cast, PASS)
    asked(cast, 1)
    fail = cast.clock()
    asked(cast, 2)
    check(cast, PASS)
    asked(cast, 3)
    check(cast, FAIL, fail)
    assert held() == {tubs[1], tubs[2]}
    # It happened before the last pass: the scale counts as right now.
    assert asked(cast, 4).outcome == "accepted"


def test_a_weighing_told_after_the_fail_that_brackets_it_is_held(cast: Cast) -> None:
    then = cast.clock()
    check(cast, FAIL)
    answer = told(cast, 0, then)
    assert (answer.outcome, answer.code) == ("flagged", "SCALE-FAILS-NEXT")
    assert len(answer.made["holds"]) == 1


def test_a_charge_made_anew_by_a_correction_is_held_too(cast: Cast) -> None:
    asked(cast, 0)
    event = str(rows_of("SELECT max(uid::text) FROM event WHERE kind = 'weighed'")[0][0])
    cast.scan(Correct(event=event, was=cast["red"], now=cast["red"], amount="12.15", reason="misread"), person=LEAD)
    check(cast, FAIL)
    assert held() == {cast["tubs"][0]}


def test_a_charge_whose_vessel_was_filled_late_is_held_once(cast: Cast) -> None:
    vessel = cast["vessels"][0]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="50"), person=STORES)
    then = cast.clock()
    cast.shift.weigh(WO_RED, "skin", vessel, cast["tubs"][0])
    cast.late(TopUp(source=cast["red2"], into=vessel, amount="50"), then, person=STORES)
    check(cast, FAIL)
    assert held() == {cast["tubs"][0]}
    assert differences() == []
