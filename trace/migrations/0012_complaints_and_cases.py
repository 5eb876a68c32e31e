"""Lets the door know complaints and cases, and keeps how they stand now; words can be erased by an event of the product."""

from django.db import migrations, models

from trace.migrations._door import kind, part, write_rows

KINDS = (
    "complained", "complaint_tied", "complaint_closed", "case_opened", "case_grouped", "case_suspected", "case_scoped",
    "case_held", "case_tested", "case_decided", "case_told", "case_closed", "case_reopened",
)  # fmt: skip
PARTS = {
    "complaints": "hull:uid? number:count product:text? spot:text? symptom:text",
    "complaint_stands": "case:count? event:uid hull:uid? open:flag",
    "cases": "number:count",
    "case_stands": "event:uid open:flag",
}
RIGHTS = """
GRANT SELECT, INSERT, UPDATE, DELETE ON complaint, case_file TO lotwright_app;
GRANT SELECT ON complaint, case_file TO lotwright_auditor;
"""


class Migration(migrations.Migration):
    dependencies = [("trace", "0011_door_vouches")]

    operations = [
        migrations.CreateModel(
            name="CaseFile",
            fields=[
                ("event", models.BigIntegerField(primary_key=True, serialize=False)),
                ("number", models.IntegerField(unique=True)),
                ("open", models.BooleanField()),
            ],
            options={
                "db_table": "case_file",
                "indexes": [models.Index(condition=models.Q(("open", True)), fields=["event"], name="case_file_open")],
            },
        ),
        migrations.CreateModel(
            name="Complaint",
            fields=[
                ("event", models.BigIntegerField(primary_key=True, serialize=False)),
                ("number", models.IntegerField(unique=True)),
                ("symptom", models.TextField()),
                ("product", models.TextField(null=True)),
                ("spot", models.TextField(null=True)),
                ("hull", models.BigIntegerField(null=True)),
                ("case", models.IntegerField(null=True)),
                ("open", models.BooleanField()),
            ],
            options={
                "db_table": "complaint",
                "indexes": [
                    models.Index(fields=["hull"], name="complaint_hull"),
                    models.Index(fields=["case"], name="complaint_case"),
                    models.Index(condition=models.Q(("open", True)), fields=["event"], name="complaint_open"),
                ],
            },
        ),
        migrations.RunSQL(RIGHTS, migrations.RunSQL.noop),
        migrations.RunSQL(
            "".join([*map(kind, KINDS), *(part(name, keys) for name, keys in PARTS.items()), write_rows()]),
            migrations.RunSQL.noop,
        ),
    ]
