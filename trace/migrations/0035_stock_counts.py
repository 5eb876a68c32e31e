"""Lets the door know the count of a place by scanning: begun, something seen, ended."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("stock_count_begun", "stock_seen", "stock_count_ended")


class Migration(migrations.Migration):
    dependencies = [("trace", "0034_pre_use")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
