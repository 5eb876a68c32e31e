"""The end of a shift: what it leaves, who hands it over, who accepts it, and what is told of one nobody accepted."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest

from tests.cast import DEPUTY, LEAD, QUALITY, SECOND, WO_RED, Cast, rows_of
from trace.codes.plant_day import read_calendar
from trace.pages.open_lists import handovers
from trace.readmodels.rebuild import differences
from trace.recording.acts.demould import Demould
from trace.recording.acts.holds import Hold
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.shift_end import AcceptShift, HandOver
from trace.recording.acts.tipping import TipTub
from trace.recording.floor.shift_end import SORTS, handed, leaving, left_now


def given(cast: Cast, due: str = "2026-06-08T14:30:00+00:00", **more: object) -> str:
    """A shift handed over; the uid of that record."""
    found = left_now()
    said = {sort: found.keys(sort) for sort in SORTS} | {"counts": tuple(found.counts[sort] for sort in SORTS)}
    cast.scan(HandOver(shift="Early", day="2026-06-08", due=due, **{**said, **more}), person=LEAD)  # type: ignore[arg-type]
    return handed()[0].uid


def names(sort: str) -> list[str]:
    return [one.name for one in left_now().of(sort)]


def test_each_thing_stands_where_it_is_and_moves_on_with_the_work(cast: Cast) -> None:
    assert left_now().counts == {**dict.fromkeys(SORTS, 0)}
    tub = cast["tubs"][0]
    cast.charge("skin", cast["red"], tub)
    assert (names("tubs"), names("loaded")) == ([tub], [])
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=tub))
    assert (names("tubs"), names("loaded")) == ([], ["T430-01"])
    cast.moulding("T430-02", "S2")
    assert names("waiting") == ["T430-02"]
    cast.scan(Demould(mould="T430-02"))
    [moulding] = left_now().of("waiting")
    assert (moulding.detail.split(", ")[0], moulding.person) == ("to bind", cast.shift.person)


def test_holds_on_what_is_still_used_are_listed_and_those_on_finished_hulls_are_not(cast: Cast) -> None:
    hull = cast.hull("GHM-T430-004401")
    cast.scan(Hold(code=hull, rule="quality", reason="x"), person=QUALITY)
    assert names("holds") == []
    cast.scan(Hold(code=cast["m8b"], rule="quality", reason="x"), person=QUALITY)
    assert names("holds") == ["M8-N lot N-0417"]


def test_what_was_listed_and_who_accepted_it_is_kept_and_nothing_else_changes(cast: Cast) -> None:
    cast.charge("skin", cast["red"], cast["tubs"][0])
    [tub] = left_now().keys("tubs")
    uid = given(cast, remark="the vent of T430-02 whistles")
    body = json.loads(rows_of("SELECT body FROM event WHERE uid = %s", uid)[0][0])
    assert body["says"]["tubs"] == [tub]
    assert "whistles" not in json.dumps(body)
    # Whoever weighed it did: the handover touches no unit.
    assert rows_of("SELECT count(*) FROM event_unit x JOIN event e ON e.id = x.event WHERE e.uid = %s", uid) == [(0,)]
    assert cast.scan(AcceptShift(handover=uid, giver=LEAD), person=DEPUTY).outcome == "accepted"
    [one] = handed(uid)
    assert (one.person, one.by, one.accepted is not None) == (LEAD, DEPUTY, True)
    assert differences() == []


@pytest.mark.parametrize(
    ("who", "giver", "uid", "rule"),
    [
        (LEAD, LEAD, "", "HANDOVER-OWN"),
        (DEPUTY, SECOND, "", "HANDOVER-UNKNOWN"),
        (DEPUTY, LEAD, "01900000-0000-7000-8000-000000000000", "HANDOVER-UNKNOWN"),
        (DEPUTY, LEAD, "nonsense", "HANDOVER-UNKNOWN"),
    ],
)
def test_what_cannot_be_accepted(cast: Cast, who: str, giver: str, uid: str, rule: str) -> None:
    command = AcceptShift(handover=uid or given(cast), giver=giver)
    assert cast.scan(command, person=who, expect=rule).outcome == "refused"


def test_one_that_nobody_accepted_in_time_waits_at_home(cast: Cast) -> None:
    soon, past = "2999-01-01T00:00:00+00:00", "2026-06-08T06:30:00+00:00"
    count = handovers.COUNT.replace("now()", f"'{cast.clock().isoformat()}'::timestamptz")
    given(cast, due=soon)
    assert rows_of(count)[0][0] == 0
    uid = given(cast, due=past)
    assert rows_of(count)[0][0] == 1
    cast.scan(AcceptShift(handover=uid, giver=LEAD), person=DEPUTY)
    assert rows_of(count)[0][0] == 0
    assert {line.key for line in handovers.of([uid])} == {uid}


# 8 June 2026 is a Monday; days go by the plant's clock, here UTC.
@pytest.mark.parametrize(
    ("clock", "shift", "begins"),
    [
        (datetime(2026, 6, 8, 13, 50, tzinfo=UTC), "Early", datetime(2026, 6, 8, 14, tzinfo=UTC)),
        (datetime(2026, 6, 8, 14, 20, tzinfo=UTC), "Early", datetime(2026, 6, 8, 14, tzinfo=UTC)),
        (datetime(2026, 6, 8, 21, 55, tzinfo=UTC), "Late", datetime(2026, 6, 9, 6, tzinfo=UTC)),
        (datetime(2026, 6, 12, 21, 55, tzinfo=UTC), "Late", datetime(2026, 6, 15, 6, tzinfo=UTC)),
    ],
)
def test_the_shift_that_ends_or_has_just_ended_is_handed_over(clock: datetime, shift: str, begins: datetime) -> None:
    days = [1, 2, 3, 4, 5]
    shifts = [
        {"name": "Early", "starts": "06:00", "ends": "14:00", "weekdays": days},
        {"name": "Late", "starts": "14:00", "ends": "22:00", "weekdays": days},
    ]
    found, next_begins = leaving(read_calendar(shifts, [], UTC), clock)
    assert (found.name if found else "", next_begins) == (shift, begins)
