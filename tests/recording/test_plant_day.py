"""What goes by the plant day, on which a night began: check-weights, shelf lives, plates, sign-offs."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.utils import timezone

from tests.cast import MORNING, OPERATOR, WO_RED, Cast, plate
from trace.demo.floor import month_of
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.setup import Define
from trace.recording.acts.weighing import CheckWeight, Weigh
from trace.recording.answers import Answer


def local(day: int, hour: int, minute: int = 0, month: int = 6) -> datetime:
    """A moment by the plant's own clock in 2026."""
    return datetime(2026, month, day, hour, minute, tzinfo=timezone.get_default_timezone())


def weighed(cast: Cast, when: datetime, tub: int, box: str = "red", layer: str = "skin", expect: str = "") -> Answer:
    cast.clock.now = when
    target = cast["tubs"][tub] if layer == "skin" else cast["boxes"][tub]
    return cast.shift.weigh(WO_RED, layer, cast[box] if box != "foam" else cast["foam"][0], target, expect=expect)


def setting(cast: Cast, key: str, value: object, expect: str = "") -> Answer:
    return cast.scan(Define(kind="setting", key=key, body={"value": value}), person="P-09", expect=expect)


def test_a_check_weight_lives_through_the_night_shift_in_which_it_was_made(cast: Cast) -> None:
    cast.clock.now = local(9, 22, 5)
    cast.scan(CheckWeight(scale="W-3", shown="10.000"))
    assert weighed(cast, local(9, 23, 55), 0).outcome == "accepted"
    assert weighed(cast, local(10, 3, 30), 1).outcome == "accepted"
    assert weighed(cast, local(10, 6, 10), 2, expect="SCALE-UNCHECKED").code == "SCALE-UNCHECKED"


def test_a_weighing_told_of_the_night_is_judged_by_the_check_of_its_evening(cast: Cast) -> None:
    cast.clock.now = local(9, 22, 5)
    cast.scan(CheckWeight(scale="W-3", shown="10.000"))
    cast.clock.now = local(10, 9)
    told = Weigh(order=WO_RED, layer="skin", box=cast["red"], tub=cast["tubs"][0], scale="W-3", gross="12.20")
    assert cast.late(told, local(10, 2, 30)).outcome == "accepted"


def test_the_plant_says_when_its_day_begins(cast: Cast) -> None:
    cast.clock.now = local(9, 6, 5)
    setting(cast, "shifts", [{"name": "Day", "starts": "07:00"}, {"name": "Night", "starts": "19:00"}])
    cast.clock.now = local(9, 19, 5)
    cast.scan(CheckWeight(scale="W-3", shown="10.000"))
    assert weighed(cast, local(10, 6, 50), 0).outcome == "accepted"
    assert weighed(cast, local(10, 7, 5), 1, expect="SCALE-UNCHECKED").code == "SCALE-UNCHECKED"


def test_a_night_that_begins_in_one_month_takes_that_months_plates_after_midnight(cast: Cast) -> None:
    """The demo and the floor's cast take their plates by it, at whatever hour of whatever day they are told."""
    first = [month_of(local(1, hour, minute, month=7)) for hour, minute in ((0, 0), (2, 13), (5, 59), (6, 0))]
    assert first == ["2026-06", "2026-06", "2026-06", "2026-07"]


@pytest.mark.parametrize(
    ("key", "value"), [("shifts", []), ("shifts", ["6 o'clock"]), ("holidays", ["Christmas"]), ("shift ends", "06:00")]
)
def test_shifts_that_nobody_can_read_are_refused(cast: Cast, key: str, value: object) -> None:
    assert setting(cast, key, value, expect="THING-FAULTY").code == "THING-FAULTY"


def test_shifts_that_contradict_each_other_are_refused(cast: Cast) -> None:
    twice = [{"name": "Early", "starts": "06:00"}, {"name": "Late", "starts": "06:00"}]
    assert setting(cast, "shifts", twice, expect="AMOUNT-UNREADABLE").code == "AMOUNT-UNREADABLE"


def test_a_shelf_life_ends_with_the_night_of_its_last_day(cast: Cast) -> None:
    # F-118 is good to 30 June 2027; by then the scale was not checked either, which is another matter.
    night = datetime(2027, 7, 1, 2, 30, tzinfo=timezone.get_default_timezone())
    foam = weighed(cast, night, 0, "foam", "foam", expect="SCALE-UNCHECKED")
    assert "SOURCE-EXPIRED" not in {f["code"] for f in foam.found}
    foam = weighed(cast, night + timedelta(hours=4), 0, "foam", "foam", expect="SOURCE-EXPIRED")
    assert "SOURCE-EXPIRED" in {f["code"] for f in foam.found}


def test_what_comes_out_in_the_last_night_of_a_month_takes_a_plate_of_that_month(cast: Cast) -> None:
    cast.clock.now = local(30, 22, 5)
    cast.scan(CheckWeight(scale="W-3", shown="10.000"))
    cast.moulding()
    cast.clock.now = local(1, 2, 30, month=7)
    cast.scan(Demould(mould="T430-01"))
    assert cast.scan(Bind(mould="T430-01", plate=plate(1))).outcome == "accepted"


def test_a_sign_off_lasts_through_the_night_of_its_last_day(cast: Cast) -> None:
    body = {"roles": ["operator"], "trained": {"weighing": f"{MORNING:%Y-%m-%d}"}}
    cast.scan(Define(kind="person", key=OPERATOR, name="Ines Orrell", body=body), person="P-09")
    cast.clock.now = local(8, 22, 5)
    cast.scan(CheckWeight(scale="W-3", shown="10.000"))
    assert weighed(cast, local(9, 2), 0).outcome == "accepted"
    assert weighed(cast, local(9, 6, 5), 1, expect="UNTRAINED").code == "UNTRAINED"
