"""Lets the door know two parts of an event's rows: what was counted in a carrier, and when one was really emptied."""

from django.db import migrations

from trace.migrations._door import part

COUNTS = part("counts", "at:time~ carrier:uid event:uid~ left:whole?")
EMPTIES = part("empties", "at:time? carrier:uid event:uid")


class Migration(migrations.Migration):
    dependencies = [("trace", "0005_record_check")]

    operations = [
        migrations.RunSQL(
            COUNTS + EMPTIES, "DELETE FROM known_part WHERE part IN ('counts', 'empties');"
        ),
    ]
