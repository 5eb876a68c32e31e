"""A worker killed while it asks a hold on a scope again, at any point: each hull is held once in the end."""

import multiprocessing
import os
import signal
from collections.abc import Iterator
from functools import partial

import pytest
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from plant.celery import app
from tests import databases
from tests.cast import QUALITY, STORES, Cast, again, rows_of, told_once, told_shared
from tests.databases import Database
from trace import tasks
from trace.models import Job
from trace.recording import asking_scopes
from trace.recording.acts.opening import OldHull
from trace.recording.acts.scope_holds import HoldScope, under

__all__ = ["told_once", "told_shared"]
POINTS = ("taken", "asked", "named", "done")


@pytest.fixture
def cast(
    told_once: tuple[Database, Cast], shared_database: Database, django_db_blocker: DjangoDbBlocker
) -> Iterator[Cast]:
    with (
        databases.cloned(told_once[0]) as database,
        databases.pointed_at(database, shared_database, django_db_blocker),
    ):
        yield again(told_once[1])


def dies(point: str) -> None:
    asking_scopes.fault_point = partial(_kill, point)
    tasks.sweep()


def _kill(point: str, reached: str) -> None:
    if reached == point:
        os.kill(os.getpid(), signal.SIGKILL)


@pytest.mark.parametrize("point", POINTS)
def test_killed_at_a_point_each_hull_is_held_once(cast: Cast, monkeypatch: pytest.MonkeyPatch, point: str) -> None:
    app.set_current()
    monkeypatch.setattr(asking_scopes, "AT_ONCE", 2)
    for n in range(5):
        cast.scan(OldHull(serial=f"OLD-{n}", product="T430"), person=STORES)
    cast.scan(HoldScope(cause=("model=T430",), reason="cracked"), person=QUALITY)
    assert asking_scopes.look() == 1
    databases.close_sessions()
    worker = multiprocessing.get_context("fork").Process(target=dies, args=[point])
    worker.start()
    worker.join()
    assert worker.exitcode == -signal.SIGKILL
    Job.objects.update(touched=timezone.now() - tasks.LEASE)
    tasks.sweep()
    assert len(under(1)) == 5
    assert rows_of("SELECT count(*), count(DISTINCT unit) FROM hold WHERE rule = 'scope 1'") == [(5, 5)]
    assert Job.objects.get(kind=asking_scopes.KIND).state == "done"
    assert asking_scopes.last_asked([1])[1].when is not None
