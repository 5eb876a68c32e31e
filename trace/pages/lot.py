"""The page of one lot: its containers with what is left, and where it went, as known on a day."""

from dataclasses import replace
from datetime import datetime
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.sign_on import current
from trace.codes import CodeError, parse_label_code
from trace.genealogy.find import AmbiguousCodeError, carrier_of
from trace.pages.asked import as_known_on
from trace.pages.papers import PaperForm, paper_form
from trace.readmodels import counting
from trace.sheets.addresses import balance_url, dispersion_url, hull_url, scope_url, unit_url
from trace.sheets.lots.gathered import GatheredLot, NoLotError, gather_lot
from trace.sheets.lots.sheet import lot_sheet
from trace.sheets.vessel import vessel_content


def lot(request: HttpRequest, code: str) -> HttpResponse:
    """Context: lot (trace.sheets.contracts.LotSheet), content (of a vessel: trace.sheets.vessel.VesselContent),
    paper_form, supplier_form (PaperForm). `by` and `group` show one group of hulls whole; `page` is the page of hulls
    of a lot that went into thousands.

    A code of something else leads to its own page, one that several lots share to a list of them.
    """
    asked = as_known_on(request)
    by, group = request.GET.get("by", ""), request.GET.get("group", "")
    try:
        gathered = gather_lot(code, asked, _page(request))
        counted = None
        if gathered.wide and gathered.wide.more:
            counted = counting.ask(gathered.lot.id, gathered.lot.uid, asked)
        sheet = lot_sheet(gathered, (by, group) if by and group else None, counted)
    except NoLotError as other:
        node = other.node
        to = hull_url(node.serial or node.code, asked) if node.kind == "hull" else unit_url(code, asked)
        return HttpResponseRedirect(to)
    except AmbiguousCodeError:
        return HttpResponseRedirect(f"{reverse('search')}?{urlencode({'q': code})}")
    except LookupError:
        # A tag of the plant, or nothing at all: that page says which.
        return HttpResponseRedirect(unit_url(code, asked))
    hold_url = _hold_url(request, _scannable(code, sheet.code))
    shares = scope_url(request, [f"holds={code}"], asked)
    balances = _balance_urls(gathered, code, asked)
    spread = dispersion_url(gathered.lot.uid, asked) if gathered.lot.kind == "lot" else ""
    shown = replace(sheet, hold_url=hold_url, scope_url=shares, balance_urls=balances, spread_url=spread)
    form = paper_form(request, "lot", {"number": code}, asked)
    content = vessel_content(code, asked) if gathered.lot.kind == "content" else None
    context = {"lot": shown, "paper_form": form, "supplier_form": _supplier_form(request, gathered, asked)}
    return render(request, "pages/lot.html", {**context, "content": content})


def _supplier_form(request: HttpRequest, gathered: GatheredLot, asked: datetime | None) -> PaperForm | None:
    """Evidence is asked for of what a supplier delivered."""
    if gathered.lot.kind != "lot":
        return None
    words = {"number": gathered.lot.uid}
    return paper_form(request, "supplier-evidence", words, asked, _("Make the paper for its supplier"))


def _balance_urls(gathered: GatheredLot, code: str, asked: datetime | None) -> tuple[tuple[str, str], ...]:
    """The balance of the lot and, where a container or vessel was asked for by its label, of that one."""
    found = [(_("Balance of the lot"), balance_url(gathered.lot.uid, asked))] if gathered.lot.kind == "lot" else []
    if carrier_of(code, asked) is not None:
        found.append((_("Balance of what it holds"), balance_url(code, asked)))
    return tuple(found)


def _scannable(code: str, label: str) -> str:
    """The label that was asked for, else one of the lot's containers: several lots may have one number."""
    try:
        return code if parse_label_code(code) else label
    except CodeError:
        return label or code


def _page(request: HttpRequest) -> int:
    text = request.GET.get("page", "1")[:6]
    return max(1, int(text)) if text.isascii() and text.isdigit() else 1


def _hold_url(request: HttpRequest, code: str) -> str:
    """The station where a hold is laid, this lot scanned and all of it chosen; "" for those who may not."""
    person = current(request)
    if person is None or not allowed(person.roles, "station", "GET", {"slug": "hold"}, person.tasks):
        return ""
    return f"{reverse('station', args=['hold'])}?{urlencode({'thing': code, 'whole_lot': 'yes'})}"
