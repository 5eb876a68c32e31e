"""Lets the door know that somebody was trained, and that a badge at two places at a time was looked at."""

from django.db import migrations

from trace.migrations._door import kind


class Migration(migrations.Migration):
    dependencies = [("trace", "0035_stock_counts")]

    operations = [
        migrations.RunSQL(
            kind("trained") + kind("badge_looked_at"),
            "DELETE FROM known_kind WHERE kind IN ('trained', 'badge_looked_at');",
        ),
    ]
