"""Lets the door know the check of a machine before it is used."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("machine_checked",)


class Migration(migrations.Migration):
    dependencies = [("trace", "0033_mounting")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
