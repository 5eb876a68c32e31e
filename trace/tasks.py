"""Does jobs: a job is a row written with its scan, done in one transaction with its effect, whoever brings its id.
What takes long is done in slices instead, each a transaction: broken off, it is begun again, and twice is as once.

The worker's beat asks for what is due (sweep) every second. Without a broker it does each job itself; with one it
lends the job out and sends its id, and sends it again when it has heard nothing for LEASE.

A long job (LONG) waits until no short one does, and only one is out at a time, so that it takes one worker at most.
Without a broker the short ones that have come up meanwhile are done between its rows or slices.
"""

import logging
from collections.abc import Callable
from datetime import timedelta
from uuid import UUID

from celery import shared_task
from django.conf import settings
from django.db import InterfaceError, OperationalError, close_old_connections, connection, transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from kombu.exceptions import KombuError

from trace.exports import keeping
from trace.genealogy.tree_size import set_marks
from trace.models import Job
from trace.readmodels import checking, counting
from trace.readmodels.spreading import spread
from trace.recording import asking_scopes

LEASE = timedelta(seconds=60)  # what was sent, or failed, is not looked at again for so long
AT_ONCE = 100
LONG = (keeping.KIND, asking_scopes.KIND)
CHECK_FOR = 0.4  # seconds: without a broker jobs wait for it

log = logging.getLogger("plant.jobs")


def _nowhere(point: str) -> None:
    """The product breaks off nowhere."""


# Called with the name of each point reached; tests break off there. See tests/tasks/test_killed.py.
fault_point: Callable[[str], None] = _nowhere


# What is done for each kind of job, within the transaction that marks it done.
KINDS: dict[str, Callable[[Job], None]] = {}
# What keeps its own row up to date, slice by slice, and marks it done itself; False when it was given anew meanwhile,
# and is to be done again.
SLICED: dict[str, Callable[[UUID], bool]] = {
    "spread hold": spread, counting.KIND: counting.count, keeping.KIND: lambda job: keeping.make(job, short_jobs),
    asking_scopes.KIND: lambda job: asking_scopes.ask(job, short_jobs),
}  # fmt: skip


@shared_task(name="trace.carry")
def carry(job: str) -> None:
    """Do one job once: its effect and its state `done` are one transaction, so that twice is the same as once.

    A job that another worker has in hand is left to it. What goes wrong stands in the row until the next try.
    """
    try:
        kind = Job.objects.filter(id=UUID(job)).exclude(state="done").values_list("kind", flat=True).first()
        if kind in SLICED:
            SLICED[kind](UUID(job))
            return
        with transaction.atomic():
            fault_point("before_claim")
            row = _claim(UUID(job))
            if row is None:
                return
            fault_point("after_claim")
            if row.kind not in KINDS:
                raise ValueError(f"no job of kind {row.kind} is known")
            KINDS[row.kind](row)
            fault_point("after_effect")
            row.state, row.error, row.touched = "done", "", timezone.now()
            row.save(update_fields=["total", "done", "state", "error", "touched"])
            fault_point("before_commit")
        fault_point("after_commit")
    except (OperationalError, InterfaceError) as error:
        # Nothing is wrong with the job: its row is as it was.
        log.warning("The job %s waits, as the database does not answer: %s", job, error)
    except Exception as error:
        log.exception("The job %s could not be done; it is tried again in %s", job, LEASE)
        Job.objects.filter(id=UUID(job)).update(state="put off", error=str(error)[:1000], touched=timezone.now())


def _claim(job: UUID) -> Job | None:
    """The row, locked until the end of the transaction; None when it is done, gone, or in other hands."""
    return Job.objects.select_for_update(skip_locked=True).filter(id=job).exclude(state="done").first()


@shared_task(name="trace.sweep")
def sweep() -> int:
    """Do, or send, every job that waits or of which nothing was heard for LEASE; how many. A database or a broker that
    is away is no fault: the rows wait.
    """
    done = 0
    try:
        if not connection.in_atomic_block:
            close_old_connections()
        for job in due():
            fault_point("before_send")
            if settings.CELERY_BROKER_URL:
                _lend(job)
            carry.delay(str(job))
            fault_point("after_send")
            done += 1
    except (OperationalError, InterfaceError) as error:
        log.warning("The database does not answer, so the jobs wait: %s", error)
    except (OSError, KombuError) as error:
        log.warning("The broker does not answer, so the jobs wait: %s", error)
    return done


def due() -> list[UUID]:
    """The ids of the jobs to be looked at now: short ones, the oldest first, then one long one, where none is out."""
    found = _due_short()
    out = Job.objects.filter(kind__in=LONG, state__in=("sent", "under way"), touched__gte=timezone.now() - LEASE)
    first = _waiting().filter(kind__in=LONG).order_by("made").values_list("id", flat=True)[:1]
    return found if out.exists() else [*found, *first]


def _due_short() -> list[UUID]:
    return list(_waiting().exclude(kind__in=LONG).order_by("made").values_list("id", flat=True)[:AT_ONCE])


def _waiting() -> QuerySet[Job]:
    stale = ~Q(state__in=("waiting", "done")) & Q(touched__lt=timezone.now() - LEASE)
    return Job.objects.filter(Q(state="waiting") | stale)


def short_jobs() -> None:
    """Where this process does all jobs: do the short ones that wait, in the middle of a long one."""
    if not settings.CELERY_BROKER_URL:
        for job in _due_short():
            carry.delay(str(job))


def _lend(job: UUID) -> None:
    Job.objects.filter(id=job).exclude(state="done").update(state="sent", touched=timezone.now())


@shared_task(name="trace.check_records")
def check_records() -> None:
    """Begin a check of the records when one is due, and work for a moment on the one that is under way."""
    try:
        if not connection.in_atomic_block:
            close_old_connections()
        if checking.is_due():
            checking.begin()
        checking.go_on(seconds=CHECK_FOR)
    except (OperationalError, InterfaceError) as error:
        log.warning("The database does not answer, so the check of the records waits: %s", error)


@shared_task(name="trace.ask_scopes")
def ask_scopes() -> int:
    """Have the holds on a scope asked again that something recorded since may change; how many."""
    try:
        if not connection.in_atomic_block:
            close_old_connections()
        return asking_scopes.look()
    except (OperationalError, InterfaceError) as error:
        log.warning("The database does not answer, so holds on a scope wait to be asked again: %s", error)
        return 0


@shared_task(name="trace.mark")
def mark() -> int:
    """Set the marks from which the events of a page are counted (trace/genealogy/tree_size.py); how many were due."""
    if not connection.in_atomic_block:
        close_old_connections()
    return set_marks(timezone.now())
