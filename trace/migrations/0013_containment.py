"""Lets the door know the records of a containment walk: it is begun, each hull is seen, it is ended."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("containment_begun", "containment_seen", "containment_ended")


class Migration(migrations.Migration):
    dependencies = [("trace", "0012_complaints_and_cases")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
