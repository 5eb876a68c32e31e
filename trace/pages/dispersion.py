"""The pages of dispersion: of all lots over some days, of one lot, of one hull."""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from plant.errors import NotThere, TooWide
from trace.genealogy.find import AmbiguousCodeError
from trace.genealogy.spread import ManyHullsError, spread_of
from trace.pages.asked import as_known_on, day_asked
from trace.sheets.dispersion import sheet_of, sheet_of_days

# So many hulls are looked at while somebody waits.
MOST_HULLS = 10_000


def dispersion(request: HttpRequest) -> HttpResponse:
    """Context: page (trace.sheets.dispersion.SpreadSheet). `first` and `last` are plant days."""
    asked = as_known_on(request)
    first, last = day_asked(request, "first"), day_asked(request, "last")
    try:
        spread = spread_of(first, last, asked, most=MOST_HULLS)
    except ManyHullsError as many:
        raise TooWide(what=str(many), now=_("Ask for fewer days, or on the command line.")) from None
    except LookupError as nothing:
        raise NotThere(what=str(nothing)) from None
    return render(request, "pages/dispersion.html", {"page": sheet_of_days(spread, asked), "days": True})


def dispersion_of(request: HttpRequest, code: str) -> HttpResponse:
    """Context: page, as above, of one lot or one hull."""
    try:
        page = sheet_of(code, as_known_on(request))
    except AmbiguousCodeError:
        return HttpResponseRedirect(f"{reverse('search')}?{urlencode({'q': code})}")
    except LookupError as unknown:
        raise NotThere(what=str(unknown), why=_("Dispersion is counted for a lot or a hull.")) from None
    return render(request, "pages/dispersion.html", {"page": page, "days": False})

