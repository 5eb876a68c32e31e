"""The door asks for no ids that an event does not name, and walks through no document that has no depth."""

from django.db import migrations

from trace.migrations import _door as door


class Migration(migrations.Migration):
    dependencies = [("trace", "0009_no_rank")]

    operations = [
        migrations.RunSQL(door.CANONICAL + door.CHECKS + door.ENTER + door.DOOR, migrations.RunSQL.noop),
    ]
