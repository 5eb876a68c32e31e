"""The plant day and its shifts, over the hour that comes twice, the one that is missing, holidays and any zone."""

from __future__ import annotations

import itertools
import random
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from trace.codes.plant_day import Calendar, CalendarError, Pattern, read_calendar

LONDON, NEW_YORK = ZoneInfo("Europe/London"), ZoneInfo("America/New_York")
THREE = [
    {"name": "Early", "starts": "06:00"}, {"name": "Late", "starts": "14:00"}, {"name": "Night", "starts": "22:00"},
]  # fmt: skip


def three(zone: ZoneInfo = LONDON, holidays: tuple[str, ...] = ()) -> Calendar:
    return read_calendar(THREE, list(holidays), zone)


def at(text: str, zone: ZoneInfo = LONDON, fold: int = 0) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone, fold=fold)


def test_a_night_belongs_to_the_day_on_which_it_began() -> None:
    calendar = three()
    night = at("2026-06-09 02:30")
    assert calendar.day(night) == date(2026, 6, 8)
    found = calendar.shift(night)
    assert found is not None
    assert (found.name, found.day) == ("Night", date(2026, 6, 8))
    assert (found.begins, found.ends) == (at("2026-06-08 22:00"), at("2026-06-09 06:00"))
    assert calendar.end(night) == at("2026-06-09 06:00")
    assert calendar.day(at("2026-06-09 06:00")) == date(2026, 6, 9)
    assert calendar.day(at("2026-06-09 05:59:59")) == date(2026, 6, 8)


def test_a_month_ends_with_its_last_night() -> None:
    assert three().day(at("2026-07-01 03:00")) == date(2026, 6, 30)


# RFC 5545, 3.3.5 (its two examples, from memory): 2007-11-04T01:30 in New York is the first of the two, UTC-04:00;
# 2007-03-11T02:30 does not come, and counts by the offset before it, which is 03:30 UTC-04:00.
@pytest.mark.parametrize(
    ("starts", "day", "moment"),
    [("01:30", date(2007, 11, 4), "2007-11-04T01:30-04:00"), ("02:30", date(2007, 3, 11), "2007-03-11T03:30-04:00")],
)
def test_the_hour_that_comes_twice_and_the_one_that_is_missing(starts: str, day: date, moment: str) -> None:
    calendar = read_calendar([starts], [], NEW_YORK)
    assert calendar.begins(day) == datetime.fromisoformat(moment)


def test_a_night_in_autumn_is_an_hour_longer_and_in_spring_an_hour_shorter() -> None:
    calendar = three()
    for evening, hours in (("2026-10-24 23:00", 9), ("2026-03-28 23:00", 7), ("2026-06-08 23:00", 8)):
        night = calendar.shift(at(evening))
        assert night is not None
        assert night.ends - night.begins == timedelta(hours=hours)
    first, second = at("2026-10-25 01:30"), at("2026-10-25 01:30", fold=1)
    assert second.astimezone(UTC) - first.astimezone(UTC) == timedelta(hours=1)
    assert calendar.shift(first) == calendar.shift(second)


def test_the_repeated_hour_is_not_two_days_where_the_day_begins_in_it() -> None:
    calendar = read_calendar(["01:30"], [], LONDON)
    # At the second 01:10 the clock shows less than 01:30, and the day has begun all the same.
    assert calendar.day(at("2026-10-25 01:10")) == date(2026, 10, 24)
    assert calendar.day(at("2026-10-25 01:10", fold=1)) == date(2026, 10, 25)


def test_on_a_holiday_no_shift_begins_and_the_night_before_it_ends_as_ever() -> None:
    calendar = three(holidays=("2026-12-25", "2026-12-26"))
    eve = calendar.shift(at("2026-12-25 03:00"))
    assert eve is not None
    assert eve.day == date(2026, 12, 24)
    assert calendar.shift(at("2026-12-25 10:00")) is None
    assert calendar.shift(at("2026-12-27 03:00")) is None
    assert calendar.day(at("2026-12-25 10:00")) == date(2026, 12, 25)
    assert calendar.end(at("2026-12-25 10:00")) == at("2026-12-26 06:00")
    assert calendar.ends_after(at("2026-12-24 23:00"), 2) == [at("2026-12-25 06:00"), at("2026-12-27 14:00")]


