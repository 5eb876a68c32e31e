"""Keeps the papers that were asked for, and lets the door know that one was taken away."""

from django.db import migrations, models

from trace.migrations._door import kind

RIGHTS = """
GRANT SELECT, INSERT, UPDATE ON paper TO lotwright_app;
GRANT USAGE ON SEQUENCE paper_id_seq TO lotwright_app;
GRANT SELECT ON paper TO lotwright_auditor;
"""


class Migration(migrations.Migration):
    dependencies = [("trace", "0015_drills")]

    operations = [
        migrations.CreateModel(
            name="KeptPaper",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.TextField()),
                ("words", models.JSONField()),
                ("form", models.TextField()),
                ("as_known_on", models.DateTimeField()),
                ("consignees", models.BooleanField()),
                ("free_words", models.BooleanField()),
                ("asked_by", models.TextField()),
                ("asked", models.DateTimeField()),
                ("title", models.TextField(default="")),
                ("records", models.BigIntegerField(default=0)),
                ("fingerprint", models.TextField(default="")),
                ("digest", models.TextField(default="")),
                ("size", models.BigIntegerField(default=0)),
                ("error", models.TextField(default="")),
            ],
            options={
                "db_table": "paper",
                "indexes": [models.Index(fields=["kind", "as_known_on"], name="paper_question")],
            },
        ),
        migrations.RunSQL(RIGHTS, migrations.RunSQL.noop),
        migrations.RunSQL(kind("paper_taken"), "DELETE FROM known_kind WHERE kind = 'paper_taken';"),
    ]
