"""The Celery app `plant`: its beat asks the job table; the jobs are rows, written with the records they follow from.

Without a broker `celery -A plant beat` is the whole worker: what is due it does itself, there and then. With
RabbitMQ or Redis in CELERY_BROKER_URL, `celery -A plant worker --beat` shares the work out to any number of workers;
what the broker loses is sent again, as nothing but the row says that a job is done.
"""

import os

from celery import Celery
from celery.signals import beat_init, worker_init
from django.conf import settings

from plant.start import START

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")

ASK_EVERY = 1.0  # seconds
# Whether something was recorded after which holds on a scope are to be asked again.
SCOPES_EVERY = 10.0
# A check of the records goes on in small steps, so that it takes a fifth of one processor while it lasts.
CHECK_EVERY = 2.0

app = Celery("plant", namespace="CELERY")
app.conf.update(
    broker_url=settings.CELERY_BROKER_URL or "memory://localhost",
    # Without a broker nothing is sent: a task is done where it is called.
    task_always_eager=not settings.CELERY_BROKER_URL,
    accept_content=["json"],
    task_serializer="json",
    result_serializer="json",
    event_serializer="json",
    # A job's outcome stands in its row, so no result is sent back.
    result_backend=None,
    task_ignore_result=True,
    # With the defaults a job whose worker dies is lost: acknowledge after the work, and hand it back on a
    # loss.
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    worker_prefetch_multiplier=1,
    # A broker that is away is waited for, however long.
    broker_connection_retry_on_startup=True,
    broker_connection_max_retries=None,
    enable_utc=True,
    timezone="UTC",
    worker_hijack_root_logger=False,
    worker_redirect_stdouts=False,
    task_default_queue=settings.CELERY_QUEUE,
    # Redis has no queues apart from its keys.
    broker_transport_options=(
        {"global_keyprefix": f"{settings.CELERY_QUEUE}."} if settings.CELERY_BROKER_URL.startswith("redis") else {}
    ),
    worker_enable_remote_control=False,
    # The times of the last runs are kept in memory: a file of them can be left half-written.
    beat_scheduler="celery.beat:Scheduler",
    # Named, not imported (trace/tasks.py, trace/photos/evidence.py). What nobody took in time is asked again.
    beat_schedule={
        "sweep": {"task": "trace.sweep", "schedule": ASK_EVERY, "options": {"expires": 10}},
        "ask scopes": {"task": "trace.ask_scopes", "schedule": SCOPES_EVERY, "options": {"expires": 10}},
        "mark": {"task": "trace.mark", "schedule": 3600.0, "options": {"expires": 3600}},
        "sweep photos": {"task": "trace.sweep_photos", "schedule": 3600.0, "options": {"expires": 3600}},
        "check records": {"task": "trace.check_records", "schedule": CHECK_EVERY, "options": {"expires": 10}},
    },
)
app.autodiscover_tasks()
app.autodiscover_tasks(["trace.photos"], related_name="evidence")


@worker_init.connect
@beat_init.connect
def check_before_work(**_said: object) -> None:
    """A worker, like the web, does not start on a database that does not guard its records, and waits for one that
    does not answer.
    """
    START.wait()
