"""Scans: every attempt with its answer, the refused ones too."""

from django.db import models
from django.db.models import Q

from trace.models.events import DO_NOTHING, Event

OUTCOMES = ("accepted", "warned", "flagged", "refused")


class Scan(models.Model):
    """One attempt and the first answer it got, kept for ever; a replay gets the same answer."""

    device = models.TextField()
    client_id = models.UUIDField()
    mode = models.TextField()
    install = models.UUIDField(null=True)
    seq = models.BigIntegerField(null=True)
    raw = models.TextField()
    fingerprint = models.TextField()
    taken = models.DateTimeField()
    skew_ms = models.IntegerField()
    received = models.DateTimeField()
    outcome = models.TextField()
    reason = models.TextField(null=True)
    answer = models.TextField()
    event = models.ForeignKey(Event, DO_NOTHING, null=True, db_column="event", db_constraint=False)

    class Meta:
        db_table = "scan"
        indexes = [models.Index(fields=["reason", "id"], name="scan_reason")]
        constraints = [
            models.UniqueConstraint(fields=["device", "client_id", "mode"], name="scan_once"),
            models.UniqueConstraint(fields=["install", "seq", "mode"], name="scan_seq"),
            models.CheckConstraint(condition=Q(mode__in=("asks", "tells")), name="scan_mode"),
            models.CheckConstraint(condition=Q(outcome__in=OUTCOMES), name="scan_outcome"),
        ]


class ScanConflict(models.Model):
    """The same scan id sent again with other content: refused, and kept for a person to look at."""

    device = models.TextField()
    client_id = models.UUIDField()
    fingerprint = models.TextField()
    raw = models.TextField()
    received = models.DateTimeField()

    class Meta:
        db_table = "scan_conflict"
