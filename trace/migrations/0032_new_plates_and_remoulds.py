"""Lets the door know plates that are replaced and hulls that are moulded anew."""

from django.db import migrations

from trace.migrations._door import kind

KINDS = ("plate_replaced", "remoulded")


class Migration(migrations.Migration):
    dependencies = [("trace", "0031_mould_care")]

    operations = [
        migrations.RunSQL(kind(name), f"DELETE FROM known_kind WHERE kind = '{name}';") for name in KINDS
    ]  # fmt: skip
