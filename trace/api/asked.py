"""What an address for other systems is asked, and how it says what it cannot answer."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime

from django.utils.translation import gettext as _
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request

from plant.errors import NotThere, NotUnderstood, TooWide
from trace.exports.asked import PaperError
from trace.genealogy.answer import TooWideError
from trace.genealogy.balance.days import ManyRecordsError
from trace.genealogy.causes import CauseError
from trace.genealogy.day import DayError, moment
from trace.quality.question import QuestionError

KNOWN = OpenApiParameter("as_known_on", OpenApiTypes.DATETIME, description="Left out: now.")


def known_on(request: Request) -> datetime | None:
    """The moment asked for, None for now. Raises NotUnderstood for text that is none."""
    asked = request.query_params.get("as_known_on", "").strip()
    with answerable():
        return moment(asked) if asked else None


def day_of(request: Request, name: str) -> date | None:
    """A plant day asked for by this name, None where it is left out. Raises NotUnderstood for text that is none."""
    asked = request.query_params.get(name, "").strip()
    try:
        return date.fromisoformat(asked) if asked else None
    except ValueError:
        raise NotUnderstood(what=_("“%(text)s” is no day.") % {"text": asked[:20]}) from None


@contextmanager
def answerable() -> Iterator[None]:
    """What is asked in it is answered, or is one of the errors that every address says: not understood (400), not
    there (404), too wide (422)."""
    try:
        yield
    except TooWideError as error:
        raise TooWide(what=str(error)) from None
    except ManyRecordsError:
        raise TooWide(what=_("The plant has more records than are gone through here.")) from None
    except (CauseError, DayError, PaperError, QuestionError) as error:
        raise NotUnderstood(what=str(error)) from None
    except LookupError as error:
        raise NotThere(what=str(error)) from None
