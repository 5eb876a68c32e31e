"""The page of two hulls side by side: only what differs."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from plant.errors import NotThere
from trace.pages.asked import as_known_on
from trace.pages.finding import LEAST, Wanted, hulls
from trace.pages.papers import PaperForm, paper_form
from trace.sheets.hulls.compared import CompareSheet, compared


def compare(request: HttpRequest) -> HttpResponse:
    """Context: compare (trace.sheets.hulls.compared.CompareSheet), or None while two hulls are not yet chosen;
    paper_form.

    `a` and `b` are the plates' numbers or parts of them; several plates that fit stand as `choices` (what each is put
    for, and its numbers). Raises NotThere for one that nobody knew by then.
    """
    asked = as_known_on(request)
    left, right = request.GET.get("a", "").strip(), request.GET.get("b", "").strip()
    both = {"left": left, "right": right}
    fits = {side: _plates(text) or [text] for side, text in both.items()} if left and right else {}
    choices = {side: plates for side, plates in fits.items() if len(plates) > 1}
    sheet, error = None, ""
    if fits and not choices:
        try:
            found = compared(fits["left"][0], fits["right"][0], asked)
        except LookupError as nothing:
            raise NotThere(what=str(nothing), why=_("Two hulls are compared by their plates' numbers.")) from None
        if found.left == found.right:
            error = _("Both are %(plate)s: give the plate of another hull.") % {"plate": found.left}
        else:
            sheet = found
    shown = {"compare": sheet, **both, "choices": choices, "error": error, "paper_form": _paper(request, sheet)}
    return render(request, "pages/compare.html", shown)


def _paper(request: HttpRequest, sheet: CompareSheet | None) -> PaperForm | None:
    if sheet is None:
        return None
    return paper_form(request, "two-hulls", {"a": sheet.left, "b": sheet.right}, sheet.as_known_on)


def _plates(text: str) -> list[str]:
    """The plates of hulls that have this text in them: of a whole plate that one alone."""
    part = Wanted(part=text[:60])
    if part.signs < LEAST:
        return []
    found = [row[0] for row in hulls(part, None, None) or hulls(part, None, None, loose=True) if row[1] is not None]
    return [text.upper()] if text.upper() in found else found
