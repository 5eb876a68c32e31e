"""Checks of the records: how far each came, and what it found."""

from django.db import models


class RecordCheck(models.Model):
    """One check of all records against their events' bytes; it goes on slice by slice until `ended` is set.

    `place` tells the database it ran in: after a restore it is another. `found` keeps the first differences as
    sentences, `differences` counts them all.
    """

    place = models.TextField()
    began = models.DateTimeField()
    ended = models.DateTimeField(null=True)
    at = models.BigIntegerField(default=0)
    upto = models.BigIntegerField()
    events = models.BigIntegerField(default=0)
    differences = models.BigIntegerField(default=0)
    found = models.JSONField(default=list)

    class Meta:
        db_table = "record_check"
