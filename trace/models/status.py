"""Read models: what holds now, rebuilt from events and compared, never the truth itself."""

from django.db import models
from django.db.models import Q


class UnitState(models.Model):
    """Status and balance of one unit; when it came back last, if it did."""

    unit = models.BigIntegerField(primary_key=True)
    status = models.TextField(null=True)
    status_at = models.DateTimeField(null=True)
    balance = models.BigIntegerField(null=True)
    overdrawn = models.BooleanField(default=False)
    opened = models.DateTimeField(null=True)
    back_at = models.DateTimeField(null=True)

    class Meta:
        db_table = "unit_state"
        indexes = [models.Index(fields=["status"], name="unit_state_status")]
        constraints = [
            models.CheckConstraint(
                condition=Q(balance__gte=0) | Q(overdrawn=True), name="stock_not_below_zero"
            )
        ]


class CarrierState(models.Model):
    """What is in a carrier now; the row is the lock of the carrier."""

    carrier = models.BigIntegerField(primary_key=True)
    content = models.BigIntegerField(null=True, unique=True)
    order = models.TextField(null=True)
    layer = models.TextField(null=True)

    class Meta:
        db_table = "carrier_state"


class CarrierLog(models.Model):
    """Which content a carrier held from when to when; a late fact rewrites it from that moment."""

    content = models.BigIntegerField(primary_key=True)
    carrier = models.BigIntegerField()
    since = models.DateTimeField()
    until = models.DateTimeField(null=True)
    event = models.BigIntegerField()

    class Meta:
        db_table = "carrier_log"
        indexes = [models.Index(fields=["carrier", "since"], name="carrier_log_since")]


class MouldState(models.Model):
    """One open load and one open cycle at most; the row is the lock of the mould (keyed by resource id)."""

    mould = models.BigIntegerField(primary_key=True)
    stage = models.TextField()
    load = models.BigIntegerField(null=True, unique=True)
    cycle = models.BigIntegerField(null=True)
    arm = models.TextField(null=True)
    order = models.TextField(null=True)
    shots = models.IntegerField(default=0)
    since_service = models.IntegerField(default=0)
    since_vent = models.IntegerField(default=0)
    since_release = models.IntegerField(default=0)

    class Meta:
        db_table = "mould_state"


class InstrumentState(models.Model):
    """The last check of a scale or gauge (keyed by resource id)."""

    instrument = models.BigIntegerField(primary_key=True)
    checked_at = models.DateTimeField(null=True)
    passed = models.BooleanField(null=True)

    class Meta:
        db_table = "instrument_state"


class SerialState(models.Model):
    """Where a plate stands (made, out, bound, back, destroyed) and the hull that carries it."""

    text = models.TextField(primary_key=True)
    hull = models.BigIntegerField(null=True, unique=True)
    standing = models.TextField()

    class Meta:
        db_table = "serial_state"


class LabelState(models.Model):
    """Only labels that no longer count: a re-wrap or a replaced tag, and what replaced them."""

    code = models.CharField(max_length=8, primary_key=True)
    replaced_by = models.CharField(max_length=8, null=True)

    class Meta:
        db_table = "label_state"


class UnitHold(models.Model):
    """A unit under an open hold. How surely and how much is reckoned from the truth when it is asked."""

    pk = models.CompositePrimaryKey("unit", "hold")
    unit = models.BigIntegerField()
    hold = models.BigIntegerField()

    class Meta:
        db_table = "unit_hold"
        indexes = [models.Index(fields=["hold"], name="unit_hold_hold")]


class PlaceNow(models.Model):
    """Where a unit is; of one that has gone, where it was put last all the same (`stood`)."""

    unit = models.BigIntegerField(primary_key=True)
    place = models.TextField()
    since = models.DateTimeField()
    event = models.BigIntegerField()
    stood = models.TextField(null=True)
    stood_since = models.DateTimeField(null=True)

    class Meta:
        db_table = "place_now"
        indexes = [models.Index(fields=["place"], name="place_now_place")]


class Reading(models.Model):
    """A measured value with its unit and instrument; `n` numbers the readings of one event."""

    pk = models.CompositePrimaryKey("event", "n")
    event = models.BigIntegerField()
    n = models.IntegerField()
    unit = models.BigIntegerField(null=True)
    zone = models.TextField(null=True)
    quantity = models.TextField()
    value = models.DecimalField(max_digits=18, decimal_places=6)
    uom = models.TextField()
    instrument = models.TextField(null=True)

    class Meta:
        db_table = "reading"
        indexes = [models.Index(fields=["unit"], name="reading_unit")]


class Discrepancy(models.Model):
    """Something a person must look at and close: overdrawn stock, a missing plate, a circle, a told refusal."""

    pk = models.CompositePrimaryKey("event", "n")
    event = models.BigIntegerField()
    n = models.IntegerField()
    kind = models.TextField()
    unit = models.BigIntegerField(null=True)
    closed_by = models.BigIntegerField(null=True)

    class Meta:
        db_table = "discrepancy"


class Gap(models.Model):
    """A record a unit should have and has not: what `cannot` may not be built on.

    `what` is layer, insert, graphic, cycle, oven log, before records, or what a delivery on hold lacks (lot number,
    amount, photo …); `which` the layer or position.
    """

    pk = models.CompositePrimaryKey("unit", "what", "which")
    unit = models.BigIntegerField()
    what = models.TextField()
    which = models.TextField()
    event = models.BigIntegerField()

    class Meta:
        db_table = "gap"
