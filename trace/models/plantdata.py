"""Plant data as it stood: every change is an event and a revision."""

from django.db import models

from trace.models.events import DO_NOTHING, Event


class Resource(models.Model):
    """A mould, arm, scale, person, place, order, product or setting, known by kind and key."""

    uid = models.UUIDField(unique=True)
    kind = models.TextField()
    key = models.TextField()
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event")

    class Meta:
        db_table = "resource"
        constraints = [models.UniqueConstraint(fields=["kind", "key"], name="resource_key")]


class Revision(models.Model):
    """One state of one resource, as canonical JSON; the newest one recorded by then is what was known then."""

    thing = models.ForeignKey(Resource, DO_NOTHING, db_column="thing")
    version = models.IntegerField()
    body = models.TextField()
    valid_from = models.DateTimeField()
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event")

    class Meta:
        db_table = "revision"
        constraints = [models.UniqueConstraint(fields=["thing", "version"], name="revision_version")]
