"""Lets the door know the work on a mould between loads, and a first-off that passed."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("mould_cared", "first_off_passed")


class Migration(migrations.Migration):
    dependencies = [("trace", "0030_shift_ends")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
