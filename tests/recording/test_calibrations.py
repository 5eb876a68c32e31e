"""A calibration is a check of its instrument: of what it measured before, and of what comes after."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from tests.cast import QUALITY, Cast, plate, rows_of
from trace.genealogy.calibrations import calibrations
from trace.genealogy.causes import read_cause
from trace.genealogy.checks import FIRST, LAST, doubted
from trace.genealogy.sharing import shared_by
from trace.readmodels.rebuild import differences
from trace.recording.acts.calibration import Calibrate, FollowUpCalibration, WithdrawCalibration
from trace.recording.acts.scope_holds import HoldScope
from trace.recording.acts.setup import Define
from trace.recording.acts.weighing import CheckWeight
from trace.recording.answers import Answer

SCALE: dict[str, Any] = {
    "kind": "scale", "resolution": "0.01", "calibration_due": "2030-12-31", "check_mass": "10.000",
    "check_tolerance": "0.02", "accuracy": "III", "interval": "0.01",
}  # fmt: skip
LOW, RIGHT = ("10.000", "9.82", "10.00"), ("10.000", "10.01", "10.00")
HELD = """SELECT count(*)::int FROM unit_hold x JOIN hold h ON h.id = x.hold WHERE h.rule = 'CHECK-WEIGHT-FAILS'"""


@pytest.fixture
def scale(cast: Cast) -> Cast:
    cast.scan(Define(kind="instrument", key="W-3", body=SCALE), person="P-09")
    return cast


def calibrated(cast: Cast, *points: tuple[str, ...], happened: datetime | None = None, **more: str) -> Answer:
    said = {"certificate": f"C-{cast.clock().isoformat()}", "done_by": "Somebody of Tolby", **more}
    command = Calibrate(instrument=said.pop("instrument", "W-3"), points=points, **said)
    return cast.late(command, happened, person=QUALITY) if happened else cast.scan(command, person=QUALITY)


def asked(cast: Cast, tub: int, expect: str = "") -> Answer:
    return cast.shift.weigh("WO-1041", "skin", cast["red"], cast["tubs"][tub], expect=expect)


def test_as_found_within_twice_the_error_of_its_class_is_a_good_check(scale: Cast) -> None:
    answer = calibrated(scale, ("0", "0.00"), ("5.000", "5.01", "5.00"), RIGHT, due="2031-02-10")
    assert (answer.outcome, answer.code) == ("accepted", "")
    [one] = calibrations("W-3")
    assert (one.found, one.left, one.open) == (True, True, False)
    # OIML R 76-1, table 6: class III, 10 kg are 1000 e, so 1 e at verification and 2 e in service.
    assert [(f"{p.found_limit}", f"{p.left_limit}") for p in one.points] == [
        ("0.010", "0.005"), ("0.010", "0.005"), ("0.02", "0.01"),
    ]  # fmt: skip
    assert doubted("W-3", one.happened).since == one.happened
    due = "SELECT (v.body::jsonb->>'calibration_due') FROM revision v JOIN resource r ON r.id = v.thing"
    assert rows_of(f"{due} WHERE r.key = 'W-3' ORDER BY v.version DESC LIMIT 1") == [("2031-02-10",)]
    assert "Tolby" not in rows_of("SELECT body FROM event ORDER BY id DESC LIMIT 1")[0][0]
    assert differences() == []


def test_found_outside_its_limit_and_left_within_it(scale: Cast) -> None:
    before = rows_of("SELECT max(happened) FROM event WHERE kind = 'check_weighed'")[0][0]
    asked(scale, 0)
    answer = calibrated(scale, LOW)
    assert (answer.outcome, answer.code) == ("warned", "CALIBRATION-FAILED")
    assert "-0.180 kg off at 10.000 kg; its limit is 0.02 kg" in answer.what
    [one] = calibrations("W-3")
    assert (one.found, one.left, one.open) == (False, True, True)
    # What it measured before it is in doubt since its last good check; what comes after, no more.
    assert doubted("W-3", one.happened) == (before, one.happened + timedelta(microseconds=1))
    assert doubted("W-3", scale.clock()) == (one.happened + timedelta(microseconds=1), LAST)
    assert asked(scale, 1).outcome == "accepted"
    scale.scan(CheckWeight(scale="W-3", shown="10.20", again="10.20"), person=QUALITY)
    assert rows_of(HELD) == [(1,)]
    assert differences() == []


def test_left_outside_its_limit_it_weighs_no_more(scale: Cast) -> None:
    answer = calibrated(scale, ("10.000", "9.82"))
    assert {answer.code, *(f["code"] for f in answer.found)} >= {"CALIBRATION-FAILED", "CALIBRATION-LEFT"}
    asked(scale, 0, expect="SCALE-FAILED")
    calibrated(scale, RIGHT)
    assert asked(scale, 0).outcome == "accepted"


def test_without_a_limit_it_is_no_check(cast: Cast) -> None:
    answer = calibrated(cast, ("5.00", "9.00"), instrument="G-2")
    assert (answer.outcome, answer.code) == ("warned", "CALIBRATION-NO-LIMIT")
    [one] = calibrations("G-2")
    assert (one.found, one.left) == (None, None)
    assert doubted("G-2", cast.clock()) == (FIRST, LAST)


def test_told_late_it_is_a_check_of_its_own_time(scale: Cast) -> None:
    at = scale.clock()
    asked(scale, 0)
    scale.scan(CheckWeight(scale="W-3", shown="10.00"), person=QUALITY)
    assert calibrated(scale, LOW, happened=at).outcome == "warned"
    # The check-weight came after it: the scale may weigh.
    assert asked(scale, 1).outcome == "accepted"
    assert doubted("W-3", at).until == at + timedelta(microseconds=1)
    assert differences() == []


def test_one_that_was_taken_back_counts_for_nothing(scale: Cast) -> None:
    calibrated(scale, ("10.000", "9.82"))
    [one] = calibrations("W-3")
    withdrawal = WithdrawCalibration(instrument="W-3", calibration=one.uid, reason="of another scale")
    scale.scan(withdrawal, person=QUALITY)
    assert calibrations("W-3") == [] and calibrations("W-3", one.recorded)[0].uid == one.uid
    assert doubted("W-3", one.happened).since < one.happened
    # The check-weight of the morning says again how it stands.
    assert asked(scale, 0).outcome == "accepted"
    assert scale.scan(withdrawal, person=QUALITY, expect="AMOUNT-UNREADABLE").outcome == "refused"
    assert differences() == []


def test_taken_back_where_no_check_is_left_nobody_knows(scale: Cast) -> None:
    scale.scan(Define(kind="instrument", key="W-9", body=SCALE), person="P-09")
    calibrated(scale, RIGHT, instrument="W-9")
    weigh = {"scale": "W-9"}
    scale.shift.weigh("WO-1041", "skin", scale["red"], scale["tubs"][0], **weigh)
    [one] = calibrations("W-9")
    scale.scan(WithdrawCalibration(instrument="W-9", calibration=one.uid, reason="typed twice"), person=QUALITY)
    scale.shift.weigh("WO-1041", "skin", scale["red"], scale["tubs"][1], expect="SCALE-UNCHECKED", **weigh)
    assert differences() == []


def test_what_it_measured_is_asked_for_and_followed_up(scale: Cast) -> None:
    scale.hull(plate(1))
    scale.scan(CheckWeight(scale="W-3", shown="10.00"), person=QUALITY)
    scale.hull(plate(2))
    calibrated(scale, LOW)
    [one] = calibrations("W-3")
    scale.hull(plate(3))
    shared = {line.made.uid for line in shared_by(read_cause(one.cause)).lines if line.verdict != "cannot"}
    second_hull = "SELECT u.uid::text FROM serial_state s JOIN unit u ON u.id = s.hull WHERE s.text = %s"
    assert shared == {rows_of(second_hull, plate(2))[0][0]}
    scale.scan(HoldScope(cause=one.cause, reason="weigh the hulls"), person=QUALITY)
    assert calibrations("W-3")[0].open is False
    calibrated(scale, LOW)
    [_first, second] = calibrations("W-3")
    assert second.open
    follow = FollowUpCalibration(instrument="W-3", calibration=second.uid, reason="out of use since")
    scale.scan(follow, person=QUALITY)
    assert not any(one.open for one in calibrations())
    assert scale.scan(follow, person=QUALITY, expect="AMOUNT-UNREADABLE").outcome == "refused"


def test_an_uncertainty_small_beside_the_limit_says_nothing(scale: Cast) -> None:
    answer = calibrated(scale, RIGHT, uncertainty="0.003", k="2")
    assert (answer.outcome, answer.code) == ("accepted", "")


def test_the_same_certificate_is_entered_once_and_a_large_uncertainty_is_said(scale: Cast) -> None:
    answer = calibrated(scale, RIGHT, certificate="C-7", uncertainty="0.007", k="2")
    assert (answer.outcome, answer.code) == ("warned", "CALIBRATION-UNSURE")
    command = Calibrate(instrument="W-3", points=(RIGHT,), certificate="C-7")
    again = scale.scan(command, person=QUALITY, expect="CALIBRATION-TWICE")
    assert again.outcome == "refused" and len(calibrations("W-3")) == 1


@pytest.mark.parametrize(
    ("points", "more", "said"),
    [
        ((), {}, "No figure was typed"),
        ((("10,0", "9.8"),), {}, "“10,0” is no figure"),
        ((("10", ""),), {}, "“” is no figure"),
        ((LOW,), {"certificate": ""}, "The number of the certificate is missing"),
        ((LOW,), {"uncertainty": "0.004"}, "An uncertainty says nothing without its k"),
        ((LOW,), {"uncertainty": "0", "k": "2"}, "An uncertainty and its k are above nought"),
        ((LOW,), {"uncertainty": "0.004", "k": "0"}, "An uncertainty and its k are above nought"),
        ((LOW,), {"due": "2026-06-01"}, "before it was done"),
        ((LOW,), {"due": "soon"}, "“soon” is no day"),
        ((LOW,) * 13, {}, "more than 12 references"),
    ],
)
def test_what_is_no_calibration_is_said_in_one_sentence(
    scale: Cast, points: tuple[tuple[str, ...], ...], more: dict[str, str], said: str
) -> None:
    command = Calibrate(instrument="W-3", points=points, **{"certificate": "C-1", **more})
    answer = scale.scan(command, person=QUALITY, expect="AMOUNT-UNREADABLE")
    assert said in answer.why
