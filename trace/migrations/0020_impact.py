"""Lets the door know impact tests: a drop, one taken back, the end of a staircase."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("impact_dropped", "impact_drop_taken_back", "impact_ended")


class Migration(migrations.Migration):
    dependencies = [("trace", "0019_holds_heard")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
