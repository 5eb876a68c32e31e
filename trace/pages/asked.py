"""The day a page is asked for: `as_known_on` in its address, read into a moment."""

from datetime import date, datetime, time

from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.errors import NotUnderstood

LONGEST = 40


def as_known_on(request: HttpRequest) -> datetime | None:
    """The moment asked for, None for now. A date alone means its end; without an offset, the plant's time.

    Raises NotUnderstood for text that is no date or time, and for one that has not come yet.
    """
    text = request.GET.get("as_known_on", "").strip()
    return moment(text) if text else None


def moment(text: str) -> datetime:
    """The moment a text names; raises NotUnderstood as above."""
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
        raise NotUnderstood(
            what=_("“%(text)s” is no date or time.") % {"text": text[:LONGEST]},
            why=_("The page is asked for as it was known on a day."),
            now=_("Write the day as 2026-06-09, or with its time as 2026-06-09T14:00:00+01:00."),
        ) from None
    if ahead:
        raise NotUnderstood(
            what=_("%(text)s has not come yet.") % {"text": text[:LONGEST]},
            why=_("Nobody knows what will be recorded by then."),
            now=_("Ask for a day that has passed, or leave it out for now."),
        )
    return when
