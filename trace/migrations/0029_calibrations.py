"""Lets the door know calibrations; and the last check that counts once a later one was taken back."""

from django.db import migrations

from trace.migrations._door import kind, part

KINDS = ("calibrated", "calibration_withdrawn", "calibration_followed_up")
BEFORE = "checked_at:time instrument:text passed:flag"


class Migration(migrations.Migration):
    dependencies = [("trace", "0028_tubs_for_others")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS)
            + part("instruments", "again:flag~ checked_at:time? instrument:text passed:flag"),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS) + part("instruments", BEFORE),
        ),
    ]
