"""Papers that were asked for: what was asked, by whom, and the file that was made of it, by its digest."""

from django.db import models


class KeptPaper(models.Model):
    """One file of one paper. Until it is made `digest` is empty; `error` says in a sentence why it never will be.

    `words` is the question by the names of its words, `form` what it is written as (pdf, csv, xlsx, json, epcis).
    `consignees` and `free_words`: what the asker might see, and so what may stand in it. `fingerprint` is the SHA-256
    of the paper's data, `digest` that of the file, under which it is kept. How far it is says its job.
    """

    kind = models.TextField()
    words = models.JSONField()
    form = models.TextField()
    as_known_on = models.DateTimeField()
    consignees = models.BooleanField()
    free_words = models.BooleanField()
    asked_by = models.TextField()
    asked = models.DateTimeField()
    title = models.TextField(default="")
    records = models.BigIntegerField(default=0)
    fingerprint = models.TextField(default="")
    digest = models.TextField(default="")
    size = models.BigIntegerField(default=0)
    error = models.TextField(default="")

    class Meta:
        db_table = "paper"
        indexes = [models.Index(fields=["kind", "as_known_on"], name="paper_question")]
