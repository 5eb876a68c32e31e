"""Jobs: work to do after a scan, written in the scan's own transaction so that none is lost."""

from django.db import models


class Job(models.Model):
    id = models.UUIDField(primary_key=True)
    kind = models.TextField()
    key = models.TextField(unique=True)
    args = models.JSONField()
    state = models.TextField(default="waiting")
    done = models.IntegerField(default=0)
    total = models.IntegerField(default=0)
    error = models.TextField(default="")
    made = models.DateTimeField()
    touched = models.DateTimeField()

    class Meta:
        db_table = "job"
        indexes = [models.Index(fields=["state", "touched"], name="job_state")]
