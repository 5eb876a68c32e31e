"""The event: one thing that happened, its canonical text, and what it touched."""

from django.db import models

# No row of the truth is ever taken away. Those that only the door adds are not checked a second time against what they
# name (db_constraint=False): the door has looked up each id, or made it in the same call.
DO_NOTHING = models.DO_NOTHING


class Event(models.Model):
    """One recorded fact. `body` is RFC 8785 canonical JSON and is the truth.

    Every other column is set from `body` by a trigger (migration 0002), never by a client.
    """

    uid = models.UUIDField(unique=True)
    body = models.TextField()
    leaf = models.BinaryField()
    kind = models.TextField()
    ver = models.SmallIntegerField()
    happened = models.DateTimeField()
    offset_min = models.SmallIntegerField()
    unsure_ms = models.IntegerField()
    recorded = models.DateTimeField()
    install = models.UUIDField(null=True)
    seq = models.BigIntegerField(null=True)
    person = models.TextField(null=True)
    station = models.TextField(null=True)
    corrects = models.ForeignKey(
        "self", DO_NOTHING, null=True, db_column="corrects", related_name="corrections"
    )
    why = models.TextField(null=True)

    class Meta:
        db_table = "event"
        indexes = [
            models.Index(fields=["recorded"], name="event_recorded"),
            models.Index(fields=["kind", "id"], name="event_kind"),
        ]


class EventUnit(models.Model):
    """A unit an event touched without making an edge: inspected, moved, held, read."""

    pk = models.CompositePrimaryKey("event", "unit", "role")
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)
    unit = models.ForeignKey("Unit", DO_NOTHING, db_column="unit", db_constraint=False)
    role = models.TextField()

    class Meta:
        db_table = "event_unit"
        indexes = [
            models.Index(fields=["unit", "event"], name="event_unit_by_unit"),
            models.Index(
                fields=["unit"], name="event_unit_gap", condition=models.Q(role__in=("gap", "gap closed"))
            ),
            models.Index(fields=["unit"], name="event_unit_came_back", condition=models.Q(role="returned")),
        ]


class EventResource(models.Model):
    """A person, mould, arm, oven, scale or recipe an event was made with."""

    pk = models.CompositePrimaryKey("event", "resource", "role")
    event = models.ForeignKey(Event, DO_NOTHING, db_column="event", db_constraint=False)
    resource = models.ForeignKey("Resource", DO_NOTHING, db_column="resource", db_constraint=False)
    role = models.TextField()

    class Meta:
        db_table = "event_resource"
        indexes = [models.Index(fields=["resource", "event"], name="event_resource_by_resource")]


class Note(models.Model):
    """Names and free words, apart from the event bytes, so that they can be erased without breaking them.

    `digest` is sha256(salt || text) in hex. Erasing empties `text` and names the event that did it.
    """

    digest = models.TextField(primary_key=True)
    salt = models.TextField()
    text = models.TextField(null=True)
    erased_by = models.ForeignKey(Event, DO_NOTHING, null=True, db_column="erased_by")

    class Meta:
        db_table = "note"


class Blob(models.Model):
    """A photo or certificate known by its hash, so that the event that names it covers it."""

    sha256 = models.TextField(primary_key=True)
    size = models.BigIntegerField()
    type = models.TextField()

    class Meta:
        db_table = "blob"
