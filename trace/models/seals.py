"""The queue and the tree that will prove the records stand as recorded."""

from django.db import models

from trace.models.events import DO_NOTHING, Event


class SealQueue(models.Model):
    """Events that no leaf covers yet; filled by a trigger, emptied only by the sealer."""

    event = models.OneToOneField(Event, DO_NOTHING, primary_key=True, db_column="event")

    class Meta:
        db_table = "seal_queue"


class Leaf(models.Model):
    pk = models.CompositePrimaryKey("epoch", "n")
    epoch = models.IntegerField()
    n = models.BigIntegerField()
    event = models.OneToOneField(Event, DO_NOTHING, db_column="event", related_name="sealed_as")

    class Meta:
        db_table = "leaf"


class Head(models.Model):
    pk = models.CompositePrimaryKey("epoch", "size")
    epoch = models.IntegerField()
    size = models.BigIntegerField()
    root = models.BinaryField()
    note = models.TextField()

    class Meta:
        db_table = "head"


class Installation(models.Model):
    """One row, written by the migrator when the database is made: is this a demo, where clocks may be set?"""

    only = models.BooleanField(primary_key=True, default=True)
    demo = models.BooleanField()

    class Meta:
        db_table = "installation"
