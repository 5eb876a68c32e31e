"""A hold on a scope is asked again by the worker after what can change its answer: once, bounded, and said."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from plant.celery import app
from tests.cast import LEAD, QUALITY, STORES, Cast, plate, rows_of
from tests.recording.test_saved_scopes import weighed
from tests.recording.test_scope_holds import bound, lay, uid
from trace import tasks
from trace.models import Job
from trace.recording import asking_scopes
from trace.recording.acts import commands_by_kind
from trace.recording.acts.corrections import Correct
from trace.recording.acts.opening import OldHull
from trace.recording.acts.owners import RegisterOwner
from trace.recording.acts.reading_corrections import CorrectReading
from trace.recording.acts.scope_holds import EndScopeHold, under
from trace.recording.acts.weighing import CheckWeight
from trace.recording.asking_scopes import IN_TURN, NEVER, last_asked, look, spread


@pytest.fixture(autouse=True)
def ours() -> None:
    app.set_current()


def rest() -> None:
    """Time passes: every job was looked at long ago."""
    Job.objects.update(touched=timezone.now() - timedelta(hours=1))


def works() -> None:
    """One round of the worker."""
    look()
    tasks.sweep()


def spreads() -> int:
    return int(rows_of("SELECT count(*) FROM event WHERE kind = 'scope_spread'")[0][0])


def asked(cast: Cast, words: str) -> int:
    """A hold on a scope, laid and asked by its person."""
    number = lay(cast, words)
    spread(number, QUALITY)
    rest()
    return number


def test_every_kind_is_one_that_can_change_an_answer_or_is_named_as_none() -> None:
    assert commands_by_kind().keys() >= NEVER | IN_TURN
    assert not NEVER & IN_TURN


def test_a_hull_that_shares_it_by_a_correction_is_held_without_anybody_asking(cast: Cast) -> None:
    first, second = bound(cast, plate(1)), bound(cast, plate(2))
    number = asked(cast, "holds=V-2291")
    works()
    assert under(number) == [] and last_asked([number])[number].by == QUALITY
    cast.scan(Correct(event=weighed("skin"), was=cast["red"], now=cast["red2"], reason="read"), person=LEAD)
    assert under(number) == []
    assert look() == 1
    assert last_asked([number])[number].waits
    tasks.sweep()
    assert under(number) == [uid(second)] and uid(first) not in under(number)
    told = last_asked([number])[number]
    assert (told.by, told.because, told.named, told.waits, told.error) == ("", ("corrected",), 1, False, "")
    [(person, station, because)] = rows_of(
        "SELECT person, station, body::jsonb #>> '{says,because,0}' FROM event WHERE kind = 'scope_spread'"
    )
    assert (person, station, because) == (QUALITY, "worker", "corrected")


def test_what_is_recorded_as_it_happens_asks_nothing_again(cast: Cast) -> None:
    """Bind judges such a hull by itself."""
    number = asked(cast, "holds=V-2288")
    bound(cast, plate(1))
    assert under(number) == [uid(plate(1))]
    assert look() == 0
    Job.objects.filter(kind=asking_scopes.KIND).update(args={**Job.objects.get().args, "seen": 0})
    assert look() == 1, "the cast's own beginning has old records that matter"


def test_many_records_are_one_question_and_it_is_not_asked_too_often(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    number = asked(cast, "model=T430")
    for n in range(5):
        cast.scan(OldHull(serial=f"OLD-{n}", product="T430"), person=STORES)
    assert (look(), look()) == (1, 0)
    tasks.sweep()
    assert len(under(number)) == 5 and spreads() == 1
    cast.scan(OldHull(serial="OLD-9", product="T430"), person=STORES)
    assert look() == 0, "not within its pause"
    job = Job.objects.get(kind=asking_scopes.KIND)
    Job.objects.update(args={**job.args, "took": 30.0}, touched=timezone.now() - timedelta(minutes=9))
    assert look() == 0, "it took half a minute: ten minutes of rest"
    Job.objects.update(touched=timezone.now() - timedelta(minutes=11))
    assert look() == 1
    tasks.sweep()
    assert len(under(number)) == 6
    rest()
    assert look() == 0
    # Whatever is recorded, after enough of it somebody looks.
    monkeypatch.setattr(asking_scopes, "MOST_SINCE", 3)
    bound(cast, plate(1))
    assert look() == 1


def test_a_check_weight_that_proves_to_have_failed_reaches_what_was_weighed_before_it(cast: Cast) -> None:
    """`since-check` is asked of all records, so no scan can: what was measured between the good checks around now."""
    hull = bound(cast, plate(1))
    cast.scan(CheckWeight(scale="W-3", shown="10.000"), station="weighing")
    number = asked(cast, "since-check=W-3")
    assert under(number) == []
    event = str(rows_of("SELECT uid::text FROM event WHERE kind = 'check_weighed' ORDER BY id DESC LIMIT 1")[0][0])
    cast.scan(CorrectReading(of="W-3", event=event, n=0, value="10.900", reason="misread"), person=QUALITY)
    works()
    assert last_asked([number])[number].because == ("reading_corrected",)
    assert under(number) == [uid(hull)]


def test_an_owner_registered_elsewhere_is_found(cast: Cast) -> None:
    cast.scan(OldHull(serial="OLD-1", product="T430"), person=STORES)
    number = asked(cast, "use=hire")
    before = under(number)
    cast.scan(RegisterOwner(hull="OLD-1", owner="W", use="hire"), person=LEAD)
    works()
    assert last_asked([number])[number].because == ("owner_registered",)
    assert set(before) <= set(under(number)) == {uid("OLD-1")}


def test_where_laying_broke_off_it_is_asked_by_the_worker(cast: Cast) -> None:
    hull = bound(cast, plate(1))
    number = lay(cast, "holds=V-2288")
    assert under(number) == []
    works()
    assert under(number) == [uid(hull)] and last_asked([number])[number].because == ()
    rest()
    works()
    assert spreads() == 1


def test_one_that_is_over_is_not_asked(cast: Cast) -> None:
    bound(cast, plate(1))
    number = lay(cast, "holds=V-2288")
    assert look() == 1
    cast.scan(EndScopeHold(number=number, reason="over"), person=LEAD)
    tasks.sweep()
    assert Job.objects.get(kind=asking_scopes.KIND).state == "done"
    assert (spreads(), look()) == (0, 0)


def test_short_jobs_are_done_between_the_slices_of_an_asking(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a broker one process does all jobs: a hold being spread does not wait until thousands are named."""
    named: list[int] = []
    monkeypatch.setattr(asking_scopes, "AT_ONCE", 1)
    monkeypatch.setitem(tasks.KINDS, "short", lambda _job: named.append(len(under(1))))

    def comes_up(point: str) -> None:
        if point == "named":
            now = timezone.now()
            Job.objects.create(id=uuid4(), kind="short", key=f"short {uuid4()}", args={}, made=now, touched=now)

    monkeypatch.setattr(asking_scopes, "fault_point", comes_up)
    for n in range(3):
        cast.scan(OldHull(serial=f"OLD-{n}", product="T430"), person=STORES)
    assert lay(cast, "model=T430") == 1
    works()
    assert named == [1, 2, 3]
    assert not Job.objects.exclude(state="done").exists()
