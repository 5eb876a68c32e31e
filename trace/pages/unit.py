"""The page of anything with a code: to a hull's or lot's own page, else a plain history."""

from dataclasses import replace

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from plant.errors import NotThere
from trace.codes import storable
from trace.genealogy.find import AmbiguousCodeError, UnknownCodeError
from trace.pages.asked import as_known_on
from trace.pages.paging import asked as page_asked
from trace.pages.paging import pages
from trace.pages.units.thing import SHOWN, thing_sheet
from trace.pages.units.unit import ElsewhereError, unit_sheet
from trace.sheets.addresses import balance_url, hull_url, lot_url, scope_url


def unit(request: HttpRequest, code: str) -> HttpResponse:
    """Context: unit (trace.pages.sheets.UnitSheet). Raises NotThere for a code nobody knew by then."""
    asked = as_known_on(request)
    try:
        sheet = unit_sheet(code, asked)
    except ElsewhereError as other:
        node = other.node
        to = hull_url(node.serial or node.code, asked) if node.kind == "hull" else lot_url(code, asked)
        return HttpResponseRedirect(to)
    except AmbiguousCodeError:
        return HttpResponseRedirect(f"{reverse('search')}?{urlencode({'q': code})}")
    except UnknownCodeError as unknown:
        try:
            sheet = thing_sheet(storable(code), asked, page_asked(request))
        except LookupError:
            raise NotThere(what=str(unknown), why=_("No label, plate or key of this plant reads so.")) from None
        sheet = replace(sheet, pages=pages(request, sheet.entries, SHOWN))
    key = next((cause.partition("=")[2] for cause in sheet.cause if cause.startswith("works-order=")), "")
    sheet = replace(sheet, scope_url=scope_url(request, sheet.cause, asked), balance_url=balance_url(key, asked))
    return render(request, "pages/unit.html", {"unit": sheet})
