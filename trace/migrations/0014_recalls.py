"""Lets the door know recalls: one is begun with its notice, and each consignee's reply."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("recall_begun", "recall_replied")


class Migration(migrations.Migration):
    dependencies = [("trace", "0013_containment")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
