"""The pages of balances: of a lot, a container, a vessel or a works order, and of plant days, as known on a day."""

from datetime import datetime
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.errors import NotThere, TooWide
from trace.genealogy.answer import TooWideError
from trace.genealogy.balance.days import MOST_EVENTS, ManyRecordsError, balances_of_days
from trace.genealogy.balance.documents import all_as_text, as_text
from trace.genealogy.balance.figures import Balance
from trace.genealogy.balance.orders import balances_of_order, order_named
from trace.genealogy.balance.subjects import balance_of
from trace.genealogy.find import AmbiguousCodeError
from trace.genealogy.plant_days import plant_days
from trace.pages.asked import as_known_on, day_asked
from trace.pages.papers import paper_form
from trace.sheets.balances.sheet import balance_sheet
from trace.sheets.hulls.sheet import caution
from trace.sheets.vessel import vessel_content

# So many units are looked at while somebody waits: a few seconds.
MOST_UNITS = 20_000


def days(request: HttpRequest) -> HttpResponse:
    """Context: as `_several`. `first` and `last` are plant days; without them the plant day of today."""
    asked = as_known_on(request)
    first, last = day_asked(request, "first"), day_asked(request, "last")
    if first is None and last is None:
        now = asked or timezone.now()
        first = last = plant_days(asked).at(now).day(now)
    try:
        found = balances_of_days(first, last, asked, most=MOST_EVENTS)
    except ManyRecordsError:
        raise TooWide(
            what=_("The plant has more records than are gone through while somebody waits."),
            now=_("Ask on the command line: manage.py balance --first … --last …"),
        ) from None
    except LookupError as nothing:
        raise NotThere(what=str(nothing)) from None
    title = _("%(first)s to %(last)s") % {"first": first or "…", "last": last or "…"} if first != last else str(first)
    form = paper_form(request, "balances", {"of": f"{first or ''}..{last or ''}"}, asked)
    return _several(request, found, title, asked, first=first, last=last, of_days=True, paper_form=form)


def _order(request: HttpRequest, key: str, asked: datetime | None) -> HttpResponse:
    form = paper_form(request, "balances", {"of": key}, asked)
    return _several(request, balances_of_order(key, asked), key, asked, of_days=False, paper_form=form)


def _several(
    request: HttpRequest, found: list[Balance], title: str, asked: datetime | None, **more: object
) -> HttpResponse:
    """Context: title, sheets (trace.sheets.balances.sheet.BalanceSheet, one a material), first, last, of_days,
    paper_form."""
    if request.GET.get("file") == "json":
        return HttpResponse(all_as_text(found), content_type="application/json")
    sheets = [balance_sheet(one, asked) for one in found]
    context = {"title": title, "sheets": sheets, "caution": caution(), "on": asked or timezone.now(), **more}
    return render(request, "pages/balances.html", context)


def balance(request: HttpRequest, code: str) -> HttpResponse:
    """Context: balance (trace.sheets.balances.sheet.BalanceSheet), content (trace.sheets.vessel.VesselContent, None
    for what is no vessel), paper_form. `file=json` is the document for other systems."""
    asked = as_known_on(request)
    try:
        if order := order_named(code, asked):
            return _order(request, order, asked)
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
    form = paper_form(request, "balance", {"number": code}, asked)
    context = {"balance": balance_sheet(found, asked), "content": content, "paper_form": form}
    return render(request, "pages/balance.html", context)
