"""The page of a balance: of a lot, a container or a vessel, as known on a day."""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from plant.errors import NotThere, TooWide
from trace.genealogy.answer import TooWideError
from trace.genealogy.balance.documents import as_text
from trace.genealogy.balance.subjects import balance_of
from trace.genealogy.find import AmbiguousCodeError
from trace.pages.asked import as_known_on
from trace.sheets.balances.sheet import balance_sheet
from trace.sheets.vessel import vessel_content

# So many units are looked at while somebody waits: a few seconds.
MOST_UNITS = 20_000


def balance(request: HttpRequest, code: str) -> HttpResponse:
    """Context: balance (trace.sheets.balances.sheet.BalanceSheet), content (trace.sheets.vessel.VesselContent, None
    for what is no vessel). `file=json` is the document for other systems."""
    asked = as_known_on(request)
    try:
        found = balance_of(code, asked, most=MOST_UNITS)
    except AmbiguousCodeError:
        return HttpResponseRedirect(f"{reverse('search')}?{urlencode({'q': code})}")
    except TooWideError as wide:
        raise TooWide(
            what=str(wide), now=_("Ask on the command line: manage.py balance %(code)s") % {"code": code[:40]}
        ) from None
    except LookupError as unknown:
        raise NotThere(what=str(unknown), why=_("A balance is made of a lot, a container or a vessel.")) from None
    if request.GET.get("file") == "json":
        return HttpResponse(as_text(found), content_type="application/json")
    content = vessel_content(code, asked) if found.subject == "vessel" else None
    return render(request, "pages/balance.html", {"balance": balance_sheet(found, asked), "content": content})
