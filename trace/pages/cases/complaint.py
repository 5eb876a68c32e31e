"""The page of one complaint: what was told, what is missing, which hull it is, and what became of it."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotThere, NotUnderstood
from plant.sign_on import SignedOn, current, device_of
from trace.codes import uuid7
from trace.drawings import PlanPair
from trace.genealogy.answer import what_was_known
from trace.lookup import plant_now
from trace.pages.asked import as_known_on, form_number
from trace.pages.cases import sent
from trace.pages.finding import Wanted
from trace.pages.lists import FoundLine
from trace.pages.search import search_page
from trace.photos.evidence import TYPE, path_of
from trace.recording.acts.complaint_words import CAUSES, HULLS, SYMPTOMS, word
from trace.recording.commands import By, Command
from trace.recording.floor.complaints import LARGEST, notes_of
from trace.recording.record import record
from trace.sheets.addresses import hull_url
from trace.sheets.cases.said import gaps_of, hull_words, use
from trace.sheets.cases.spots import plan_of
from trace.sheets.cases.told import Complaint, HullNow, Told, digests, hulls, told
from trace.sheets.contracts import HistoryLine, grouped
from trace.sheets.facts.days import day_said
from trace.sheets.facts.known import Known, known_of
from trace.sheets.facts.notes import notes
from trace.sheets.hulls.history import history
from trace.sheets.hulls.sheet import caution
from trace.speech import speak

# What is told to nobody else: a buyer's name, address and words.
SEES_WORDS = frozenset({"quality", "deputy"})
OFFERED = 12


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that was told; `text` is "" where it was not, and then shown as missing."""

    name: str
    text: str


@dataclass(frozen=True, slots=True)
class ComplaintPage:
    """Contract of templates/pages/complaint.html. `words` is None for who may not read them; `may`: what this person
    may do here."""

    number: int
    symptom: str
    state: str
    open: bool
    case: int | None
    case_url: str
    hull: str
    hull_url: str
    hull_words: str
    facts: tuple[Fact, ...]
    words: tuple[Fact, ...] | None
    photos: tuple[str, ...]
    gaps: tuple[str, ...]
    plan: PlanPair | None
    history: tuple[HistoryLine, ...]
    candidates: tuple[FoundLine, ...]
    cases: tuple[tuple[int, str], ...]
    causes: tuple[tuple[str, str], ...]
    may: bool
    erasable: bool
    scan_id: str
    as_known_on: datetime
    records: str
    caution: str
    error: str = ""


def complaint(request: HttpRequest, number: int) -> HttpResponse:
    """Context: page (ComplaintPage). POST does what `do` says: tie, close, group, open_case or erase."""
    error, status = "", 200
    if request.method == "POST":
        answer = _done(request, number)
        if isinstance(answer, HttpResponse):
            return answer
        error, status = answer, 409
    page = _page(request, number, error)
    return render(request, "pages/complaint.html", {"page": page}, status=status)


def complaint_photo(_request: HttpRequest, number: int, n: int) -> HttpResponseBase:
    """The n-th picture of a complaint, counted from 1."""
    one = told().complaints.get(number)
    rows = one.entry.part("blobs") if one else []
    path = path_of(rows[n - 1]["sha256"]) if 0 < n <= len(rows) else None
    if path is None or not path.is_file():
        raise NotThere(what=_("This picture is not here."))
    return FileResponse(path.open("rb"), content_type=TYPE)


def send(request: HttpRequest, command: Command, person: SignedOn) -> tuple[Any, str]:
    """The answer to a command of these pages, and its sentence where it was refused."""
    scan_id = form_number(request.POST)
    by = By(person=person.person, station="complaints", device=device_of(request).id, scan_id=scan_id)
    answer = record(command, by)
    if answer.outcome != "refused":
        return answer, ""
    return answer, speak(" ".join(part for part in (answer.what, answer.why, answer.now) if part))


def _done(request: HttpRequest, number: int) -> HttpResponse | str:
    """Where to go on, or why it was not done."""
    person, post = current(request), request.POST
    if person is None:
        raise NotUnderstood
    if number > LARGEST:
        raise NotThere(what=_("There is no complaint %(number)s.") % {"number": number})
    command: Command
    match post.get("do", ""):
        case "tie":
            command = sent.tied(number, post)
        case "close":
            command = sent.complaint_closed(number, post)
        case "erase":
            command = sent.erased(notes_of(number), post)
        case "group":
            [into] = sent.numbers([post.get("case", "")]) or (0,)
            command = sent.grouped(into, number)
        case "open_case":
            command = sent.opened(post)
        case _:
            raise NotUnderstood
    answer, error = send(request, command, person)
    if error:
        return error
    opened = answer.made.get("cases")
    if opened:
        return HttpResponseRedirect(reverse("case", args=opened))
    return HttpResponseRedirect(reverse("complaint", args=[number]))


