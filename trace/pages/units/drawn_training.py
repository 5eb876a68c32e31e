"""The training of a person as it was recorded: each witnessed run and sign-off, with the trainer."""

from datetime import datetime

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.pages.sheets import Drawn
from trace.recording.acts import act_words
from trace.recording.acts.complaint_words import word
from trace.recording.acts.training import WHAT, training_of
from trace.sheets.addresses import unit_url
from trace.sheets.facts.days import day_said
from trace.speech import names_of

MOST = 60  # the newest; the history below has all that was told


def drawn_training(key: str, asked: datetime | None) -> Drawn | None:
    """None where none is recorded by then."""
    told = training_of(key, asked)[-MOST:]
    if not told:
        return None
    names = names_of({one.trainer for one in told if one.trainer})
    rows = tuple(
        (
            (day_said(f"{timezone.localtime(one.happened):%Y-%m-%d}"), ""),
            (f"{one.task}, {one.machine}" if one.machine else one.task, ""),
            (word(WHAT, one.what) + (_(" to %(day)s") % {"day": day_said(one.until)} if one.until else ""), ""),
            (names.get(one.trainer, one.trainer), unit_url(one.trainer)),
            (_("at the station: %(act)s") % {"act": act_words(one.station)} if one.station else _("told"), ""),
        )
        for one in reversed(told)
    )
    return Drawn(_("Training recorded"), (_("Day"), _("Task"), _("It was"), _("With"), _("Seen")), rows)
