"""Open complaints and open cases: what was told and is not answered yet, and what is looked into."""

from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from trace.pages.open_lists.listed import Line, OpenList, rows
from trace.readmodels.rows import moment
from trace.recording.acts.complaint_words import SYMPTOMS, word
from trace.sheets.addresses import hull_url
from trace.speech import names_of

COUNT = "SELECT count(*), min(e.happened) FROM complaint c JOIN event e ON e.id = c.event WHERE c.open"
COMPLAINTS = """
SELECT c.number, c.symptom, c.spot, c.case, e.happened, e.person, t.text AS serial,
  e.body::jsonb->'says'->>'plate' AS plate
FROM complaint c JOIN event e ON e.id = c.event LEFT JOIN serial_state t ON t.hull = c.hull
WHERE c.open ORDER BY c.event OFFSET %(skipped)s LIMIT %(most)s
"""
COUNT_CASES = "SELECT count(*), min(e.happened) FROM case_file c JOIN event e ON e.id = c.event WHERE c.open"
CASES = """
SELECT c.number, e.happened, e.person, n.text AS name,
  (SELECT count(*) FROM complaint x WHERE x.case = c.number) AS inside
FROM case_file c JOIN event e ON e.id = c.event LEFT JOIN note n ON n.digest = e.body::jsonb->'says'->>'name'
WHERE c.open ORDER BY c.event OFFSET %(skipped)s LIMIT %(most)s
"""


def lines(skipped: int, most: int) -> list[Line]:
    """Oldest first."""
    found = rows(COMPLAINTS, {"skipped": skipped, "most": most})
    names = names_of({one["person"] for one in found if one["person"]})
    return [_line(one, names) for one in found]


def _line(one: dict[str, Any], names: dict[str, str]) -> Line:
    at = [word(SYMPTOMS, one["symptom"]), one["spot"] or _("place not told")]
    hull = (one["serial"], hull_url(one["serial"])) if one["serial"] else (one["plate"] or _("hull not known"), "")
    return Line(
        what=", ".join(at),
        since=moment(one["happened"]),
        codes=(
            (_("complaint %(n)d") % {"n": one["number"]}, reverse("complaint", args=[one["number"]])), hull,
        ),
        detail="" if one["serial"] else _("its hull was not found yet"),
        who=names.get(one["person"] or "", ""),
        amount=_("case %(n)d") % {"n": one["case"]} if one["case"] else _("in no case"),
    )  # fmt: skip


def case_lines(skipped: int, most: int) -> list[Line]:
    """Oldest first."""
    found = rows(CASES, {"skipped": skipped, "most": most})
    names = names_of({one["person"] for one in found if one["person"]})
    return [
        Line(
            what=one["name"] or _("(words erased)"),
            since=moment(one["happened"]),
            codes=((_("case %(n)d") % {"n": one["number"]}, reverse("case", args=[one["number"]])),),
            who=names.get(one["person"] or "", ""),
            amount=ngettext("%(n)d complaint", "%(n)d complaints", one["inside"]) % {"n": one["inside"]},
        )
        for one in found
    ]


OPEN_COMPLAINTS = OpenList(
    "complaints", gettext_lazy("Open complaints"), gettext_lazy("Told, and not closed yet"),
    gettext_lazy("No complaint is open."), gettext_lazy("oldest first"), COUNT, lines, where="outside",
)  # fmt: skip
OPEN_CASES = OpenList(
    "cases", gettext_lazy("Open cases"), gettext_lazy("Complaints that are looked into together"),
    gettext_lazy("No case is open."), gettext_lazy("oldest first"), COUNT_CASES, case_lines,
)  # fmt: skip