def _page(request: HttpRequest, number: int, error: str = "") -> ComplaintPage:
    asked = as_known_on(request)
    known_on, size = what_was_known(asked)
    every = told(asked)
    one = every.complaints.get(number)
    if one is None:
        raise NotThere(what=_("There is no complaint %(number)s.") % {"number": number})
    person = current(request)
    roles = person.roles if person else frozenset()
    here = hulls([one.hull]).get(one.hull or "")
    entries = [one.entry, *one.later]
    known = known_of(entries, [here.about] if here else [], places=[here.place] if here else [], as_known_on=asked)
    product = str((here.about.get("product") if here else "") or one.says.get("product") or "")
    body = plant_now().body("product", product)
    spot = str(one.says.get("spot") or "")
    case_of = every.cases.get(one.case or 0)
    may = person is not None and allowed(person.roles, "complaint", "POST", {}, person.tasks)
    return ComplaintPage(
        number=number, symptom=word(SYMPTOMS, one.says["symptom"]), state=_state(one), open=one.open,
        case=one.case, case_url=case_url(person, one.case) if case_of else "",
        hull=here.serial if here else "", hull_url=hull_url(here.serial, asked) if here else "",
        hull_words=hull_words(here.about, here.place, known) if here else "",
        facts=_facts(one, here, known), words=_words(one) if roles & SEES_WORDS else None,
        photos=tuple(
            reverse("complaint_photo", args=[number, n + 1]) for n in range(len(one.entry.part("blobs")))
        ),
        gaps=tuple(gaps_of(one)), plan=plan_of(body, {spot: _("here")} if spot else {}, product),
        history=history(entries, known, {}),
        candidates=_candidates(request, one) if may else (),
        cases=_open_cases(every), causes=tuple((code, _(said)) for code, said in CAUSES.items()),
        may=may and asked is None, erasable=bool(digests([one.entry])), scan_id=str(uuid7()),
        as_known_on=known_on, records=grouped(size), caution=caution(), error=error,
    )  # fmt: skip


def case_url(person: SignedOn | None, number: int | None) -> str:
    if number is None or person is None or not allowed(person.roles, "case", "GET", {}, person.tasks):
        return ""
    return reverse("case", args=[number])


def _state(one: Complaint) -> str:
    if one.open:
        return _("open")
    closing = next((e for e in reversed(one.later) if e.kind in ("complaint_closed", "case_closed")), None)
    if closing is None:
        return _("closed")
    hull = closing.says.get("hull") or closing.says.get("hulls")
    return _("closed, cause: %(cause)s; hull %(found)s") % {
        "cause": word(CAUSES, closing.says["cause"]), "found": word(HULLS, hull),
    }  # fmt: skip


def _facts(one: Complaint, here: HullNow | None, known: Known) -> tuple[Fact, ...]:
    says = one.says
    product = (here.about.get("product") if here else "") or says.get("product") or ""
    model = str(plant_now().body("product", str(product)).get("name") or product)
    colour = str((here.about.get("colour") if here else "") or says.get("colour") or "")
    through = str(says.get("through") or "")
    made = f"{here.made:%Y-%m-%d}" if here else str(says.get("month") or "")
    return (
        Fact(_("On the plate"), str(says.get("plate") or (here.serial if here else ""))),
        Fact(_("Model, colour"), ", ".join(part for part in (model, colour) if part)),
        Fact(_("Made"), day_said(made)),
        Fact(_("Where on the hull"), str(says.get("spot") or "")),
        Fact(_("Sold"), day_said(one.day("sold"))),
        Fact(_("Failed"), day_said(says.get("failed") or "")),
        Fact(_("Told"), day_said(says.get("reported") or "")),
        Fact(_("In use"), use(says)),
        Fact(_("Told through"), known.place(f"gone: {through}") if through else ""),
    )  # fmt: skip


def _words(one: Complaint) -> tuple[Fact, ...]:
    said = notes(digests([one.entry]))
    names = (("buyer", _("Buyer")), ("contact", _("Contact")), ("story", _("As it was told")))
    return tuple(Fact(name, said.text(one.says.get(field))) for field, name in names)


def _candidates(request: HttpRequest, one: Complaint) -> tuple[FoundLine, ...]:
    """Hulls that fit what could be read, or what is looked for now."""
    wanted = Wanted(
        request.GET.get("q", "").strip()[:60] or str(one.says.get("plate") or ""),
        "" if one.hull else str(one.says.get("product") or ""), str(one.says.get("colour") or ""),
        str(one.says.get("month") or "") if len(str(one.says.get("month") or "")) > 4 else "",
    )  # fmt: skip
    found = [line for line in search_page(wanted).found if line.kind == _("hull")]
    return tuple(found[:OFFERED])


def _open_cases(every: Told) -> tuple[tuple[int, str], ...]:
    still = [case for case in every.cases.values() if case.open]
    said = notes(digests([case.entry for case in still]))
    return tuple((case.number, said.text(case.entry.says.get("name"))) for case in still)


def take_url(**plate: str) -> str:
    """Where a complaint is taken, with what is known of its hull."""
    return f"{reverse('take_complaint')}?{urlencode({name: value for name, value in plate.items() if value})}"
