"""The paper that goes with a load, for A4: what is on the truck, and how old the list of holds was when it left."""


from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.errors import NotThere
from trace.exports.kinds.lines import plant_name
from trace.pages.asked import as_known_on
from trace.pages.papers import paper_form
from trace.sheets.hulls.sheet import caution
from trace.sheets.loads import load_of


def load_paper(request: HttpRequest, uid: str) -> HttpResponse:
    """Context: load (trace.sheets.loads.Load), plant, caution, paper. Raises NotThere for a load that nobody knew."""
    known = as_known_on(request) or timezone.now()
    try:
        load = load_of(uid, known)
    except LookupError:
        raise NotThere(what=_("No load is known by that."), why=_("A load is made when a truck leaves.")) from None
    return render(request, "pages/load_paper.html", {
        "load": load, "plant": plant_name(known), "caution": caution(),
        "paper": paper_form(request, "load", {"load": uid}, known),
    })  # fmt: skip
