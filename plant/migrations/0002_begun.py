"""Work begun and not recorded yet: kept for whoever goes on with it, no record of anything."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("plant", "0001_initial"), ("trace", "0002_guards")]

    operations = [
        migrations.CreateModel(
            name="Begun",
            fields=[
                ("name", models.TextField(primary_key=True, serialize=False)),
                ("held", models.JSONField()),
                ("changed", models.DateTimeField(db_index=True)),
            ],
            options={"db_table": "begun"},
        ),
        migrations.RunSQL(
            "GRANT SELECT, INSERT, UPDATE, DELETE ON begun TO lotwright_app", migrations.RunSQL.noop, elidable=False
        ),
    ]
