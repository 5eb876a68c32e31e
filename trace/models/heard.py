"""What each screen of the floor was last shown of the holds in force: no record, written over at each contact."""

from datetime import timedelta

from django.db import models

FORGOTTEN_AFTER = timedelta(days=30)  # a screen that was not used for so long is asked about no more


class ScreenHeard(models.Model):
    """number: that of the hold list it has; got: when that list was made; seen: when the screen last said so, at which
    station, with whom signed on."""

    device = models.TextField(primary_key=True)
    number = models.BigIntegerField()
    got = models.DateTimeField()
    station = models.TextField()
    person = models.TextField()
    seen = models.DateTimeField()

    class Meta:
        db_table = "screen_heard"
