"""Carries jobs: a job is a row written with its scan; Celery brings only its id, and a sweep sends it again."""

from datetime import timedelta
from uuid import UUID

from celery import shared_task
from django.db import connection, transaction
from django.utils import timezone
from kombu.exceptions import KombuError

from trace.models import Job
from trace.readmodels.holds import spread
from trace.recording.record import GATE

SEND_AGAIN_AFTER = timedelta(seconds=60)


@shared_task(name="trace.carry")
def carry(job: str) -> None:
    """Do one job once: its effect and its state `done` are one transaction, so that twice is the same as once."""
    with transaction.atomic():
        with connection.cursor() as cursor:
            # Nothing may be made of what is held while the reach is written.
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [GATE])
        row = Job.objects.select_for_update().filter(id=UUID(job)).first()
        if row is None or row.state == "done":
            return
        if row.kind != "spread hold":
            raise ValueError(f"no job of kind {row.kind} is known")
        row.total = row.done = spread(row.args["hold"])
        row.state = "done"
        row.touched = timezone.now()
        row.save(update_fields=["total", "done", "state", "touched"])


@shared_task(name="trace.sweep")
def sweep() -> int:
    """Send every job that is not done and was not touched lately; how many were sent."""
    waiting = Job.objects.exclude(state="done").filter(touched__lt=timezone.now() - SEND_AGAIN_AFTER)
    sent = 0
    for row in waiting.only("id"):
        carry.delay(str(row.id))
        sent += 1
    return sent


def send_waiting() -> None:
    """Send what was written just now, after its transaction; a broker that is away costs nothing, the sweep comes."""
    for job in Job.objects.filter(state="waiting").values_list("id", flat=True):
        try:
            carry.delay(str(job))
        except (OSError, KombuError):
            return
