"""A wide hold is spread by a job while scans go on: whatever happens meanwhile, it ends where a full walk ends."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

import pytest

from tests.cast import DEPUTY, LEAD, QUALITY, WO_RED, Cast, plate, rows_of
from trace.readmodels import spreading, unspread
from trace.readmodels.rebuild import differences
from trace.readmodels.spreading import spread
from trace.recording.acts.counting import Count
from trace.recording.acts.holds import Hold, ReleaseHold


class BrokenOffError(Exception):
    """The worker was killed here."""


@pytest.fixture(autouse=True)
def everything_is_wide(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.HOLD_REACH_AT_ONCE = 1
    monkeypatch.setattr(spreading, "SLICE", 1)


def laid(cast: Cast, code: str) -> str:
    return str(cast.scan(Hold(code=code, reason="the powder is damp"), person=QUALITY).made["holds"][0])


def job_of(hold: str) -> tuple[UUID, str]:
    (row,) = rows_of("SELECT id, state FROM job WHERE key = %s", f"spread hold {hold}")
    return row[0], row[1]


def held(hold: str) -> int:
    sql = "SELECT count(*) FROM unit_hold w JOIN hold h ON h.id = w.hold WHERE h.uid::text = %s"
    return int(rows_of(sql, hold)[0][0])


def meanwhile(monkeypatch: pytest.MonkeyPatch, act: Callable[[], object], after: int) -> None:
    """Do something once, between the slices, after so many of them."""
    told, count = spreading._tell, iter(range(10_000))

    def tell(*args: Any, **given: Any) -> None:
        told(*args, **given)
        if next(count) == after:
            act()

    monkeypatch.setattr(spreading, "_tell", tell)


def test_it_is_in_force_before_it_is_spread_and_the_job_says_how_far_it_is(cast: Cast) -> None:
    cast.hull(plate(1))
    uid = laid(cast, cast["red"])
    job, state = job_of(uid)
    assert (state, held(uid)) == ("waiting", 1)
    assert spread(job)
    count = held(uid)
    assert count > 4
    assert rows_of("SELECT state, done, total FROM job WHERE id = %s", job) == [("done", count, count)]
    assert differences() == []


@pytest.mark.parametrize("after", [0, 1, 3])
def test_broken_off_it_is_begun_again_and_ends_the_same(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, after: int
) -> None:
    cast.hull(plate(1))
    uid = laid(cast, cast["red"])

    def killed() -> None:
        raise BrokenOffError

    with monkeypatch.context() as patch:
        meanwhile(patch, killed, after)
        with pytest.raises(BrokenOffError):
            spread(job_of(uid)[0])
    assert job_of(uid)[1] != "done"
    assert spread(job_of(uid)[0])
    assert differences() == []


@pytest.mark.parametrize("after", [0, 2, 4])
def test_what_is_made_meanwhile_is_under_it_too(cast: Cast, monkeypatch: pytest.MonkeyPatch, after: int) -> None:
    """Told, since asked it would be refused; by ordinary scans the job is not begun again."""
    cast.hull(plate(1))
    uid = laid(cast, cast["red"])
    told = lambda: cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][1], mode="tells")  # noqa: E731
    meanwhile(monkeypatch, told, after)
    before = held(uid)
    assert spread(job_of(uid)[0])
    assert held(uid) > before
    assert differences() == []


@pytest.mark.parametrize("after", [0, 2, 4])
def test_a_release_meanwhile_begins_it_again(cast: Cast, monkeypatch: pytest.MonkeyPatch, after: int) -> None:
    cast.hull(plate(1))
    cast.hull(plate(2))
    uid = laid(cast, cast["red"])
    freed = lambda: cast.scan(ReleaseHold(hold=uid, code=plate(1), reason="wall measured"), person=DEPUTY)  # noqa: E731
    with monkeypatch.context() as patch:
        meanwhile(patch, freed, after)
        assert not spread(job_of(uid)[0])
    assert job_of(uid)[1] == "waiting"
    assert spread(job_of(uid)[0])
    assert differences() == []


def test_a_wide_hold_that_is_over_stops_nothing_at_once_and_is_cleared_away_by_its_job(cast: Cast) -> None:
    cast.hull(plate(1))
    uid = laid(cast, cast["red"])
    assert spread(job_of(uid)[0])
    wide = held(uid)
    cast.scan(ReleaseHold(hold=uid, reason="lot measured again"), person=DEPUTY)
    assert held(uid) == wide  # nobody waited for thousands of rows to go
    cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][1])
    assert spread(job_of(uid)[0])
    assert held(uid) == 0
    assert differences() == []


def test_a_spread_hold_follows_what_is_done_afterwards_without_its_job(cast: Cast, settings: Any) -> None:
    cast.hull(plate(1))
    uid = laid(cast, cast["red"])
    assert spread(job_of(uid)[0])
    settings.HOLD_REACH_AT_ONCE = 1_000
    cast.scan(Count(box=cast["red"], amount="90", again="90", reason="counted"), person=LEAD)
    cast.scan(ReleaseHold(hold=uid, code=plate(1), reason="wall measured"), person=DEPUTY)
    assert job_of(uid)[1] == "done"
    assert differences() == []


def test_a_job_done_by_two_workers_at_once_is_done_once(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    cast.hull(plate(1))
    uid = laid(cast, cast["red"])
    job = job_of(uid)[0]

    def other() -> None:
        monkeypatch.undo()
        assert spread(job)

    meanwhile(monkeypatch, other, 2)
    # The other has done it all: this one finds it done, and writes no more.
    assert not spread(job)
    assert job_of(uid)[1] == "done"
    assert spread(job)
    assert differences() == []


def test_walking_back_tells_each_hull_apart_and_gives_up_on_the_safe_side(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    for n, box in ((1, "red"), (2, "red2")):
        cast.hull(plate(n), red=cast[box])
    uid = laid(cast, cast["red"])
    (hold,) = (row[0] for row in rows_of("SELECT id FROM hold WHERE uid = %s", uid))
    one, two = (rows_of("SELECT hull FROM serial_state WHERE text = %s", plate(n))[0][0] for n in (1, 2))
    assert unspread.under_unspread([one, two]) == {one: [hold]}
    monkeypatch.setattr(unspread, "MOST_BEHIND", 3)
    assert unspread.under_unspread([one, two]) == {one: [hold], two: [hold]}
    cast.scan(ReleaseHold(hold=uid, code=plate(1), reason="wall measured"), person=DEPUTY)
    monkeypatch.undo()
    assert unspread.under_unspread([one, two]) == {}
