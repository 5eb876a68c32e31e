"""The page of one hull: its whole history as a drawing sheet, as known on a day."""

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.translation import gettext as _

from plant.errors import NotThere
from plant.sign_on import current
from trace.pages.asked import as_known_on
from trace.pages.cases.of_hull import complaints_of
from trace.pages.owners.of_hull import owners_of
from trace.pages.papers import paper_form
from trace.sheets.addresses import unit_url
from trace.sheets.hulls.gathered import NoHullError, gather
from trace.sheets.hulls.sheet import hull_sheet


def hull(request: HttpRequest, serial: str) -> HttpResponse:
    """Context: hull (trace.sheets.contracts.HullSheet), complaints (ComplaintOfHull of cases/of_hull.py),
    owners (OwnerLine of trace/sheets/owners/told.py), paper_form.

    Raises NotThere for a number nobody knew by then.
    """
    asked = as_known_on(request)
    try:
        gathered = gather(serial, asked)
    except NoHullError as other:
        return HttpResponseRedirect(unit_url(other.node.code, asked))
    except LookupError as error:
        raise NotThere(what=str(error), why=_("A hull is known by the number on its plate.")) from None
    sheet = hull_sheet(gathered)
    context = {
        "hull": sheet, "complaints": complaints_of(gathered, current(request)),
        "owners": owners_of(gathered, current(request)),
        "paper_form": paper_form(request, "hull", {"number": sheet.serial}, asked),
    }  # fmt: skip
    return render(request, "pages/hull.html", context)
