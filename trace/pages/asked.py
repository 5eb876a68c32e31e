"""What a page is asked for: the day in its address, read into a moment; the number under which its form is sent."""

from collections.abc import Mapping
from datetime import date, datetime
from uuid import UUID

from django.http import HttpRequest
from django.utils.translation import gettext as _

from plant.errors import NotUnderstood
from trace.genealogy.day import DayError, moment


def as_known_on(request: HttpRequest) -> datetime | None:
    """The moment asked for, None for now. Raises NotUnderstood for text that is none, or has not come yet."""
    text = request.GET.get("as_known_on", "").strip()
    if not text:
        return None
    try:
        return moment(text)
    except DayError as error:
        raise NotUnderstood(
            what=str(error),
            why=_("The page is asked for as it was known on a day."),
            now=_("Write a day that has passed as 2026-06-09, or with its time as 2026-06-09T14:00:00+01:00."),
        ) from None


def day_asked(request: HttpRequest, name: str) -> date | None:
    """A plant day in the address, None where there is none. Raises NotUnderstood for text that is no day."""
    text = request.GET.get(name, "").strip()
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise NotUnderstood(what=_("“%(text)s” is no day.") % {"text": text[:20]}) from None


def form_number(sent: Mapping[str, str]) -> UUID:
    """The number that a form was drawn with: what is sent twice under it counts once. Raises NotUnderstood."""
    try:
        return UUID(sent.get("scan_id", ""))
    except ValueError:
        raise NotUnderstood from None
