"""Units and the edges between them: this unit went into that one."""

from django.db import models
from django.db.models import Q

from trace.models.events import DO_NOTHING, Event

CARRIER_KINDS = ("container", "vessel", "tub", "drop_box", "roll", "returnable")
UNIT_KINDS = (
    "lot", "content", "blend", "charge", "load", "moulding", "part", "plate", "hull", "pack",
    "consignment", "sample", "scrap", "regrind", "return",
)  # fmt: skip
EDGE_ROLES = (
    "receive", "decant", "heel", "topup", "draw", "ingredient", "charge", "insert", "graphic", "cavity",
    "cut", "join", "bind", "plate", "fit", "pack", "ship", "regrind", "sample", "scrap", "return",
)  # fmt: skip
UOMS = ("mg", "pc", "mm")


class Carrier(models.Model):
    """What a label sticks to (a box, silo, tub or roll). It may be filled again; its content is a unit."""

    uid = models.UUIDField(unique=True)
    kind = models.TextField()
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)

    class Meta:
        db_table = "carrier"
        constraints = [models.CheckConstraint(condition=Q(kind__in=CARRIER_KINDS), name="carrier_kind")]


class Unit(models.Model):
    """Anything traceable with one identity. `amount` is whole milligrams, pieces or millimetres.

    `about` says what the unit was made as and never changes: material, lot, product and recipe version,
    colour, order, layer, purpose, expiry (see trace/readmodels/rows.py). `lot_no` is the supplier's number of
    a lot, the moulding number of a moulding.
    """

    uid = models.UUIDField(unique=True)
    carrier = models.ForeignKey(Carrier, DO_NOTHING, null=True, db_column="carrier", db_constraint=False)
    kind = models.TextField()
    lot_no = models.TextField(null=True)
    amount = models.BigIntegerField(null=True)
    uom = models.TextField(null=True)
    about = models.JSONField(default=dict)
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)

    class Meta:
        db_table = "unit"
        indexes = [
            models.Index(fields=["kind", "lot_no"], name="unit_lot_no"),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=UNIT_KINDS), name="unit_kind"),
            models.CheckConstraint(
                # A check lets NULL through, and NULL IN (...) is NULL: that uom is there must be said.
                condition=Q(amount__isnull=True, uom__isnull=True)
                | Q(amount__isnull=False, uom__isnull=False, uom__in=UOMS),
                name="unit_amount_has_uom",
            ),
        ]


class Edge(models.Model):
    """Parent went into child. Never updated: EdgeVoid withdraws it and a new edge stands beside it.

    `n` numbers the edges of one event, so that event bytes can name an edge. `aside` marks an edge that
    would have closed a circle: kept as a fact, left out of every walk. `recorded` is set by a trigger.
    """

    child = models.ForeignKey(
        Unit, DO_NOTHING, db_column="child", related_name="edges_up", db_index=False, db_constraint=False
    )
    parent = models.ForeignKey(
        Unit, DO_NOTHING, db_column="parent", related_name="edges_down", db_index=False, db_constraint=False
    )
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_index=False, db_constraint=False)
    n = models.IntegerField()
    role = models.TextField()
    layer = models.TextField(null=True)
    position = models.TextField(null=True)
    amount = models.BigIntegerField(null=True)
    uom = models.TextField(null=True)
    aside = models.BooleanField(default=False, db_default=False)
    recorded = models.DateTimeField()

    class Meta:
        db_table = "edge"
        indexes = [
            models.Index(
                fields=["child", "parent"],
                name="edge_child_parent",
                include=["id", "role", "amount", "recorded", "aside"],
            ),
            models.Index(
                fields=["parent", "child"],
                name="edge_parent_child",
                include=["id", "role", "amount", "recorded", "aside"],
            ),
        ]
        constraints = [
            models.UniqueConstraint(fields=["event", "n"], name="edge_number"),
            models.UniqueConstraint(
                fields=["event", "child", "parent", "role", "layer", "position"],
                name="edge_once",
                nulls_distinct=False,
            ),
            models.CheckConstraint(condition=Q(role__in=EDGE_ROLES), name="edge_role"),
            models.CheckConstraint(condition=~Q(child=models.F("parent")), name="edge_not_itself"),
            models.CheckConstraint(
                condition=Q(amount__isnull=True) | Q(amount__gt=0), name="edge_amount_positive"
            ),
            models.CheckConstraint(
                condition=Q(amount__isnull=True, uom__isnull=True)
                | Q(amount__isnull=False, uom__isnull=False, uom__in=UOMS),
                name="edge_amount_has_uom",
            ),
        ]


class EdgeVoid(models.Model):
    """A correction or a late fact withdraws an edge; the same event adds the right ones."""

    edge = models.OneToOneField(Edge, DO_NOTHING, primary_key=True, db_column="edge", db_constraint=False)
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)
    recorded = models.DateTimeField()

    class Meta:
        db_table = "edge_void"


class Difference(models.Model):
    """More or less in a unit than the book said: a fill difference, a count, an amount put right."""

    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)
    unit = models.ForeignKey(Unit, DO_NOTHING, db_column="unit", db_constraint=False)
    amount = models.BigIntegerField()
    uom = models.TextField()
    cause = models.TextField()

    class Meta:
        db_table = "difference"
        constraints = [models.CheckConstraint(condition=Q(uom__in=UOMS), name="difference_uom")]


class Cycle(models.Model):
    """One oven cycle of one arm or carriage."""

    uid = models.UUIDField(unique=True)
    number = models.TextField()
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)

    class Meta:
        db_table = "cycle"


class Cook(models.Model):
    """A load (or a moulding cooked again) in a cycle. A spider is several rows, a second cook a second row."""

    cycle = models.ForeignKey(Cycle, DO_NOTHING, db_column="cycle", db_constraint=False)
    unit = models.ForeignKey(Unit, DO_NOTHING, db_column="unit", db_constraint=False)
    position = models.TextField()
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)

    class Meta:
        db_table = "cook"
        constraints = [
            models.UniqueConstraint(fields=["cycle", "unit"], name="cook_once"),
            models.UniqueConstraint(fields=["cycle", "position"], name="cook_position"),
        ]
