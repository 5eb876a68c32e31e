"""Plant data as it held at a time, and what a process keeps of it."""

from __future__ import annotations

from datetime import timedelta

from tests.cast import MORNING, Cast, statements
from trace.readmodels import plantdata
from trace.readmodels.plantdata import Directory, as_of, newest, older


def test_what_holds_now_is_not_read_again_for_a_time_since_which_nothing_changed(cast: Cast) -> None:
    today = newest()
    assert today.since is not None
    assert statements(lambda: as_of(today, today.since or MORNING)) == []
    assert as_of(today, today.since) is today
    assert as_of(today, today.since - timedelta(days=1)) is not today


def test_a_plant_that_nothing_was_entered_for_holds_nothing_at_any_time() -> None:
    """The first records of a plant are told before anything is set up."""
    empty = Directory(0)
    assert as_of(empty, MORNING) is empty


def test_what_is_kept_is_forgotten_where_the_database_is_another(cast: Cast) -> None:
    mould = next(thing for thing in newest().things.values() if thing.kind == "mould")
    assert older(mould.uid, mould.version) == mould.body
    plantdata.forget()
    assert statements(lambda: older(mould.uid, mould.version)) != []
    assert statements(newest) != []
