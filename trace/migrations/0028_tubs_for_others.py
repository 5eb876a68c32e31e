"""Lets the door know that a weighed tub was tipped back, or is for another order."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("tipped_back", "charge_reassigned")


class Migration(migrations.Migration):
    dependencies = [("trace", "0027_samples")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
