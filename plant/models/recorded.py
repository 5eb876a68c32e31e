"""The common shape of plant data: a read model of recorded changes, its key and its body as last recorded."""

from django.db import models


class Recorded(models.Model):
    """`body` is the newest revision's body (see DEVELOPERS.md, shapes of plant data); `version` counts revisions."""

    key = models.TextField(primary_key=True)
    resource = models.BigIntegerField(unique=True)
    version = models.IntegerField()
    body = models.JSONField()
    ended = models.BooleanField(default=False)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.key
