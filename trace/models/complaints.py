"""Complaints and cases as they stand now: read models, rebuilt from events like the others."""

from django.db import models


class Complaint(models.Model):
    """What somebody said is wrong with a hull. `hull` is empty while nobody knows which hull it is; `number` and the
    number of its `case` are what people call them. Everything else that was told stands in its event.
    """

    event = models.BigIntegerField(primary_key=True)
    number = models.IntegerField(unique=True)
    symptom = models.TextField()
    product = models.TextField(null=True)
    spot = models.TextField(null=True)
    hull = models.BigIntegerField(null=True)
    case = models.IntegerField(null=True)
    open = models.BooleanField()

    class Meta:
        db_table = "complaint"
        indexes = [
            models.Index(fields=["hull"], name="complaint_hull"),
            models.Index(fields=["case"], name="complaint_case"),
            models.Index(fields=["event"], name="complaint_open", condition=models.Q(open=True)),
        ]


class CaseFile(models.Model):
    """An investigation: its number, and whether it is open. What was done in it stands in its events."""

    event = models.BigIntegerField(primary_key=True)
    number = models.IntegerField(unique=True)
    open = models.BooleanField()

    class Meta:
        db_table = "case_file"
        indexes = [models.Index(fields=["event"], name="case_file_open", condition=models.Q(open=True))]
