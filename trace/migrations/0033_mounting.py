"""Lets the door know a mould changeover: mounted on an arm, taken off."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("mould_mounted", "mould_taken_off")


class Migration(migrations.Migration):
    dependencies = [("trace", "0032_new_plates_and_remoulds")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
