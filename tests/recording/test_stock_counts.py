"""Plates counted back, counts that are far from the book, opening stock of a lot that the records know."""

from __future__ import annotations

from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from tests.cast import LEAD, QUALITY, STORES, WO_RED, Cast, plate, rows_of
from trace.codes import printed
from trace.readmodels.rebuild import differences
from trace.recording.acts.counting import Count
from trace.recording.acts.holds import Hold
from trace.recording.acts.opening import OpeningStock, _past
from trace.recording.acts.plates import CountBackPlates, MakePlates
from trace.recording.acts.setup import Define
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.answers import Answer


def open_questions() -> list[str]:
    return [kind for (kind,) in rows_of("SELECT kind FROM discrepancy WHERE closed_by IS NULL ORDER BY event, n")]


def test_plates_back_are_counted_against_those_out_less_those_bound(cast: Cast) -> None:
    """12 kayak plates went out, 2 are on hulls: 10 are to come back."""
    cast.hull(plate(1))
    cast.hull(plate(2))
    nine = tuple(plate(n) for n in range(3, 12))
    refused = cast.scan(CountBackPlates(plates=nine), person=LEAD, expect="PLATES-NOT-BACK")
    assert refused.code == "PLATES-NOT-BACK"
    assert plate(12) in refused.what
    named = cast.scan(CountBackPlates(plates=nine, missing=(plate(12),)), person=LEAD)
    assert (named.outcome, named.recorded) == ("accepted", "9 plates back, 1 missing, 0 still out")


def test_plates_that_are_still_at_work_are_said_so(cast: Cast) -> None:
    answer = cast.scan(CountBackPlates(plates=(plate(1),), stay_out=True), person=LEAD)
    assert answer.recorded == "1 plate back, 0 missing, 11 still out"


@pytest.mark.parametrize(("out", "said"), [(5, f"{plate(12)})"), (6, f"{plate(11)}, …)")])
def test_of_many_plates_not_counted_the_first_five_are_named(cast: Cast, out: int, said: str) -> None:
    back = tuple(plate(n) for n in range(1, 13 - out))
    assert said in cast.scan(CountBackPlates(plates=back), person=LEAD, expect="PLATES-NOT-BACK").what


def test_a_plate_cannot_be_back_and_missing_at_once(cast: Cast) -> None:
    ten = tuple(plate(n) for n in range(3, 13))
    both = CountBackPlates(plates=ten, missing=(plate(3),), stay_out=True)
    assert cast.scan(both, person=LEAD, expect="PLATE-MISPLACED").code == "PLATE-MISPLACED"


def count(cast: Cast, box: str, amount: str, again: str = "", expect: str = "") -> Answer:
    return cast.scan(Count(box=box, amount=amount, again=again, reason="weighed"), person=STORES, expect=expect)


def test_a_count_far_under_the_book_asks_and_then_tells_somebody(cast: Cast) -> None:
    assert count(cast, cast["red"], "480").outcome == "accepted"
    assert open_questions() == []
    refused = count(cast, cast["red"], "200", expect="COUNTED-UNDER")
    assert (refused.code, "the book says 480.00 kg" in refused.what) == ("COUNTED-UNDER", True)
    assert count(cast, cast["red"], "200", "201", expect="COUNTED-UNDER").code == "COUNTED-UNDER"
    assert count(cast, cast["red"], "200", "200").outcome == "accepted"
    assert open_questions() == ["counted far less than the book says"]


def test_a_used_up_lot_does_not_come_alive_by_a_count(cast: Cast) -> None:
    tote = cast["vessels"][0]
    cast.scan(TopUp(source=cast["red"], into=tote, amount="12.20"), person=STORES)
    cast.shift.weigh(WO_RED, "skin", tote, cast["tubs"][0])
    # Filled again, and nobody recorded with what.
    over = cast.shift.weigh(WO_RED, "skin", tote, cast["tubs"][1], expect="OVERDRAW")
    assert "record that first" in over.now
    assert count(cast, tote, "100", expect="COUNTED-REVIVED").code == "COUNTED-REVIVED"
    told = cast.scan(Count(box=tote, amount="100", reason="weighed"), person=STORES, mode="tells")
    assert (told.outcome, told.code) == ("flagged", "COUNTED-REVIVED")
    assert "counted more than was received" in open_questions()
    # Nobody knows of which lot it is: it is held until somebody has looked.
    assert cast.shift.weigh(WO_RED, "skin", tote, cast["tubs"][2], expect="SOURCE-HELD").code == "SOURCE-HELD"
    assert differences() == []


def test_after_a_count_of_nothing_no_more_comes_out(cast: Cast) -> None:
    """25 kg of foam may hold 2 % more by its label: not when somebody has looked and found nothing."""
    bag = cast["foam"][1]
    count(cast, bag, "0", "0")
    refused = cast.shift.weigh(
        WO_RED, "foam", bag, cast["boxes"][0], gross="0.45", part=True, expect="SOURCE-USED-UP"
    )
    assert refused.code == "SOURCE-USED-UP"


