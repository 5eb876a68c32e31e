"""The page of one lot: its containers with what is left, and where it went, as known on a day."""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from plant.errors import NotThere
from trace.genealogy.find import AmbiguousCodeError
from trace.pages.addresses import hull_url, unit_url
from trace.pages.asked import as_known_on
from trace.pages.lots.gathered import NoLotError, gather_lot
from trace.pages.lots.sheet import lot_sheet


def lot(request: HttpRequest, code: str) -> HttpResponse:
    """Context: lot (trace.pages.sheets.LotSheet). `by` and `group` show one group of hulls whole.

    Raises NotThere for a code nobody knew by then. A code of something else leads to its own page, one that
    several lots share to a list of them.
    """
    asked = as_known_on(request)
    by, group = request.GET.get("by", ""), request.GET.get("group", "")
    try:
        sheet = lot_sheet(gather_lot(code, asked), (by, group) if by and group else None)
    except NoLotError as other:
        node = other.node
        to = hull_url(node.serial or node.code, asked) if node.kind == "hull" else unit_url(code, asked)
        return HttpResponseRedirect(to)
    except AmbiguousCodeError:
        return HttpResponseRedirect(f"{reverse('search')}?{urlencode({'q': code})}")
    except LookupError as error:
        raise NotThere(what=str(error), why=_("A lot is known by its number or by a label of the plant.")) from None
    return render(request, "pages/lot.html", {"lot": sheet})
