"""Saved scopes at the desk: a question saved under a name, asked again and compared with today, put aside."""

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotThere, NotUnderstood
from plant.sign_on import SignedOn, current
from trace.codes import storable, uuid7
from trace.genealogy.asked_again import asked_again, digest_of
from trace.genealogy.causes import CauseError, read_cause, written
from trace.genealogy.day import DayError, moment
from trace.genealogy.saved_scopes import SavedScope, saved_scope
from trace.genealogy.sharing import Shared, shared_by
from trace.pages.asked import form_number
from trace.pages.paging import Pages, pages
from trace.pages.papers import paper_form
from trace.recording.acts.saved_scopes import PutScopeAside, SaveScope
from trace.recording.answers import Answer
from trace.recording.commands import By, Command
from trace.recording.floor.complaints import LARGEST
from trace.recording.record import record
from trace.sheets.addresses import scope_url
from trace.sheets.asked_again import AgainSheet, again_sheet
from trace.sheets.cases.said import cause_said
from trace.sheets.facts.notes import notes
from trace.sheets.hulls.sheet import caution
from trace.speech import names_of, speak

LONGEST_NAME = 120


@dataclass(frozen=True, slots=True)
class Save:
    """The form on a question's page that saves it as answered for the moment `known`; `error`: why it was not."""

    known: str
    scan_id: str
    name: str
    error: str


@dataclass(frozen=True, slots=True)
class SavedPage:
    """Contract of templates/pages/saved_scope.html. `again` is None where the question cannot be asked any more, and
    `trouble` says why. `then_url`, `now_url`: the whole answers."""

    scope: SavedScope
    name: str
    said: str
    words: str
    who: str
    aside_by: str
    aside_why: str
    again: AgainSheet | None
    trouble: str
    pages: Pages | None
    then_url: str
    now_url: str
    may: bool
    scan_id: str
    caution: str
    error: str = ""


def may_save(person: SignedOn | None) -> bool:
    return person is not None and allowed(person.roles, "scope", "POST", {}, person.tasks)


def save_form(request: HttpRequest, answer: Shared, error: str) -> Save | None:
    """For who may save, with what was typed where it was not saved."""
    if not may_save(current(request)):
        return None
    return Save(answer.as_known_on.isoformat(), str(uuid7()), request.POST.get("name", ""), error)


def save(request: HttpRequest) -> tuple[str, str]:
    """Save the question (`q` of the address) as answered for the moment `known`, under a `name`: (where it stands then,
    ""), or ("", why nothing was saved)."""
    person, words = current(request), [word for word in request.GET.getlist("q") if word.strip()]
    if person is None or not words:
        raise NotUnderstood
    try:
        cause = read_cause(words)
        answer = shared_by(cause, moment(request.POST.get("known", "")))
    except (CauseError, DayError, LookupError) as error:
        return "", str(error)
    told = _recorded(request, as_saved(answer, request.POST.get("name", "")), person)
    if told.outcome == "refused":
        return "", _refusal(told)
    return reverse("saved_scope", args=told.made["scopes"]), ""


def as_saved(answer: Shared, name: str) -> SaveScope:
    """The record of this answer under this name."""
    return SaveScope(
        cause=tuple(written(answer.cause)), known=answer.as_known_on.isoformat(), certain=answer.count("certain"),
        may=answer.count("may"), cannot=answer.count("cannot"), tree_size=answer.tree_size, digest=digest_of(answer),
        name=storable(name, LONGEST_NAME).strip(),
    )  # fmt: skip


def _recorded(request: HttpRequest, command: Command, person: SignedOn) -> Answer:
    return record(command, By(person=person.person, station="scope", scan_id=form_number(request.POST)))


def _refusal(answer: Answer) -> str:
    """Why it was not recorded, "" where it was."""
    return speak(f"{answer.what} {answer.why} {answer.now}") if answer.outcome == "refused" else ""


def saved(request: HttpRequest, number: int) -> HttpResponse:
    """Context: page (SavedPage), paper_form. POST puts it aside (`reason`, `scan_id`)."""
    person, error = current(request), ""
    if person is None:
        raise NotUnderstood
    if request.method == "POST":
        command = PutScopeAside(number=min(number, LARGEST), reason=request.POST.get("reason", "").strip()[:500])
        error = _refusal(_recorded(request, command, person))
        if not error:
            return HttpResponseRedirect(request.path)
    one = saved_scope(number) if number <= LARGEST else None
    if one is None:
        raise NotThere(what=_("There is no saved scope %(number)s.") % {"number": number})
    shown = {
        "page": _page(request, one, person, error),
        "paper_form": paper_form(request, "saved-scope", {"number": str(number)}, None),
    }
    return render(request, "pages/saved_scope.html", shown, status=409 if error else 200)


def _page(request: HttpRequest, one: SavedScope, person: SignedOn, error: str) -> SavedPage:
    said = cause_said(one.words)
    again, shown, trouble = None, None, ""
    try:
        found = asked_again(read_cause(one.words), one.known)
    except (CauseError, LookupError) as nothing:
        trouble = str(nothing)
    else:
        shown = pages(request, len(found.changes))
        again = again_sheet(found, said, as_kept=one.same_as(found.then), skipped=shown.skipped, most=shown.each)
    people, words = names_of({one.person, one.aside_by} - {""}), notes((one.name, one.why))
    return SavedPage(
        scope=one, name=words.text(one.name), said=said, words=" ".join(one.words), who=people.get(one.person, ""),
        aside_by=people.get(one.aside_by, ""), aside_why=words.text(one.why), again=again, trouble=trouble,
        pages=shown, then_url=scope_url(request, one.words, one.known), now_url=scope_url(request, one.words),
        may=may_save(person) and one.aside is None, scan_id=str(uuid7()), caution=caution(), error=error,
    )  # fmt: skip
