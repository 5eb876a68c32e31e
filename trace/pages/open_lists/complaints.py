"""Open complaints and open cases: what was told and is not answered yet, and what is looked into."""

from collections.abc import Sequence
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from trace.genealogy.live import person_name
from trace.pages.open_lists.listed import Line, OpenList, rows
from trace.pages.open_lists.picking import in_order, keys_of
from trace.readmodels.rows import moment
from trace.recording.acts.complaint_words import SYMPTOMS, word
from trace.sheets.addresses import hull_url
from trace.speech import names_of

COUNT = "SELECT count(*), min(e.happened) FROM complaint c JOIN event e ON e.id = c.event WHERE c.open"
SAID = " ".join(["CASE c.symptom", *(f"WHEN '{code}' THEN '{said}'" for code, said in SYMPTOMS.items()), "END"])
PICKS = f"""
SELECT c.number::text AS key, e.happened AS since, c.symptom AS kind,
  concat_ws(' ', 'complaint ' || c.number, c.symptom, {SAID}, c.spot, t.text, 'case ' || c.case,
    e.body::jsonb->'says'->>'plate', e.body::jsonb->'says'->>'product', {person_name("e.person")}) AS words
FROM complaint c JOIN event e ON e.id = c.event LEFT JOIN serial_state t ON t.hull = c.hull WHERE c.open
"""
COMPLAINTS = """
SELECT c.number::text AS key, c.number, c.symptom, c.spot, c.case, e.happened, e.person, t.text AS serial,
  e.body::jsonb->'says'->>'plate' AS plate
FROM complaint c JOIN event e ON e.id = c.event LEFT JOIN serial_state t ON t.hull = c.hull
WHERE c.number = ANY (%(keys)s::bigint[])
"""
COUNT_CASES = "SELECT count(*), min(e.happened) FROM case_file c JOIN event e ON e.id = c.event WHERE c.open"
# A case is of the kind of most of its complaints.
PICKS_CASES = f"""
SELECT c.number::text AS key, e.happened AS since,
  COALESCE((SELECT mode() WITHIN GROUP (ORDER BY x.symptom) FROM complaint x WHERE x.case = c.number), '') AS kind,
  concat_ws(' ', 'case ' || c.number, n.text, {person_name("e.person")}, (SELECT string_agg(
    concat_ws(' ', x.symptom, t.text), ' ') FROM complaint x LEFT JOIN serial_state t ON t.hull = x.hull
    WHERE x.case = c.number)) AS words
FROM case_file c JOIN event e ON e.id = c.event LEFT JOIN note n ON n.digest = e.body::jsonb->'says'->>'name'
WHERE c.open
"""
CASES = """
SELECT c.number::text AS key, c.number, e.happened, e.person, n.text AS name,
  (SELECT count(*) FROM complaint x WHERE x.case = c.number) AS inside
FROM case_file c JOIN event e ON e.id = c.event LEFT JOIN note n ON n.digest = e.body::jsonb->'says'->>'name'
WHERE c.number = ANY (%(keys)s::bigint[])
"""


def symptom_words(symptom: str) -> str:
    return word(SYMPTOMS, symptom)


def lines(skipped: int, most: int) -> list[Line]:
    """Oldest first."""
    return of(keys_of(PICKS, skipped, most))


def of(keys: Sequence[str]) -> list[Line]:
    """The complaints of these numbers, in their order."""
    found = in_order(keys, rows(COMPLAINTS, {"keys": list(keys)}))
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
    return cases_of(keys_of(PICKS_CASES, skipped, most))


def cases_of(keys: Sequence[str]) -> list[Line]:
    """The cases of these numbers, in their order."""
    found = in_order(keys, rows(CASES, {"keys": list(keys)}))
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
    gettext_lazy("No complaint is open."), gettext_lazy("oldest first"), COUNT, lines,
    PICKS, of, symptom_words, where="outside",
)  # fmt: skip
OPEN_CASES = OpenList(
    "cases", gettext_lazy("Open cases"), gettext_lazy("Complaints that are looked into together"),
    gettext_lazy("No case is open."), gettext_lazy("oldest first"), COUNT_CASES, case_lines,
    PICKS_CASES, cases_of, symptom_words,
)  # fmt: skip
