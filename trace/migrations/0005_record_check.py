"""Keeps how far each check of the records came and what it found; the app's own, and read by the auditor."""

from django.db import migrations, models

RIGHTS = """
GRANT SELECT, INSERT, UPDATE ON record_check TO lotwright_app;
GRANT USAGE ON SEQUENCE record_check_id_seq TO lotwright_app;
GRANT SELECT ON record_check TO lotwright_auditor;
GRANT SELECT ON leaf, head TO lotwright_app;
"""


class Migration(migrations.Migration):
    dependencies = [("trace", "0004_one_door")]

    operations = [
        migrations.CreateModel(
            name="RecordCheck",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("place", models.TextField()),
                ("began", models.DateTimeField()),
                ("ended", models.DateTimeField(null=True)),
                ("at", models.BigIntegerField(default=0)),
                ("upto", models.BigIntegerField()),
                ("events", models.BigIntegerField(default=0)),
                ("differences", models.BigIntegerField(default=0)),
                ("found", models.JSONField(default=list)),
            ],
            options={"db_table": "record_check"},
        ),
        migrations.RunSQL(RIGHTS),
    ]
