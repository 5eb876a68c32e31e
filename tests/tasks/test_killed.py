"""A worker killed at any point of a job: its effect is there once in the end, with nobody's help.

The worker is a process of its own that kills itself (SIGKILL) at the planted point; the next one finds what it left.
"""

import signal
import subprocess
import sys
from uuid import UUID, uuid4

import pytest
from django.utils import timezone

from tests.databases import ROOT, Database
from trace.models import Job

POINTS = ("before_send", "before_claim", "after_claim", "after_effect", "before_commit", "after_commit", "after_send")
# An effect that shows when it was done twice: a row a time, in a table that the app may write.
WORKER = """
import os, signal, sys
import django
django.setup()
from django.utils import timezone
from plant.models import WrongPin
from trace import tasks

def effect(job):
    WrongPin.objects.create(at=timezone.now(), person=job.key, device="an effect")

def kill(point):
    if point == sys.argv[1]:
        os.kill(os.getpid(), signal.SIGKILL)

tasks.KINDS["test"] = effect
tasks.fault_point = kill
from plant.celery import app
app.set_current()
print(tasks.sweep())
"""


def worker(database: Database, point: str) -> "subprocess.Popen[str]":
    """One round of a worker that dies at the point ("" for one that lives)."""
    return subprocess.Popen(
        [sys.executable, "-W", "error", "-c", WORKER, point], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        text=True, cwd=ROOT, env=database.environment,
    )  # fmt: skip


def a_job() -> UUID:
    now = timezone.now()
    return Job.objects.create(id=uuid4(), kind="test", key=str(uuid4()), args={}, made=now, touched=now).id


@pytest.mark.parametrize("point", POINTS)
def test_killed_at_a_point_it_is_done_once(fresh_database: Database, point: str) -> None:
    jobs = [a_job() for _ in range(3)]
    dies = worker(fresh_database, point)
    said = dies.communicate(timeout=120)
    assert dies.returncode == -signal.SIGKILL, said
    lives = worker(fresh_database, "")
    out, err = lives.communicate(timeout=120)
    assert lives.returncode == 0, err
    # After the commit of the first of three there is nothing left of it to do; before, all three.
    assert int(out) == (2 if point in ("after_commit", "after_send") else 3)
    with fresh_database.connect("postgres") as session:
        times = session.execute("SELECT person, count(*) FROM wrong_pin GROUP BY 1").fetchall()
    assert sorted(times) == sorted((str(key), 1) for key in Job.objects.values_list("key", flat=True))
    assert Job.objects.filter(id__in=jobs, state="done").count() == 3
