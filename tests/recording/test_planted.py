"""A test of the tests: bugs planted in record() one by one, each found by the checks of this folder."""

from __future__ import annotations

import contextlib
import itertools
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest
from django.db import DatabaseError, connection

from tests.cast import Cast, rows_of
from tests.recording import test_faults, test_holds, test_late, test_once, test_races, test_rules
from trace.codes import uuid7
from trace.readmodels import apply
from trace.readmodels.holds import inherit
from trace.recording import record as recording
from trace.recording.acts import draws
from trace.recording.answers import Answer
from trace.recording.floor import standing as floors
from trace.recording.transaction import attempt
from trace.recording.transaction import keeping as keep
from trace.recording.transaction.keeping import write

FOUND = (AssertionError, DatabaseError, pytest.fail.Exception, LookupError, RuntimeError)
Patch = pytest.MonkeyPatch
SELECT = """SELECT (SELECT COALESCE(max(id), 0) FROM revision), s.fingerprint, s.answer FROM (SELECT 1) one
  LEFT JOIN scan s ON s.device = %s AND s.client_id = %s AND s.mode = %s"""


def look(a: attempt.Attempt) -> tuple[tuple[str, str] | None, int]:
    """The first answer of this mode only, and without any lock."""
    with connection.cursor() as cursor:
        cursor.execute(SELECT, [a.by.device, a.scan_id, a.by.mode])
        revision, fingerprint, answer = cursor.fetchone()
        return (None if fingerprint is None else (fingerprint, answer)), revision


def no_replay_check(patch: Patch) -> None:
    patch.setattr(recording, "open_scan", lambda a: (None, attempt.open_scan(a)[1]))


def other_mode_forgotten(patch: Patch) -> None:
    patch.setattr(recording, "open_scan", look)


def no_fingerprint(patch: Patch) -> None:
    patch.setattr(attempt, "_fingerprint", lambda *_: "same")


def words_not_compared(patch: Patch) -> None:
    patch.setattr(recording, "same_words", lambda *_: True)


def recomputed_answer(patch: Patch) -> None:
    patch.setattr(Answer, "again", staticmethod(lambda *_: Answer("accepted", recorded="seen before", replayed=True)))


def new_id_on_retry(patch: Patch) -> None:
    true = attempt.with_digests
    patch.setattr(recording, "with_digests", lambda c, b, k, r: replace(true(c, b, k, r), scan_id=uuid7()))


def two_transactions(patch: Patch) -> None:
    """What holds now is kept after the event, by itself."""
    true = write

    def event_first(store: Any) -> None:
        from django.db import transaction

        transaction.on_commit(lambda: true(store))

    patch.setattr(keep, "write", event_first)


def kept_on_a_crash(patch: Patch) -> None:
    class Nothing:
        @staticmethod
        @contextlib.contextmanager
        def atomic() -> Iterator[None]:
            yield

    patch.setattr(recording, "transaction", Nothing)


def no_inheritance(patch: Patch) -> None:
    patch.setattr(keep, "inherit", lambda *_: None)


def late_fact_not_replayed(patch: Patch) -> None:
    patch.setattr(recording, "late_codes", lambda *_: [])


def draws_not_moved(patch: Patch) -> None:
    patch.setattr(recording, "replay", lambda *_: None)


def withdrawn_not_given_back(patch: Patch) -> None:
    patch.setitem(apply.STEPS, "voids", lambda *_: None)


def endless_tolerance(patch: Patch) -> None:
    patch.setattr(draws, "fill_tolerance", lambda *_: 10**12)


def overrides_by_anybody(patch: Patch) -> None:
    patch.setattr(recording, "_overridden", lambda finding, a, *_: bool(a.by.overrides.get(finding.code)))


def told_is_refused(patch: Patch) -> None:
    true = recording._record
    patch.setattr(recording, "_record", lambda a: true(replace(a, by=replace(a.by, mode="asks"))))


def replay(cast: Cast, patch: Patch) -> None:
    test_once.test_a_replay_has_the_first_answer(cast, {}, "asks", "accepted")


def crash(cast: Cast, patch: Patch) -> None:
    points = ["before_commit"]

    def reach(point: str) -> None:
        if point in points:
            points.remove(point)
            raise test_faults.BrokenError(point)

    patch.setattr(recording, "fault_point", reach)
    command, who = test_faults.commands(cast)["an ask"]
    before = test_faults.everything()
    with pytest.raises(test_faults.BrokenError):
        recording.record(command, who)
    assert test_faults.everything() == before


def late(name: str) -> Callable[[Cast, Patch], None]:
    def check(cast: Cast, patch: Patch) -> None:
        test_late.test_told_late(test_late.Story(cast), test_late.CASES[name])

    return check


