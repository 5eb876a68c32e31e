"""Labels and serials: what a person scans, and what it stands for."""

from django.db import models
from django.db.models import Q

from trace.models.events import DO_NOTHING, Event
from trace.models.units import Carrier, Unit


class Label(models.Model):
    """One printed code, bound once to one thing. A reprint is another event, never another row."""

    code = models.CharField(max_length=8, primary_key=True)
    carrier = models.ForeignKey(Carrier, DO_NOTHING, null=True, db_column="carrier", db_constraint=False)
    unit = models.ForeignKey(Unit, DO_NOTHING, null=True, db_column="unit", db_constraint=False)
    resource = models.ForeignKey("Resource", DO_NOTHING, null=True, db_column="resource", db_constraint=False)
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)

    class Meta:
        db_table = "label"
        constraints = [
            models.CheckConstraint(
                condition=Q(carrier__isnull=False, unit__isnull=True, resource__isnull=True)
                | Q(carrier__isnull=True, unit__isnull=False, resource__isnull=True)
                | Q(carrier__isnull=True, unit__isnull=True, resource__isnull=False),
                name="label_sticks_to_one_thing",
            )
        ]


class Serial(models.Model):
    """A plate's number. Never used again, even after its hull is scrapped."""

    text = models.TextField(primary_key=True)
    plate = models.OneToOneField(Unit, DO_NOTHING, db_column="plate", db_constraint=False)
    format = models.TextField()
    product = models.TextField()
    month = models.TextField(null=True)
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)

    class Meta:
        db_table = "serial"


class Hold(models.Model):
    """A stop laid on a unit and on everything that comes of it, also of what is made later."""

    uid = models.UUIDField(unique=True)
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)
    unit = models.ForeignKey(Unit, DO_NOTHING, db_column="unit", db_constraint=False)
    rule = models.TextField()

    class Meta:
        db_table = "hold"


class HoldRelease(models.Model):
    """Ends a hold for one unit and what comes of it, or altogether (`unit` null)."""

    hold = models.ForeignKey(Hold, DO_NOTHING, db_column="hold", db_constraint=False)
    unit = models.ForeignKey(Unit, DO_NOTHING, null=True, db_column="unit", db_constraint=False)
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)

    class Meta:
        db_table = "hold_release"
