"""Lets the door know the end of a shift: handed over, accepted."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("shift_handed_over", "shift_accepted")


class Migration(migrations.Migration):
    dependencies = [("trace", "0029_calibrations")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
