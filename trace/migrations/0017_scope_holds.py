"""Lets the door know holds on a scope: laid, spread over the hulls that share it, ended."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("scope_held", "scope_spread", "scope_released")


class Migration(migrations.Migration):
    dependencies = [("trace", "0016_papers")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
