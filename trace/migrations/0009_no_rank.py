"""Drops the rank of a unit: nothing read it, and it had no end where an edge and a withdrawn one lead round in a circle."""

from django.db import migrations

from trace.migrations._door import write_rows


class Migration(migrations.Migration):
    dependencies = [("trace", "0008_readings_put_right")]

    operations = [
        migrations.RemoveField(model_name="unitstate", name="rank"),
        migrations.RunSQL(write_rows(), migrations.RunSQL.noop),
    ]
