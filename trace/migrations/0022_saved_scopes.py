"""Lets the door know saved scopes: a question kept with its answer, and one put aside."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("scope_saved", "scope_put_aside")


class Migration(migrations.Migration):
    dependencies = [("trace", "0021_stock_scrapped")]

    operations = [
        migrations.RunSQL(
            "".join(kind(name) for name in KINDS),
            "".join(f"DELETE FROM known_kind WHERE kind = '{name}';" for name in KINDS),
        ),
    ]
