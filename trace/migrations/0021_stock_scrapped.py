"""Lets the door know that powder, parts or graphics of a container were scrapped."""

from django.db import migrations

from trace.migrations._door import kind


class Migration(migrations.Migration):
    dependencies = [("trace", "0020_impact")]

    operations = [
        migrations.RunSQL(kind("stock_scrapped"), "DELETE FROM known_kind WHERE kind = 'stock_scrapped';"),
    ]
