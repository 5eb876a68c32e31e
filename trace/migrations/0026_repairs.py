"""Lets the door know repairs of hulls."""

from django.db import migrations

from trace.migrations._door import kind


class Migration(migrations.Migration):
    dependencies = [("trace", "0025_given_back")]

    operations = [migrations.RunSQL(kind("repaired"), "DELETE FROM known_kind WHERE kind = 'repaired';")]
