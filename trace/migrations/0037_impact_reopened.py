"""Lets the door know that the end of an impact test was taken back."""

from django.db import migrations

from trace.migrations._door import kind


class Migration(migrations.Migration):
    dependencies = [("trace", "0036_training")]

    operations = [
        migrations.RunSQL(kind("impact_reopened"), "DELETE FROM known_kind WHERE kind = 'impact_reopened';"),
    ]
