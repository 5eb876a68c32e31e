"""Finds what stands in a place without reading all places: asked whenever something is racked there."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("trace", "0002_guards")]

    operations = [
        migrations.AddIndex(
            model_name="placenow",
            index=models.Index(fields=["place"], name="place_now_place"),
        ),
    ]