def test_shifts_of_some_days_and_with_a_pause_between() -> None:
    calendar = read_calendar(
        [
            {"name": "Early", "starts": "06:00", "ends": "13:30", "weekdays": [1, 2, 3, 4, 5]},
            {"name": "Late", "starts": "14:00", "ends": "22:00", "weekdays": [1, 2, 3, 4]},
        ],
        [],
        LONDON,
    )
    assert calendar.shift(at("2026-06-08 13:45")) is None
    # Friday has no late shift; the weekend has none.
    assert calendar.shift(at("2026-06-12 15:00")) is None
    assert calendar.ends_after(at("2026-06-12 14:00"), 1) == [at("2026-06-15 13:30")]


def test_a_shift_that_is_longer_than_its_day_reaches_into_the_next() -> None:
    calendar = read_calendar(
        [
            {"name": "Early", "starts": "06:00", "ends": "14:00", "weekdays": [1, 2, 3, 4, 5]},
            {"name": "Night", "starts": "20:00", "ends": "08:00"},
        ],
        [],
        LONDON,
    )
    saturday = calendar.shift(at("2026-06-13 07:00"))
    assert saturday is not None
    assert (saturday.name, saturday.day) == ("Night", date(2026, 6, 12))
    assert calendar.day(at("2026-06-13 07:00")) == date(2026, 6, 13)
    # Where the early one has begun too, it is the one that counts.
    friday = calendar.shift(at("2026-06-12 07:00"))
    assert friday is not None
    assert (friday.name, friday.day) == ("Early", date(2026, 6, 12))


def test_a_plant_that_plans_no_shift_still_has_its_days() -> None:
    calendar = Calendar(LONDON, (Pattern("Early", time(6), time(14), ()),))
    assert calendar.ends_after(at("2026-06-08 12:00"), 2) == [at("2026-06-09 06:00")]


@pytest.mark.parametrize(
    ("shifts", "holidays", "word"),
    [
        ([], [], "list"), ("06:00", [], "list"), (["six"], [], "06:00"), (["06:00", "06:00"], [], "same time"),
        ([{"starts": "06:00"}], [], "name"), ([{"name": "E", "starts": "06:00", "weekdays": [0]}], [], "Monday"),
        ([{"name": "E", "starts": "06:00", "weekdays": [8]}], [], "Sunday"),
        ([{"name": "E", "starts": "06:00", "weekdays": [True]}], [], "Monday"),
        ([{"name": "E", "starts": "06:00", "weekdays": []}], [], "Monday"),
        ([{"name": "E", "starts": "06:00", "weekdays": 1}], [], "Monday"),
        ([{"name": " ", "starts": "06:00"}], [], "name"), ([{"name": 6, "starts": "06:00"}], [], "name"),
        (["06:00"], ["Christmas"], "2026-12-25"), (["06:00"], "2026-12-25", "list"), (["06:00+01:00"], [], "zone"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_a_sentence(shifts: object, holidays: object, word: str) -> None:
    with pytest.raises(CalendarError, match=word):
        read_calendar(shifts, holidays, LONDON)


@pytest.mark.parametrize("zone", ["Europe/London", "America/New_York", "Asia/Kolkata", "Australia/Lord_Howe"])
def test_every_moment_of_a_year_is_in_one_day_and_one_shift(zone: str) -> None:
    """Against a plain reckoning: walk the year minute by minute over the zone's own wall clock."""
    calendar, here = three(ZoneInfo(zone)), ZoneInfo(zone)
    # The starts of shifts, each the first minute whose wall clock reads so (none of them lies in a changing hour).
    moment = datetime(2026, 1, 1, tzinfo=UTC)
    starts: list[tuple[datetime, str, date]] = []
    names = {time(6): "Early", time(14): "Late", time(22): "Night"}
    while moment < datetime(2027, 1, 2, tzinfo=UTC):
        wall = moment.astimezone(here)
        if wall.time() in names:
            starts.append((moment, names[wall.time()], wall.date()))
        moment += timedelta(minutes=30)
    pick = random.Random(8)
    for (begins, name, day), (ends, _, _) in itertools.pairwise(starts):
        for when in (begins, ends - timedelta(microseconds=1), begins + (ends - begins) * pick.random()):
            found = calendar.shift(when)
            assert found is not None
            assert (found.name, found.day, found.begins, found.ends) == (name, day, begins, ends)
            assert calendar.day(when) == day
            assert calendar.end(when) == ends
