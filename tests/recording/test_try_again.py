"""A scan that meets others is tried again until it is through; when it never is, it is said what was in its way."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import psycopg
import pytest
from django.db import IntegrityError, OperationalError

from plant.errors import Broken, Busy, error_from
from tests.cast import LEAD, Cast, rows_of
from trace.codes import uuid7
from trace.recording import record as recording
from trace.recording.acts.weighing import CheckWeight
from trace.recording.commands import By


def meets(times: float, kind: type[Exception], cause: type[psycopg.Error]) -> Callable[[Any], Any]:
    """In place of _record(): so many times somebody else is in the way, after that it does what it should."""
    true, met = recording._record, iter(range(10**9))

    def record(attempt: Any) -> Any:
        if next(met) < times:
            raise kind("met") from cause("met")
        return true(attempt)

    return record


def check_weight() -> Any:
    return recording.record(CheckWeight(scale="W-3", shown="10.000"), By(person=LEAD, device="t1", scan_id=uuid7()))


@pytest.mark.parametrize(
    ("kind", "cause"),
    [
        (OperationalError, psycopg.errors.DeadlockDetected),
        (OperationalError, psycopg.errors.SerializationFailure),
        (IntegrityError, psycopg.errors.UniqueViolation),
    ],
)
def test_who_met_others_twelve_times_is_recorded_once(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, kind: type[Exception], cause: type[psycopg.Error]
) -> None:
    before = rows_of("SELECT count(*) FROM event")[0][0]
    monkeypatch.setattr(recording, "_record", meets(12, kind, cause))
    # However slow the machine: its turns are counted, not its seconds.
    monkeypatch.setattr(recording, "TRY_AGAIN_SECONDS", 600.0)
    assert check_weight().outcome == "accepted"
    assert rows_of("SELECT count(*) FROM event") == [(before + 1,)]


def test_who_meets_others_for_ever_is_told_that_somebody_is_in_the_way(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(recording, "TRY_AGAIN_SECONDS", 0.05)
    monkeypatch.setattr(recording, "_record", meets(float("inf"), OperationalError, psycopg.errors.DeadlockDetected))
    with pytest.raises(Busy) as raised:
        check_weight()
    said = error_from(raised.value)
    assert (said.status, said.code, said.retry_seconds) == (503, "busy", 2)
    # Two rows that never fit together are a fault of the software, and stand in its log.
    monkeypatch.setattr(recording, "_record", meets(float("inf"), IntegrityError, psycopg.errors.UniqueViolation))
    with pytest.raises(IntegrityError) as wrong:
        check_weight()
    assert isinstance(error_from(wrong.value), Broken)


def test_what_is_no_meeting_is_raised_at_once(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    tries = []

    def record(attempt: Any) -> Any:
        tries.append(attempt)
        raise OperationalError("gone") from psycopg.errors.AdminShutdown("gone")

    monkeypatch.setattr(recording, "_record", record)
    with pytest.raises(OperationalError):
        check_weight()
    assert len(tries) == 1


def test_a_scan_whose_time_a_slow_machine_made_too_old_reads_the_clock_anew(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The door takes no time that is more than five seconds old; the scan was honest, and is not lost for it."""
    late = meets(2, IntegrityError, psycopg.errors.CheckViolation)
    monkeypatch.setattr(recording, "_record", late)
    monkeypatch.setattr(recording, "CLOCK_SECONDS", 0.0)
    monkeypatch.setattr(recording, "TRY_AGAIN_SECONDS", 600.0)
    assert check_weight().outcome == "accepted"


def test_a_machine_that_stays_too_slow_is_busy(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no time has passed, what the door refuses is a fault of the program and is said to be one."""
    monkeypatch.setattr(recording, "_record", meets(float("inf"), IntegrityError, psycopg.errors.CheckViolation))
    monkeypatch.setattr(recording, "TRY_AGAIN_SECONDS", 0.0)
    with pytest.raises(IntegrityError):
        check_weight()
    monkeypatch.setattr(recording, "CLOCK_SECONDS", 0.0)
    with pytest.raises(Busy):
        check_weight()
