"""Lets the door know that two plates which seemed to be exchanged were compared, and are not."""

from django.db import migrations

from trace.migrations._door import kind


class Migration(migrations.Migration):
    dependencies = [("trace", "0022_saved_scopes")]

    operations = [
        migrations.RunSQL(kind("plates_compared"), "DELETE FROM known_kind WHERE kind = 'plates_compared';"),
    ]
