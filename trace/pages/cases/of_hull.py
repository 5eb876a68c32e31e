"""The complaints of one hull, as its sheet shows them to everybody: without a name and without free words."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.sign_on import SignedOn
from trace.recording.acts.complaint_words import SYMPTOMS, word
from trace.recording.acts.complaints import TakeComplaint, TieHull
from trace.sheets.cases.told import told
from trace.sheets.facts.days import day_said
from trace.sheets.hulls.gathered import Gathered


@dataclass(frozen=True, slots=True)
class ComplaintOfHull:
    """One complaint; days are "" where they were not told, `url` for who may not read it."""

    number: int
    url: str
    said: str
    sold: str
    failed: str
    told: str
    open: bool


def complaints_of(gathered: Gathered, person: SignedOn | None) -> tuple[ComplaintOfHull, ...]:
    """Those tied to the hull by the moment of its sheet; nothing is asked where its history names none."""
    if not any(entry.kind in (TakeComplaint.KIND, TieHull.KIND) for entry in gathered.entries):
        return ()
    may = person is not None and allowed(person.roles, "complaint", "GET", {}, person.tasks)
    found = []
    for one in told(gathered.asked).of_hull(gathered.hull.uid):
        says = one.says
        at = _(" at %(spot)s") % {"spot": says["spot"]} if says.get("spot") else ""
        found.append(ComplaintOfHull(
            one.number, reverse("complaint", args=[one.number]) if may else "", word(SYMPTOMS, says["symptom"]) + at,
            day_said(one.day("sold")), day_said(says.get("failed") or ""), day_said(says.get("reported") or ""),
            one.open,
        ))  # fmt: skip
    return tuple(found)
