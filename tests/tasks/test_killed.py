"""A worker killed at any point of a job: its effect is there once in the end, with nobody's help.

The worker is a process of its own, forked, that kills itself (SIGKILL) at the planted point; the next one finds what
it left.
"""

import multiprocessing
import os
import signal
import time
from functools import partial
from uuid import UUID, uuid4

import pytest
from django.utils import timezone

from plant.celery import app
from plant.models import WrongPin
from tests import databases
from tests.databases import Database
from trace import tasks
from trace.models import Job

POINTS = ("before_send", "before_claim", "after_claim", "after_effect", "before_commit", "after_commit", "after_send")

ITS_SESSIONS = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND usename = 'lotwright_app'"


def effect(job: Job) -> None:
    """An effect that shows when it was done twice: a row a time, in a table that the app may write."""
    WrongPin.objects.create(at=timezone.now(), person=job.key, device="an effect")


def dies(point: str) -> None:
    """One round of a worker that dies at the point."""
    tasks.fault_point = partial(_kill, point)
    tasks.sweep()


def _kill(point: str, reached: str) -> None:
    if reached == point:
        os.kill(os.getpid(), signal.SIGKILL)


def a_job() -> UUID:
    now = timezone.now()
    return Job.objects.create(id=uuid4(), kind="test", key=str(uuid4()), args={}, made=now, touched=now).id


@pytest.mark.parametrize("point", POINTS)
def test_killed_at_a_point_it_is_done_once(
    fresh_database: Database, monkeypatch: pytest.MonkeyPatch, point: str
) -> None:
    app.set_current()
    monkeypatch.setitem(tasks.KINDS, "test", effect)
    jobs = [a_job() for _ in range(3)]
    # Nothing of this process's sessions goes along.
    databases.close_sessions()
    worker = multiprocessing.get_context("fork").Process(target=dies, args=[point])
    worker.start()
    worker.join()
    assert worker.exitcode == -signal.SIGKILL
    with fresh_database.connect("postgres", autocommit=True) as session:
        # The server lets its locks go once it has seen that it is dead.
        while session.execute(ITS_SESSIONS).fetchone() != (0,):
            time.sleep(0.01)
        # After the commit of the first of three there is nothing left of it to do; before, all three.
        assert tasks.sweep() == (2 if point in ("after_commit", "after_send") else 3)
        times = session.execute("SELECT person, count(*) FROM wrong_pin GROUP BY 1").fetchall()
    assert sorted(times) == sorted((str(key), 1) for key in Job.objects.values_list("key", flat=True))
    assert Job.objects.filter(id__in=jobs, state="done").count() == 3
