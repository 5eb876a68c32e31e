"""Lets containers go back to their supplier: a kind of event, of unit and of edge."""

from django.db import migrations, models

from trace.migrations._door import kind

UNIT_KINDS = (
    "lot", "content", "blend", "charge", "load", "moulding", "part", "plate", "hull", "pack", "consignment", "sample",
    "scrap", "regrind", "return",
)  # fmt: skip
EDGE_ROLES = (
    "receive", "decant", "heel", "topup", "draw", "ingredient", "charge", "insert", "graphic", "cavity", "cut", "join",
    "bind", "plate", "fit", "pack", "ship", "regrind", "sample", "scrap", "return",
)  # fmt: skip


class Migration(migrations.Migration):
    dependencies = [("trace", "0024_returns")]

    operations = [
        migrations.RemoveConstraint(model_name="edge", name="edge_role"),
        migrations.RemoveConstraint(model_name="unit", name="unit_kind"),
        migrations.AddConstraint(
            model_name="edge",
            constraint=models.CheckConstraint(condition=models.Q(("role__in", EDGE_ROLES)), name="edge_role"),
        ),
        migrations.AddConstraint(
            model_name="unit",
            constraint=models.CheckConstraint(condition=models.Q(("kind__in", UNIT_KINDS)), name="unit_kind"),
        ),
        migrations.RunSQL(kind("given_back"), "DELETE FROM known_kind WHERE kind = 'given_back';"),
    ]