@pytest.mark.parametrize("late", [False, True])
def test_what_was_taken_after_a_count_of_nothing_is_over_the_book(cast: Cast, late: bool) -> None:
    """Told at once or after what came later: it is no fill difference, and what was made of it is held."""
    bag, box, then = cast["foam"][1], cast["boxes"][0], cast.clock()
    cast.late(Count(box=bag, amount="0", again="0", reason="weighed"), then, person=LEAD)
    if late:
        cast.clock.now += timedelta(hours=1)
    weigh = Weigh(order=WO_RED, layer="foam", box=bag, tub=box, scale="W-3", gross="0.45", part=True)
    assert cast.late(weigh, then + timedelta(minutes=1)).outcome == "flagged"
    assert rows_of("SELECT cause, amount FROM difference") == [("counted", -25_000_000)]
    assert "overdrawn" in open_questions()
    held = """SELECT count(*) FROM unit_hold x JOIN carrier_state c ON c.content = x.unit
      JOIN label l ON l.carrier = c.carrier WHERE l.code = %s"""
    assert rows_of(held, box) == [(1,)]
    assert differences() == []


def stock(cast: Cast, expect: str = "", *, lot_no: str = "", supplier: str = "", helper: str = LEAD) -> Answer:
    command = OpeningStock(material="LL-35", amount="40", lot_no=lot_no, supplier=supplier)
    return cast.scan(command, expect=expect, person=STORES, helper=helper)


def test_opening_stock_of_a_known_lot_asks_whose_it_is_and_is_held_with_it(cast: Cast) -> None:
    cast.scan(Hold(code=cast["natural"], whole_lot=True, reason="density"), person=QUALITY)
    refused = stock(cast, lot_no="V-2301", expect="OPENING-WHOSE")
    assert (refused.code, "VERRIN" in refused.what) == ("OPENING-WHOSE", True)
    box = stock(cast, lot_no="V-2301", supplier="VERRIN").made["codes"][0]
    assert rows_of("SELECT count(*) FROM unit WHERE kind = 'lot' AND lot_no = 'V-2301'") == [(1,)]
    assert cast.shift.weigh(WO_RED, "inner", box, cast["boxes"][0], expect="SOURCE-HELD").code == "SOURCE-HELD"
    assert differences() == []


def test_opening_stock_of_a_lot_in_quarantine_waits_with_it(cast: Cast) -> None:
    cast.shift.receive("VERRIN", "LL-35", "V-9", ("40",))
    box = stock(cast, lot_no="V-9", supplier="VERRIN").made["codes"][0]
    refused = cast.shift.weigh(WO_RED, "inner", box, cast["boxes"][0], expect="SOURCE-NOT-RELEASED")
    assert refused.code == "SOURCE-NOT-RELEASED"


@pytest.mark.parametrize("helper", ["", STORES])
def test_opening_stock_needs_a_second_person(cast: Cast, helper: str) -> None:
    assert stock(cast, helper=helper, expect="OPENING-ALONE").code == "OPENING-ALONE"


def test_opening_stock_ends_a_month_after_the_records_began_or_when_the_plant_says(cast: Cast) -> None:
    assert stock(cast).outcome == "accepted"
    cast.clock.now += timedelta(days=33)
    assert stock(cast, expect="OPENING-OVER").code == "OPENING-OVER"
    cast.scan(Define(kind="setting", key="opening stock until", body={"value": "2026-12-31"}), person="P-09")
    assert stock(cast).outcome == "accepted"


@pytest.mark.parametrize(("day", "trouble"), [("2026-06-07", False), ("2026-06-08", False), ("2026-06-09", True)])
def test_a_day_that_has_passed_is_today_at_the_latest(day: str, *, trouble: bool) -> None:
    floor: Any = SimpleNamespace(day=date(2026, 6, 8))
    assert bool(_past("the day", day, floor)) == trouble


def test_opening_stock_is_answered_with_its_label(cast: Cast) -> None:
    answer = stock(cast)
    assert answer.recorded == f"LL-35, opening stock, label {printed(answer.made['codes'][0])}"


def test_a_carrier_made_for_use_is_found_by_its_label(cast: Cast) -> None:
    codes = cast.shift.carriers("tub", 2)
    labels = "SELECT l.code::text, c.kind FROM label l JOIN carrier c ON c.id = l.carrier WHERE l.code = ANY (%s)"
    assert len(codes) == 2
    assert sorted(rows_of(labels, codes)) == [(code, "tub") for code in sorted(codes)]


@pytest.mark.parametrize(("says", "count"), [({"serials": ["A", "B", "C"]}, 3), ({}, 0)])
def test_plates_made_say_how_many(says: dict[str, list[str]], count: int) -> None:
    told: Any = SimpleNamespace(says=says)
    assert MakePlates.told(told) == f"Plate made, in a batch of {count}"
