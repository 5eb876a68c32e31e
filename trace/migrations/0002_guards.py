"""Puts the guards on the truth: triggers, the two write functions, and what each role may do."""

from django.db import migrations

from trace.migrations import _guards as guards


class Migration(migrations.Migration):
    dependencies = [
        ("trace", "0001_initial"),
        ("plant", "0001_initial"),
        ("sessions", "0001_initial"),
        ("contenttypes", "0002_remove_content_type_name"),
    ]

    operations = [
        migrations.RunSQL(guards.ROLES, migrations.RunSQL.noop),
        migrations.RunSQL("ALTER TABLE edge ADD COLUMN xid xid8 NOT NULL DEFAULT pg_current_xact_id();"),
        # What every forward answer asks for; written as the walk asks it, which an index of the model would not be.
        migrations.RunSQL(
            "CREATE INDEX unit_before_records ON unit (id) WHERE about->>'origin' = 'before records';"
        ),
        migrations.RunSQL("CREATE SEQUENCE label_number; CREATE SEQUENCE cycle_number START 1001;"),
        migrations.RunSQL(guards.FUNCTIONS),
        migrations.RunSQL(guards.write_rows() + guards.LOCK),
        migrations.RunSQL(guards.triggers()),
        migrations.RunSQL(guards.grants()),
    ]
