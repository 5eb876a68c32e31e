"""Lets the door know the correction of a reading, and its part: the number of the reading, and what is right."""

from django.db import migrations

from trace.migrations._door import kind, part

RIGHTED = part(
    "readings_righted",
    "event:uid instrument:text? n:count quantity:text unit:uid? uom:text value:shown? zone:text?",
)


class Migration(migrations.Migration):
    dependencies = [("trace", "0007_check_goes_forward")]

    operations = [
        migrations.RunSQL(
            kind("reading_corrected") + RIGHTED,
            "DELETE FROM known_part WHERE part = 'readings_righted';"
            "DELETE FROM known_kind WHERE kind = 'reading_corrected';",
        ),
    ]
