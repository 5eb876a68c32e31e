"""Lets the door know sweepings."""

from django.db import migrations

from trace.migrations._door import kind


class Migration(migrations.Migration):
    dependencies = [("trace", "0037_impact_reopened")]

    operations = [migrations.RunSQL(kind("swept"), "DELETE FROM known_kind WHERE kind = 'swept';")]
