"""Keeps what each screen was last shown of the holds in force, and lets the door know that a person has read them."""

from django.db import migrations, models

from trace.migrations._door import kind

RIGHTS = """
GRANT SELECT, INSERT, UPDATE, DELETE ON screen_heard TO lotwright_app;
"""


class Migration(migrations.Migration):
    dependencies = [("trace", "0018_owners")]

    operations = [
        migrations.CreateModel(
            name="ScreenHeard",
            fields=[
                ("device", models.TextField(primary_key=True, serialize=False)),
                ("number", models.BigIntegerField()),
                ("got", models.DateTimeField()),
                ("station", models.TextField()),
                ("person", models.TextField()),
                ("seen", models.DateTimeField()),
            ],
            options={"db_table": "screen_heard"},
        ),
        migrations.RunSQL(RIGHTS, migrations.RunSQL.noop),
        migrations.RunSQL(kind("holds_read"), "DELETE FROM known_kind WHERE kind = 'holds_read';"),
    ]
