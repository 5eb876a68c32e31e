"""The page of one hull: its whole history as a drawing sheet, as known on a day."""

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotThere
from plant.sign_on import SignedOn, current
from trace.drawings import PlanPair
from trace.pages.asked import as_known_on
from trace.pages.cases.of_hull import complaints_of
from trace.pages.owners.of_hull import owners_of
from trace.pages.papers import paper_form
from trace.recording.acts.complaint_words import word
from trace.recording.acts.repairs import WORKS, Repair
from trace.sheets.addresses import unit_url
from trace.sheets.cases.spots import plan_of
from trace.sheets.contracts import HullSheet
from trace.sheets.hulls.gathered import Gathered, NoHullError, gather
from trace.sheets.hulls.sheet import hull_sheet


def hull(request: HttpRequest, serial: str) -> HttpResponse:
    """Context: hull (trace.sheets.contracts.HullSheet), complaints (ComplaintOfHull of cases/of_hull.py),
    owners (OwnerLine of trace/sheets/owners/told.py), returns_url (where it may be taken back, or ""), repairs (its
    drawing with what was repaired, None where nothing was), paper_form.

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
        "repairs": _repairs(gathered, sheet.model),
        "returns_url": _returns_url(sheet, current(request)),
        "paper_form": paper_form(request, "hull", {"number": sheet.serial}, asked),
    }  # fmt: skip
    return render(request, "pages/hull.html", context)


def _repairs(gathered: Gathered, title: str) -> PlanPair | None:
    """The model's drawing with what was repaired where; None where nothing was, or there is no drawing."""
    said: dict[str, str] = {}
    for entry in gathered.entries:
        if entry.kind == Repair.KIND and entry.says["spot"]:
            done = word(WORKS, entry.says["work"])
            said[entry.says["spot"]] = ", ".join(filter(None, (said.get(entry.says["spot"]), done)))
    return plan_of(gathered.recipe, said, title) if said else None


def _returns_url(sheet: HullSheet, person: SignedOn | None) -> str:
    """The station that takes a hull back which has gone, for whoever works there."""
    may = person is not None and allowed(person.roles, "station", "POST", {"slug": "returns"}, person.tasks)
    if not may or sheet.state != "dispatched":
        return ""
    return f"{reverse('station', args=['returns'])}?{urlencode({'hull': sheet.serial})}"
