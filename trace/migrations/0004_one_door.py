"""Shuts the tables of the truth to every login: what is recorded comes in as bytes, by one function."""

from django.db import migrations

from trace.migrations import _door as door


class Migration(migrations.Migration):
    dependencies = [("trace", "0003_place_index")]

    operations = [
        migrations.RunSQL(door.TABLES + door.known()),
        migrations.RunSQL(door.CANONICAL + door.CHECKS + door.ENTER + door.DOOR),
        migrations.RunSQL(door.write_rows() + door.LOCKS + door.SEAL),
        migrations.RunSQL(door.rights()),
    ]
