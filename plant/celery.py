"""The Celery app `plant`: it only carries the numbers of jobs; the jobs are rows written with the records."""

import os

from celery import Celery
from celery.signals import worker_init
from django.conf import settings

from plant.checks import refuse_to_start

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plant.settings")

app = Celery("plant", namespace="CELERY")
app.conf.update(
    broker_url=settings.CELERY_BROKER_URL or "filesystem://",
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
    broker_connection_retry_on_startup=True,
    enable_utc=True,
    timezone="UTC",
    worker_hijack_root_logger=False,
    task_default_queue="plant",
    # What a crash or a lost message left undone is sent again (trace/tasks.py; named, not imported).
    beat_schedule={"sweep": {"task": "trace.sweep", "schedule": 30.0}},
)
if not settings.CELERY_BROKER_URL:
    # The same folder to write and to read: one machine holds both ends. Folders of our own, because messages
    # taken
    # from the queue otherwise go to the system's temporary folder.
    broker = settings.DATA_FOLDER / "broker"
    folders = {
        "data_folder_in": broker / "messages",
        "data_folder_out": broker / "messages",
        "control_folder": broker / "control",
        "processed_folder": broker / "processed",
    }
    for folder in folders.values():
        folder.mkdir(parents=True, exist_ok=True)
    app.conf.broker_transport_options = {
        **{name: str(folder) for name, folder in folders.items()},
        "store_processed": False,
    }
app.autodiscover_tasks()


@worker_init.connect
def check_before_work(**_said: object) -> None:
    """A worker, like the web, does not start on a database that does not guard its records."""
    refuse_to_start()