def overdraw(cast: Cast, patch: Patch) -> None:
    bag = cast["foam"][1]
    for n in range(2):
        cast.shift.weigh("WO-1041", "foam", bag, cast["boxes"][n])
    assert cast.shift.weigh("WO-1041", "foam", bag, cast["boxes"][2], expect="OVERDRAW").code == "OVERDRAW"


PLANTED: dict[str, tuple[Callable[[Patch], None], Callable[[Cast, Patch], None]]] = {
    "no replay check": (no_replay_check, replay),
    "the other mode forgotten": (
        other_mode_forgotten,
        lambda c, *_: test_once.test_what_was_recorded_is_not_recorded_again_in_the_other_mode(c, ("asks", "tells")),
    ),
    "no fingerprint": (
        no_fingerprint, lambda c, *_: test_once.test_other_content_is_refused_and_kept(c, {"gross": "12.21"}, {})
    ),
    "words not compared": (
        words_not_compared, lambda c, *_: test_once.test_other_words_are_other_content_until_they_are_erased(c)
    ),
    "a recomputed answer": (recomputed_answer, replay),
    "a new id on retry": (new_id_on_retry, replay),
    "two transactions": (two_transactions, overdraw),
    "the event kept on a crash": (kept_on_a_crash, crash),
    "no hold inheritance": (
        no_inheritance, lambda c, *_: test_holds.make_check(c)
    ),
    "a late fact taken for one in order": (late_fact_not_replayed, late("a top-up told late")),
    "a late fact not replayed": (draws_not_moved, late("a draw told late")),
    "what is withdrawn not given back": (withdrawn_not_given_back, late("a draw told late")),
    "more out than in": (endless_tolerance, overdraw),
    "anybody overrides": (
        overrides_by_anybody, lambda c, *_: test_rules.test_an_override_needs_a_role_and_a_reason_and_is_kept(c)
    ),
    "a told fact refused": (
        told_is_refused, lambda c, *_: test_once.test_a_fact_told_after_a_refused_ask_is_one_flagged_event(c)
    ),
}  # fmt: skip


@pytest.mark.parametrize("bug", PLANTED)
def test_the_checks_find(cast: Cast, monkeypatch: pytest.MonkeyPatch, bug: str) -> None:
    plant, check = PLANTED[bug]
    # A scan that never gets through is given up at once.
    monkeypatch.setattr(recording, "TRY_AGAIN_SECONDS", 0.05)
    plant(monkeypatch)
    with pytest.raises(FOUND):
        check(cast, monkeypatch)


class Meeting:
    """Both scans of a race come here before either goes on; whoever comes after these two goes on alone.

    What the test's own thread scans before the race meets nobody.
    """

    def __init__(self) -> None:
        self.turns, self.both, self.met = itertools.count(), threading.Barrier(2), False

    def __call__(self) -> None:
        if threading.current_thread() is not threading.main_thread() and next(self.turns) < 2:
            self.both.wait(timeout=120)
            self.met = True


def no_row_lock(patch: Patch, meeting: Meeting) -> None:
    """Both have read what they scan before either writes."""
    patch.setattr(floors, "lock", lambda *_: rows_of("SELECT clock_timestamp()")[0][0])
    patch.setattr(recording, "fault_point", lambda point: meeting() if point == "before_write" else None)


def no_id_lock(patch: Patch, meeting: Meeting) -> None:
    """Both have seen that there is no answer yet. Without the lock on its id a twin is stopped by the table alone, and
    not tried again."""

    def look_and_meet(a: attempt.Attempt) -> tuple[tuple[str, str] | None, int]:
        first = look(a)
        meeting()
        return first

    patch.setattr(recording, "open_scan", look_and_meet)
    patch.setattr(recording, "TRY_AGAIN", ("40P01", "40001"))


RACES: dict[str, tuple[Callable[[Patch, Meeting], None], Callable[[Cast, test_races.AtOnce], None]]] = {
    "no row lock": (no_row_lock, test_races.test_the_last_kilograms),
    "no lock on the id": (no_id_lock, test_once.test_twins_sent_at_once_are_one_event),
}


@pytest.mark.parametrize("bug", RACES)
def test_the_races_find(told: Cast, at_once: test_races.AtOnce, monkeypatch: pytest.MonkeyPatch, bug: str) -> None:
    from trace.recording.acts.weighing import CheckWeight

    test_races.scan(CheckWeight(scale="W-3", shown="10.000"))
    plant, check = RACES[bug]
    meeting = Meeting()
    plant(monkeypatch, meeting)
    with pytest.raises(FOUND) as found:
        check(told, at_once)
    assert meeting.met, "they never met, so it was not the bug that was found"
    assert "lock timeout" not in str(found.value)


def test_nothing_is_found_where_nothing_was_planted(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """The checks that are put together here pass on the product as it is."""
    for check in (crash, overdraw):
        check(cast, monkeypatch)
        monkeypatch.undo()
    test_holds.make_check(cast)
    assert keep.__dict__["inherit"] is inherit
