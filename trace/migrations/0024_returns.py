"""Lets the door know hulls that come back, and keeps when each did last."""

from django.db import migrations, models

from trace.migrations._door import kind, write_rows


class Migration(migrations.Migration):
    dependencies = [("trace", "0023_plates_compared")]

    operations = [
        migrations.AddField(model_name="unitstate", name="back_at", field=models.DateTimeField(null=True)),
        migrations.AddField(model_name="placenow", name="stood", field=models.TextField(null=True)),
        migrations.AddField(model_name="placenow", name="stood_since", field=models.DateTimeField(null=True)),
        migrations.AddIndex(
            model_name="eventunit",
            index=models.Index(condition=models.Q(("role", "returned")), fields=["unit"], name="event_unit_came_back"),
        ),
        migrations.RunSQL(
            write_rows() + kind("returned"), "DELETE FROM known_kind WHERE kind = 'returned';"
        ),
    ]
