"""A job is done once, however often it is carried, and the sweep finds what was left."""

from datetime import timedelta
from functools import partial
from typing import Any
from uuid import uuid4

import pytest
from django.db import OperationalError
from django.utils import timezone
from kombu.exceptions import KombuError

from plant.celery import app
from tests.conftest import AtOnce, Connect
from tests.databases import Database
from trace import tasks
from trace.models import Job


@pytest.fixture(autouse=True)
def ours() -> None:
    """The app that the tasks belong to, whatever another test has set."""
    app.set_current()


def a_job(**given: object) -> Job:
    now = timezone.now()
    values = {"kind": "spread hold", "key": str(uuid4()), "args": {"hold": 0}, "made": now, "touched": now}
    return Job.objects.create(id=uuid4(), **{**values, **given})


@pytest.mark.django_db
def test_a_job_is_done_once() -> None:
    job = a_job()
    tasks.carry(str(job.id))
    job.refresh_from_db()
    done_at = job.touched
    assert job.state == "done"
    tasks.carry(str(job.id))
    job.refresh_from_db()
    assert job.touched == done_at


@pytest.mark.django_db
def test_a_job_of_an_unknown_kind_is_put_off_and_says_so(caplog: pytest.LogCaptureFixture) -> None:
    job = a_job(kind="something else")
    tasks.carry(str(job.id))
    job.refresh_from_db()
    assert (job.state, job.error) == ("put off", "no job of kind something else is known")
    assert tasks.due() == []
    Job.objects.filter(id=job.id).update(touched=timezone.now() - tasks.LEASE)
    assert tasks.due() == [job.id]


@pytest.mark.django_db
def test_what_failed_has_no_effect_and_is_done_later(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(job: Job) -> None:
        a_job(key="an effect")
        raise ZeroDivisionError("for once")

    monkeypatch.setitem(tasks.KINDS, "test", fails)
    job = a_job(kind="test")
    assert tasks.sweep() == 1
    assert not Job.objects.filter(key="an effect").exists()
    assert Job.objects.get(id=job.id).error == "for once"
    monkeypatch.setitem(tasks.KINDS, "test", lambda _job: None)
    Job.objects.filter(id=job.id).update(touched=timezone.now() - tasks.LEASE)
    assert tasks.sweep() == 1
    job.refresh_from_db()
    assert (job.state, job.error) == ("done", "")


@pytest.mark.django_db
def test_an_id_without_a_row_does_nothing() -> None:
    tasks.carry(str(uuid4()))


@pytest.mark.django_db
def test_without_a_broker_the_sweep_does_what_waits() -> None:
    old = timezone.now() - timedelta(minutes=5)
    left, fresh = a_job(state="put off", touched=old), a_job()
    resting, done = a_job(state="put off"), a_job(touched=old, state="done")
    assert tasks.sweep() == 2
    assert {row.id for row in Job.objects.filter(state="done")} == {left.id, fresh.id, done.id}
    assert Job.objects.get(id=resting.id).state == "put off"


@pytest.fixture
def sent(monkeypatch: pytest.MonkeyPatch, settings: Any) -> list[str]:
    """The ids that go to the broker."""
    settings.CELERY_BROKER_URL = "amqp://a-broker"
    found: list[str] = []
    monkeypatch.setattr(tasks.carry, "delay", found.append)
    return found


@pytest.mark.django_db
def test_with_a_broker_the_sweep_sends_and_sends_again_what_was_lost(sent: list[str]) -> None:
    job = a_job()
    assert (tasks.sweep(), tasks.sweep()) == (1, 0)
    assert sent == [str(job.id)]
    Job.objects.filter(id=job.id).update(touched=timezone.now() - tasks.LEASE)
    assert (tasks.sweep(), tasks.sweep()) == (1, 0)
    assert sent == [str(job.id)] * 2
    tasks.carry(str(job.id))
    Job.objects.filter(id=job.id).update(touched=timezone.now() - tasks.LEASE)
    assert tasks.sweep() == 0


@pytest.mark.django_db
@pytest.mark.parametrize("away", [OSError, OperationalError, KombuError])
def test_a_broker_or_a_database_that_is_away_costs_nothing(
    away: type[Exception], sent: list[str], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fails(_: str) -> None:
        raise away("not there")

    job = a_job()
    monkeypatch.setattr(tasks.carry, "delay", fails)
    assert tasks.sweep() == 0
    assert "does not answer, so the jobs wait" in caplog.text
    assert Job.objects.get(id=job.id).state == "sent"


def test_two_workers_at_once_do_it_once(at_once: AtOnce, monkeypatch: pytest.MonkeyPatch) -> None:
    times: list[str] = []
    monkeypatch.setitem(tasks.KINDS, "test", lambda job: times.append(job.key))
    job = a_job(kind="test")
    at_once(*[partial(tasks.carry, str(job.id))] * 4)
    assert times == [job.key]


def test_a_job_in_other_hands_is_left_to_them(
    fresh_database: Database, connect: Connect, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever comes second does not wait for the first: the row is passed over."""
    done: list[str] = []
    monkeypatch.setitem(tasks.KINDS, "test", lambda job: done.append(job.key))
    job = a_job(kind="test")
    other = connect("app")
    other.execute("SELECT FROM job WHERE id = %s FOR UPDATE", [job.id])
    tasks.carry(str(job.id))
    assert done == []
    other.rollback()
    tasks.carry(str(job.id))
    assert done == [job.key]
