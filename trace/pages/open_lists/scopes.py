"""Saved scopes: those that are looked at, and those that were put aside."""

from collections.abc import Sequence
from functools import partial
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.genealogy.live import person_name
from trace.genealogy.saved_scopes import ASIDE, NUMBERED, SavedScope, saved_scopes
from trace.pages.open_lists.listed import Line, OpenList
from trace.pages.open_lists.picking import keys_of
from trace.sheets.cases.said import cause_said
from trace.sheets.facts.notes import Notes, notes
from trace.speech import names_of


def _some(where: str) -> str:
    return f"FROM ({NUMBERED}) s LEFT JOIN ({ASIDE}) a ON a.number = s.number WHERE {where}"


def _picks(where: str) -> str:
    return f"""
SELECT s.number::text AS key, s.recorded AS since, '' AS kind,
  concat_ws(' ', 'scope ' || s.number, (SELECT n.text FROM note n WHERE n.digest = s.says->>'name'),
    (SELECT string_agg(w, ' ') FROM jsonb_array_elements_text(s.says->'cause') w), {person_name("s.person")}) AS words
{_some(where)}"""


KEPT, PUT_ASIDE = "a.number IS NULL", "a.number IS NOT NULL"


def lines(where: str, skipped: int, most: int) -> list[Line]:
    """Newest first."""
    return of(keys_of(_picks(where), skipped, most, "newest"))


def of(keys: Sequence[str]) -> list[Line]:
    """The saved scopes of these numbers, in their order."""
    found = {one.number: one for one in saved_scopes(*map(int, keys))} if keys else {}
    words = notes(digest for one in found.values() for digest in (one.name, one.why))
    people = names_of({who for one in found.values() for who in (one.person, one.aside_by) if who})
    return [_line(found[int(key)], words, people) for key in keys if int(key) in found]


def _line(one: SavedScope, words: Notes, people: dict[str, Any]) -> Line:
    aside = ""
    if one.aside:
        aside = _("put aside by %(who)s: %(why)s") % {
            "who": people.get(one.aside_by, ""), "why": words.text(one.why),
        }  # fmt: skip
    return Line(
        what=words.text(one.name),
        since=one.saved,
        codes=((_("saved scope %(n)d") % {"n": one.number}, reverse("saved_scope", args=[one.number])),),
        detail="; ".join(part for part in (cause_said(one.words), aside) if part),
        who=people.get(one.person, ""),
        amount=_("%(certain)d certain, %(may)d may") % one.counts,
    )


def _listed(slug: str, where: str, title: Any, one_line: Any, empty: Any) -> OpenList:
    return OpenList(
        slug, title, one_line, empty, gettext_lazy("newest first"), f"SELECT count(*), min(s.recorded) {_some(where)}",
        partial(lines, where), _picks(where), of, at_home=False, first="newest",
    )  # fmt: skip


SAVED_SCOPES = _listed(
    "scopes", KEPT, gettext_lazy("Saved scopes"),
    gettext_lazy("Questions kept with their answer: opened, each is asked again and compared with today"),
    gettext_lazy("No scope was saved yet. One is saved on the page of its question."),
)  # fmt: skip
SCOPES_ASIDE = _listed(
    "scopes-aside", PUT_ASIDE, gettext_lazy("Saved scopes put aside"),
    gettext_lazy("Nobody looks at them any more; each can still be opened"),
    gettext_lazy("No saved scope was put aside."),
)  # fmt: skip
