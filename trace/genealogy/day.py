"""Reads the day or moment that a question is asked for."""

from datetime import date, datetime, time

from django.utils import timezone
from django.utils.translation import gettext as _

LONGEST = 40


class DayError(ValueError):
    """The text names no moment that has come; the error's text is one sentence."""


def moment(text: str) -> datetime:
    """A date alone means its end; a time without an offset is the plant's. Raises DayError."""
    # A "+" in an address arrives as a space.
    written = text[:LONGEST].replace(" ", "+") if "T" in text else text[:LONGEST]
    try:
        if len(written) == len("2026-06-09"):
            when = datetime.combine(date.fromisoformat(written), time.max)
        else:
            when = datetime.fromisoformat(written)
        when = when if timezone.is_aware(when) else timezone.make_aware(when)
        ahead = when > timezone.now() and timezone.localdate(when) > timezone.localdate()
    except (ValueError, OverflowError):
        raise DayError(_("“%(text)s” is no date or time.") % {"text": text[:LONGEST]}) from None
    if ahead:
        raise DayError(_("%(text)s has not come yet.") % {"text": text[:LONGEST]})
    return when
