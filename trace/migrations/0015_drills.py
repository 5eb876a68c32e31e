"""Lets the door know mock recalls: one is begun, each answer is marked when it is in hand, the result is signed."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("drill_begun", "drill_marked", "drill_signed")


class Migration(migrations.Migration):
    dependencies = [("trace", "0014_recalls")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
