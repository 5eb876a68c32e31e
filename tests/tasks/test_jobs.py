"""A job is done once, however often it is carried, and a sweep finds what was left."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from trace import tasks
from trace.models import Job


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
def test_a_job_of_an_unknown_kind_is_left_waiting_and_says_so() -> None:
    job = a_job(kind="something else")
    with pytest.raises(ValueError, match="something else"):
        tasks.carry(str(job.id))
    assert Job.objects.get(id=job.id).state == "waiting"


@pytest.mark.django_db
def test_an_id_without_a_row_does_nothing() -> None:
    tasks.carry(str(uuid4()))


@pytest.mark.django_db
def test_the_sweep_sends_what_was_left(monkeypatch: pytest.MonkeyPatch) -> None:
    old = timezone.now() - timedelta(minutes=5)
    left, fresh, done = a_job(touched=old), a_job(), a_job(touched=old, state="done")
    sent: list[str] = []
    monkeypatch.setattr(tasks.carry, "delay", sent.append)
    assert tasks.sweep() == 1
    assert sent == [str(left.id)]
    assert str(fresh.id) not in sent
    assert str(done.id) not in sent


@pytest.mark.django_db
def test_a_broker_that_is_away_costs_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def away(_: str) -> None:
        raise OSError("no broker")

    a_job()
    monkeypatch.setattr(tasks.carry, "delay", away)
    tasks.send_waiting()
