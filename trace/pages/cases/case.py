"""The page of one case, and the list of all: what is suspected, held, tested, decided and told, to its end."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid5

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotThere, NotUnderstood
from plant.sign_on import SignedOn, current, device_of
from trace.codes import uuid7
from trace.genealogy.answer import what_was_known
from trace.genealogy.causes import CauseError, read_cause
from trace.genealogy.sharing import shared_by
from trace.lookup import plant_now
from trace.pages.asked import as_known_on
from trace.pages.cases import case_page, looked_for, sent
from trace.pages.cases.complaint import send
from trace.pages.cases.contracts import CasePage
from trace.pages.cases.take import consignees
from trace.pages.papers import paper_form
from trace.pages.scope_holds import first_hold, lay_scope
from trace.recording.acts.complaint_words import CAUSES, SUSPECT_STANDS, SYMPTOMS, WAYS, word
from trace.recording.acts.holds import Hold
from trace.recording.commands import By
from trace.recording.floor.complaints import LARGEST
from trace.recording.record import record
from trace.sheets.cases.told import Case, Complaint, HullNow, Told, digests, hulls, told
from trace.sheets.contracts import grouped
from trace.sheets.facts.days import day_said
from trace.sheets.facts.known import known_of
from trace.sheets.facts.notes import notes
from trace.sheets.hulls.history import history
from trace.sheets.hulls.sheet import caution
from trace.speech import names_of, speak


@dataclass(frozen=True, slots=True)
class CaseLine:
    """One case of the list."""

    number: int
    url: str
    name: str
    open: bool
    complaints: int
    since: datetime
    who: str


@dataclass(frozen=True, slots=True)
class LooseLine:
    """One open complaint that is in no case."""

    number: int
    url: str
    said: str
    detail: str
    ticked: bool = False


@dataclass(frozen=True, slots=True)
class OfKind:
    """How many open complaints in no case are of one symptom; `url` shows them, ticked."""

    said: str
    count: int
    url: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class CasesPage:
    """Contract of templates/pages/cases.html. `kind`: the symptom whose complaints alone are shown, and are ticked."""

    cases: tuple[CaseLine, ...]
    loose: tuple[LooseLine, ...]
    kinds: tuple[OfKind, ...]
    kind: str
    may: bool
    scan_id: str
    typed: str = ""
    error: str = ""


def cases(request: HttpRequest) -> HttpResponse:
    """Context: page (CasesPage). `kind`: open complaints of that symptom alone, ticked. POST opens a case with those
    that were ticked."""
    person, error = _person(request), ""
    if request.method == "POST":
        answer, error = send(request, sent.opened(request.POST), person)
        if not error:
            return HttpResponseRedirect(reverse("case", args=answer.made["cases"]))
    every = told()
    loose, kind = _loose(every), request.GET.get("kind", "")
    ticked = request.POST.getlist("complaint") if error else [str(one.number) for one in loose] if kind else []
    page = CasesPage(
        _case_lines(every),
        _loose_lines([one for one in loose if kind in ("", one.says["symptom"])], ticked),
        _kinds(loose, kind), word(SYMPTOMS, kind) if kind else "",
        allowed(person.roles, "cases", "POST", {}, person.tasks), str(uuid7()), request.POST.get("name", ""), error,
    )  # fmt: skip
    return render(request, "pages/cases.html", {"page": page}, status=409 if error else 200)


def _case_lines(every: Told) -> tuple[CaseLine, ...]:
    """Every case, those that are open before the others, the newest first."""
    names = notes(digests(case.entry for case in every.cases.values()))
    people = names_of({case.entry.person for case in every.cases.values()})
    lines = [
        CaseLine(
            case.number, reverse("case", args=[case.number]), names.text(case.entry.says.get("name")), case.open,
            len(every.inside(case.number)), case.entry.happened, people.get(case.entry.person, ""),
        )
        for case in every.cases.values()
    ]  # fmt: skip
    return tuple(sorted(lines, key=lambda line: (not line.open, -line.number)))


def _loose_lines(loose: Sequence[Complaint], ticked: Collection[str]) -> tuple[LooseLine, ...]:
    here, through = hulls(one.hull for one in loose), dict(consignees())
    return tuple(
        LooseLine(
            one.number, reverse("complaint", args=[one.number]), _said(one),
            _detail(one, here.get(one.hull or ""), through), str(one.number) in ticked,
        )
        for one in loose
    )  # fmt: skip


def _kinds(loose: Sequence[Complaint], chosen: str) -> tuple[OfKind, ...]:
    """The symptoms of these complaints, the commonest first."""
    counted = Counter(str(one.says["symptom"]) for one in loose)
    return tuple(
        OfKind(word(SYMPTOMS, kind), n, f"{reverse('cases')}?{urlencode({'kind': kind})}#loose", kind == chosen)
        for kind, n in counted.most_common()
    )


def _person(request: HttpRequest) -> SignedOn:
    person = current(request)
    if person is None:
        raise NotUnderstood
    return person


def _loose(every: Told) -> list[Complaint]:
    return [one for one in every.complaints.values() if one.open and one.case is None]


def _said(one: Complaint) -> str:
    says = one.says
    parts = (word(SYMPTOMS, says["symptom"]), says.get("spot"), says.get("product"), says.get("plate"))
    return ", ".join(str(part) for part in parts if part)


def _detail(one: Complaint, here: HullNow | None, through: Mapping[str, str]) -> str:
    """Its hull, when it was told and through whom, as far as each is known."""
    told_on, by = one.day("reported"), str(one.says.get("through") or "")
    parts = (
        " ".join(str(part) for part in (here.serial, here.about.get("colour")) if part) if here else "",
        _("told %(day)s") % {"day": day_said(told_on)} if told_on else "",
        _("through %(name)s") % {"name": through.get(by, by)} if by else "",
    )  # fmt: skip
    return " · ".join(part for part in parts if part)


def case(request: HttpRequest, number: int) -> HttpResponse:
    """Context: page (CasePage), paper_form. POST does what `do` says (sent.STEPS; scope and hold besides); `again` of
    the address asks a kept scope again."""
    error = ""
    if request.method == "POST":
        error = _done(request, number)
        if not error:
            return HttpResponseRedirect(reverse("case", args=[number]))
    page = _page(request, number, error)
    form = paper_form(request, "case", {"number": str(number)}, as_known_on(request))
    given = {"page": page, "paper_form": form}
    return render(request, "pages/case.html", given, status=409 if error else 200)


def _done(request: HttpRequest, number: int) -> str:
    """Why it was not done; "" when it was."""
    person, post = _person(request), request.POST
    if number > LARGEST:
        raise NotThere(what=_("There is no case %(number)s.") % {"number": number})
    do = post.get("do", "")
    if do == "scope":
        return _keep_scope(request, number, person)
    if do == "hold-scope":
        return _hold_scope(request, number, person)
    if do == "hold":
        return _lay_hold(request, number, person)
    if do not in sent.STEPS:
        raise NotUnderstood
    return send(request, sent.STEPS[do](number, post), person)[1]


def _keep_scope(request: HttpRequest, number: int, person: SignedOn) -> str:
    words = sent.cause_words(request.POST.get("cause", ""))
    try:
        answer = shared_by(read_cause(words))
    except (CauseError, LookupError) as error:
        return str(error)
    return send(request, sent.scoped(number, words, answer), person)[1]


def _lay_hold(request: HttpRequest, number: int, person: SignedOn) -> str:
    """The hold itself, as at its station, and then that it belongs to the case."""
    post = request.POST
    known = told().cases.get(number)
    if known is None or not known.open:
        return _("This case is not open: nothing was held.")
    laid, error = send(
        request,
        Hold(code=post.get("code", ""), rule=post.get("rule") or "quality", reason=post.get("reason", "")),
        person,
    )
    if error:
        return error
    then = By(
        person=person.person, station="complaints", device=device_of(request).id,
        scan_id=uuid5(UUID(post["scan_id"]), "hold of a case"),
    )  # fmt: skip
    [hold] = laid.made["holds"]
    answer = record(sent.held(number, hold, sent.cause_words(post.get("cause", ""))), then)
    return speak(f"{answer.what} {answer.why} {answer.now}") if answer.outcome == "refused" else ""


def _hold_scope(request: HttpRequest, number: int, person: SignedOn) -> str:
    """All that shares a suspect is held, as on the page of its question, and then that it belongs to the case."""
    known = told().cases.get(number)
    if known is None or not known.open:
        return _("This case is not open: nothing was held.")
    words = sent.cause_words(request.POST.get("cause", ""))
    answer = lay_scope(request, person, words)
    if answer.outcome == "refused":
        return speak(f"{answer.what} {answer.why} {answer.now}")
    hold = first_hold(words)
    if hold is None:
        return _("All that shares it is on hold; no hull in the plant is under it yet.")
    then = By(
        person=person.person, station="complaints", device=device_of(request).id,
        scan_id=uuid5(UUID(request.POST["scan_id"]), "hold of a case"),
    )  # fmt: skip
    answer = record(sent.held(number, hold, words), then)
    return speak(f"{answer.what} {answer.why} {answer.now}") if answer.outcome == "refused" else ""


def _page(request: HttpRequest, number: int, error: str) -> CasePage:
    asked = as_known_on(request)
    known_on, size = what_was_known(asked)
    every = told(asked)
    one = every.cases.get(number)
    if one is None:
        raise NotThere(what=_("There is no case %(number)s.") % {"number": number})
    person = _person(request)
    g = _gathered(one, every, person, asked)
    entries = [one.entry, *one.steps]
    may = allowed(person.roles, "case", "POST", {}, person.tasks) and asked is None
    return CasePage(
        number=number, name=g.words.text(one.entry.says.get("name")), state=_("open") if one.open else _("closed"),
        open=one.open, since=one.entry.happened, owner=g.known.person(one.entry.person), gaps=case_page.gaps(g),
        complaints=case_page.complaint_lines(g), plans=case_page.plans(g), times=case_page.times(g),
        common_url=case_page.common_url(g),
        suspects=case_page.suspects(g), scopes=case_page.scopes(g, request.path),
        again=case_page.again(g, request.GET["again"]) if "again" in request.GET else None,
        holds=case_page.holds(g), walks=looked_for.walked(one, asked, known_on), drills=looked_for.drilled(one, asked),
        now=asked is None, tests=case_page.tests(g),
        decisions=case_page.decisions(g), tellings=case_page.tellings(g), history=history(entries, g.known, {}),
        lots=case_page.lots_of(g) if may else (),
        laid_elsewhere=case_page.laid_elsewhere(g) if may else (),
        loose=tuple((free.number, _said(free)) for free in _loose(every)), consignees=consignees(),
        causes=_choices(CAUSES), ways=_choices(WAYS), stands=_choices(SUSPECT_STANDS),
        today=plant_now().calendar.day(timezone.now()).isoformat(), may=may, scan_id=str(uuid7()),
        as_known_on=known_on, records=grouped(size), caution=caution(),
        typed=request.POST.dict() if error else {}, error=error,
    )  # fmt: skip


def _choices(of: dict[str, str]) -> tuple[tuple[str, str], ...]:
    return tuple((code, _(said)) for code, said in of.items())


def _gathered(one: Case, every: Told, person: SignedOn, asked: datetime | None) -> case_page.Gathered:
    inside = every.inside(one.number)
    found = hulls(complaint.hull for complaint in inside)
    entries = [one.entry, *one.steps, *(complaint.entry for complaint in inside)]
    places = [here.place for here in found.values()]
    return case_page.Gathered(
        case=one, complaints=inside, hulls=found,
        known=known_of(entries, [here.about for here in found.values()], places=places, as_known_on=asked),
        words=notes(digests([one.entry, *one.steps])), asked=asked,
        person=person,
    )  # fmt: skip
