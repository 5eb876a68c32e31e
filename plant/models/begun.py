"""Work begun at a station and not recorded yet, so that whoever comes back finds it as it was left."""

from datetime import timedelta

from django.db import models

KEPT_FOR = timedelta(hours=20)  # a shift and the way back; an older one is forgotten


class Begun(models.Model):
    """`held` is what was scanned and typed so far; `name` says at which station, and by whom or of what thing."""

    name = models.TextField(primary_key=True)
    held = models.JSONField()
    changed = models.DateTimeField(db_index=True)

    class Meta:
        db_table = "begun"

    def __str__(self) -> str:
        return self.name
