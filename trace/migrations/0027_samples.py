"""Lets the door know retained samples: one taken, one used in a test or thrown away."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("sampled", "sample_ended")


class Migration(migrations.Migration):
    dependencies = [("trace", "0026_repairs")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
