"""The page of recalls: one that was begun, one that could be, or all; its letters and the replies to them."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotThere, NotUnderstood
from plant.sign_on import SignedOn, current
from trace.codes import uuid7
from trace.codes.recall_notice import FIELDS
from trace.genealogy.recall import OUTCOMES, Recall, day_after, recalls
from trace.lookup import plant_now
from trace.pages.asked import as_known_on, form_number
from trace.pages.recalls.checklist import ticks
from trace.pages.recalls.contract import Effect, RecallLine, RecallPage, ToConsignee
from trace.pages.recalls.notice import begins_with, boxes, command_of, remedy_ticks
from trace.pages.recalls.picture import pictures
from trace.pages.recalls.state import (
    State,
    as_file,
    consignees,
    effect,
    gaps,
    outcome_words,
    recall_url,
    state,
    state_of,
)
from trace.pages.sought import Asked, address, asked_for, hold_said, said, uid_of
from trace.recording.acts.recalls import FIELD_WORDS, ReplyToRecall, faults_of
from trace.recording.commands import By
from trace.recording.record import record
from trace.sheets.facts.notes import notes
from trace.sheets.hulls.sheet import caution
from trace.speech import names_of, speak

PAGE, LETTERS = "pages/recall.html", "pages/recall_letters.html"
DAYS_TO_TELL, DAYS_TO_FOLLOW = 30, 60  # 33 CFR 179.05 and 179.15


def recall(request: HttpRequest) -> HttpResponse:
    """Context: page (RecallPage). `recall`: the uid of one, with `consignee` for its reply sheet, with `letters` to
    print, with `file`; `hold`, or `q` for each word of a cause: what one could be begun for, or was.

    POST begins one (the same names and those of the notice), or records a reply (`recall`, `consignee`); `scan_id`.
    """
    person = current(request)
    if request.method == "POST":
        return _send(request, person)
    uid = request.GET.get("recall", "").strip()
    if not uid:
        asked = asked_for(request)
        return render(request, PAGE, {"page": _before(asked, may=_may(person))})
    known = as_known_on(request)
    begun = _begun(uid, known)
    found = state_of(begun, known)
    page = _page(request, begun, found, may=_may(person))
    if request.GET.get("file") == "csv":
        return as_file(page.consignees)
    if request.GET.get("letters"):
        return render(request, LETTERS, {"page": _letters(page, request.GET.get("consignee", ""))})
    return render(request, PAGE, {"page": page})


def _begun(uid: str, known: datetime | None = None) -> Recall:
    found = next(iter(recalls(known, uid_of(uid))), None)
    if found is None:
        raise NotThere(what=_("No such recall was begun."))
    return found


def _may(person: SignedOn | None) -> bool:
    return person is not None and allowed(person.roles, "recall", "POST", {}, person.tasks)


# What is not begun yet.


def _before(asked: Asked | None, *, may: bool) -> RecallPage:
    """The recalls there are, of what is asked for alone where something is; and the form of a new one."""
    found = recalls()
    if asked is None:
        return RecallPage(recalls=_lines(found), caution=caution())
    found = [one for one in found if (one.hold, one.question) == (asked.hold, asked.words)]
    now = state(asked.hulls)
    to = consignees(now)
    how = effect(now)
    return RecallPage(
        recalls=_lines(found), asked=asked, title=asked.title, gaps=tuple(gaps(now)), consignees=to,
        effect=how, boxes=boxes(begins_with(asked, to)) if may else (), remedies=remedy_ticks(()),
        ticks=ticks((), _figures(how, None, to)), may_send=may and bool(asked.hulls) and not asked.over,
        scan_id=str(uuid7()), caution=caution(), walk_url=address("containment", hold=asked.hold, words=asked.words),
    )  # fmt: skip


def _lines(found: list[Recall]) -> tuple[RecallLine, ...]:
    people = names_of(one.person for one in found)
    return tuple(RecallLine(title_of(one), recall_url(one.uid), one.begun, people.get(one.person, "")) for one in found)


def title_of(one: Recall) -> str:
    """What is recalled, after “hulls”."""
    return hold_said(one.hold)[0] if one.hold else said(one.question)


def _figures(how: Effect, begun: Recall | None, to: Sequence[ToConsignee]) -> dict[str, str]:
    """What the records say to the items of the checklist."""
    unregistered = sum(one.unregistered for one in to)
    tell = day_after(begun.discovered, DAYS_TO_TELL) if begun else None
    day = f"{timezone.localtime(begun.begun):%Y-%m-%d}" if begun else ""
    follow = day_after(day, DAYS_TO_FOLLOW)
    return {
        "30 days": _("by %(day)s") % {"day": tell} if tell else "",
        "60 days": _("by %(day)s") % {"day": follow} if follow else "",
        "estimate": str(how.listed),
        "found": str(how.found + how.outcomes.get("corrected", 0) + how.outcomes.get("destroyed", 0)) if begun else "",
        "done": str(how.outcomes.get("corrected", 0)) if begun else "",
        "not reached": _("%(n)d of those that have gone are not registered") % {"n": unregistered},
    }


# What was begun.


def _page(request: HttpRequest, begun: Recall, found: State, *, may: bool) -> RecallPage:
    texts = notes(begun.notice.values())
    how = effect(found)
    to = consignees(found, begun)
    key = request.GET.get("consignee", "")
    reply = next((one for one in to if one.key == key), None) if key and not request.GET.get("letters") else None
    notice = tuple(
        (_(FIELD_WORDS[name]), texts.text(begun.notice[name])) for name in FIELDS[1:] if begun.notice[name]
    )
    return RecallPage(
        recall=begun, title=title_of(begun), who=found.words.person(begun.person),
        as_known_on=found.as_known_on or timezone.now(), gaps=tuple(gaps(found, to)), consignees=to,
        unreached=tuple(one.name for one in to if one.unreached), effect=how, notice=notice,
        pictures=pictures(found.hulls, begun.hold, begun.question, found.as_known_on),
        headline=texts.text(begun.notice["headline"]), remedies=remedy_ticks(begun.remedies),
        ticks=ticks(begun.checked, _figures(how, begun, to)), discovered=begun.discovered,
        due=day_after(begun.discovered, DAYS_TO_TELL), outcomes=tuple(outcome_words().items()), reply=reply,
        may_send=may, scan_id=str(uuid7()), letters_url=recall_url(begun.uid, letters="yes"),
        csv_url=recall_url(begun.uid, file="csv"),
        walk_url=address("containment", hold=begun.hold, words=begun.question),
        plant=str(plant_now().setting("plant-name", "") or texts.text(begun.notice["brand"])),
        day=f"{timezone.localdate():%Y-%m-%d}", caution=caution(),
    )  # fmt: skip


def _letters(page: RecallPage, key: str) -> RecallPage:
    """The letters to all consignees, or to one of them."""
    to = tuple(one for one in page.consignees if key in ("", one.key))
    if not to:
        raise NotThere(what=_("No hull of this recall went there."))
    return replace(page, consignees=to)


# What is sent.


def _send(request: HttpRequest, person: SignedOn | None) -> HttpResponse:
    if person is None:
        raise NotUnderstood
    if request.POST.get("recall", "").strip():
        return _send_reply(request, person)
    asked = asked_for(request)
    if asked is None:
        raise NotUnderstood
    command = command_of(asked, request.POST)
    answer = record(command, By(person=person.person, station="recall", scan_id=form_number(request.POST)))
    if answer.outcome != "refused":
        newest = next(one for one in recalls() if one.person == person.person)
        return HttpResponseRedirect(recall_url(newest.uid))
    page = _before(asked, may=True)
    faults = tuple(faults_of(command)) if answer.code == "NOTICE-FAULTY" else ()
    page = replace(
        page, boxes=boxes({name: str(getattr(command, name)) for name in FIELDS}), discovered=command.discovered,
        remedies=remedy_ticks(command.remedies), faults=faults,
        ticks=ticks(command.checked, _figures(page.effect, None, page.consignees)) if page.effect else (),
        error=speak(f"{answer.what} {answer.now}" if faults else f"{answer.what} {answer.why} {answer.now}"),
    )  # fmt: skip
    return render(request, PAGE, {"page": page}, status=409)


def _send_reply(request: HttpRequest, person: SignedOn) -> HttpResponse:
    sent = request.POST
    begun = _begun(sent["recall"])
    results = {name.removeprefix("hull "): str(sent[name]) for name in list(sent) if name.startswith("hull ")}
    results = {plate: outcome for plate, outcome in results.items() if outcome}
    counts = {outcome: sent.get(f"count {outcome}", "").strip()[:8] for outcome in OUTCOMES}
    command = ReplyToRecall(
        recall=begun.uid, consignee=sent.get("consignee", "").strip()[:60], results=dict(list(results.items())[:5000]),
        counts={outcome: n for outcome, n in counts.items() if n}, day=sent.get("day", "").strip()[:10],
        contact=sent.get("contact", "").strip()[:500], remark=sent.get("remark", "").strip()[:2000],
    )  # fmt: skip
    answer = record(command, By(person=person.person, station="recall", scan_id=form_number(request.POST)))
    if answer.outcome != "refused":
        return HttpResponseRedirect(recall_url(begun.uid))
    page = _page(request, begun, state_of(begun), may=True)
    reply = next((one for one in page.consignees if one.key == command.consignee), None)
    page = replace(
        page, reply=_as_sent(reply, results), error=speak(f"{answer.what} {answer.why} {answer.now}"),
        answers={f"count {name}": n for name, n in counts.items()} | {"contact": command.contact},
        day=command.day or f"{timezone.localdate():%Y-%m-%d}",
    )  # fmt: skip
    return render(request, PAGE, {"page": page}, status=409)


def _as_sent(reply: ToConsignee | None, results: dict[str, str]) -> ToConsignee | None:
    """The sheet as it was filled in."""
    if reply is None:
        return None
    hulls = tuple(replace(hull, outcome=results.get(hull.code, hull.outcome)) for hull in reply.hulls)
    return replace(reply, hulls=hulls)
