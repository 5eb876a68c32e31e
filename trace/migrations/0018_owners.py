"""Lets the door know owners of hulls: registered, taken back."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("owner_registered", "owner_withdrawn")


class Migration(migrations.Migration):
    dependencies = [("trace", "0017_scope_holds")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
