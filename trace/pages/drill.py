"""Mock recalls at the desk: a clock, the lot forward, the hull back, what is reconciled, and the result signed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotThere, NotUnderstood
from plant.sign_on import SignedOn, current
from trace.codes import printed, uuid7
from trace.genealogy.answer import TooWideError
from trace.genealogy.drill import WAYS, Drill, drawn_by_lot, drills
from trace.pages.asked import form_number
from trace.pages.papers import paper_form
from trace.pages.sought import uid_of
from trace.recording.acts.drills import BeginDrill, MarkDrill, SignDrill, outcome_of
from trace.recording.commands import By, Command
from trace.recording.record import record
from trace.sheets.addresses import hull_url, lot_url
from trace.sheets.drills import Figure, figures, last_before, same_as_signed, unaccounted
from trace.sheets.facts.notes import notes
from trace.sheets.hulls.sheet import caution
from trace.speech import names_of, speak


@dataclass(frozen=True, slots=True)
class Way:
    """One direction: its page as known when the drill began, and after how many minutes its answer was in hand."""

    way: str
    said: str
    url: str
    minutes: int | None


@dataclass(frozen=True, slots=True)
class DrillLine:
    """One drill in the list of drills."""

    title: str
    url: str
    begun: datetime
    who: str
    minutes: int | None
    reconciled: str


@dataclass(frozen=True, slots=True)
class DrillPage:
    """Contract of templates/pages/drill.html; `drill` is None on the list. `same`: whether the records still give what
    was signed, None while nothing was."""

    drills: tuple[DrillLine, ...] = ()
    drill: Drill | None = None
    lot: str = ""
    hull: str = ""
    who: str = ""
    signed_by: str = ""
    remark: str = ""
    now: datetime | None = None
    minutes: int | None = None
    ways: tuple[Way, ...] = ()
    figures: tuple[Figure, ...] = ()
    unaccounted: tuple[str, ...] = ()
    same: bool | None = None
    digest: str = ""
    last_url: str = ""
    walk_url: str = ""
    balance_url: str = ""
    marked: bool = False
    may_send: bool = False


def drill(request: HttpRequest) -> HttpResponse:
    """Context: page (DrillPage). `drill`: the uid of one; `lot` and `hull`, or `draw`: what one could be begun for.

    POST begins one (`lot`, `hull`), marks a direction (`drill`, `way`) or signs (`drill`, `remark`); `scan_id`.
    """
    person = current(request)
    if request.method == "POST":
        return _send(request, person)
    uid = request.GET.get("drill", "").strip()
    if not uid:
        lot, hull = (request.GET.get(name, "").strip()[:100] for name in ("lot", "hull"))
        if request.GET.get("draw"):
            lot, hull = drawn_by_lot()
        return _shown(request, DrillPage(drills=drill_lines(drills()), lot=lot, hull=hull, may_send=_may(person)))
    return _shown(request, _page(_begun(uid), may=_may(person)))


def _begun(uid: str) -> Drill:
    found = next(iter(drills(uid=uid_of(uid))), None)
    if found is None:
        raise NotThere(what=_("No such drill was begun."))
    return found


def _may(person: SignedOn | None) -> bool:
    return person is not None and allowed(person.roles, "drill", "POST", {}, person.tasks)


def _shown(request: HttpRequest, page: DrillPage, error: str = "") -> HttpResponse:
    given = {"page": page, "error": error, "scan_id": str(uuid7()), "caution": caution()}
    if page.drill:
        given["paper_form"] = paper_form(request, "drill", {"drill": page.drill.uid}, None)
    return render(request, "pages/drill.html", given, status=409 if error else 200)


def drill_url(drill: str) -> str:
    return f"{reverse('drill')}?{urlencode({'drill': drill})}"


def drill_lines(found: Sequence[Drill]) -> tuple[DrillLine, ...]:
    """Drills as a list shows them."""
    people = names_of(one.person for one in found)
    return tuple(
        DrillLine(
            _("lot %(lot)s forward, hull %(hull)s back") % {"lot": one.lot, "hull": printed(one.hull)},
            drill_url(one.uid), one.begun, people.get(one.person, ""), one.minutes(one.signed),
            one.result.get("reconciled", ""),
        )
        for one in found
    )  # fmt: skip


def _page(one: Drill, *, may: bool) -> DrillPage:
    found = outcome_of(one)
    last = last_before(one, drills())
    people = names_of({one.person, one.signed_by} - {""})
    now = timezone.now()
    signed = one.signed is not None
    return DrillPage(
        drill=one, lot=one.lot, hull=printed(one.hull), who=people.get(one.person, ""),
        signed_by=people.get(one.signed_by, ""), remark=notes([one.remark]).text(one.remark) if one.remark else "",
        now=now, minutes=one.minutes(one.signed or now), ways=_ways(one),
        figures=tuple(figures(found, one, last)),
        unaccounted=tuple(f"{which}: {what}" for which, what in unaccounted(one, found)),
        same=same_as_signed(one, found),
        digest=found.said["digest"], last_url=drill_url(last.uid) if last else "",
        walk_url=f"{reverse('containment')}?{urlencode({'q': f'holds={one.lot}'})}",
        balance_url=_then("balance", one.lot, one.begun), marked=set(WAYS) <= one.marks.keys(),
        may_send=may and not signed,
    )  # fmt: skip


def _then(name: str, code: str, moment: datetime) -> str:
    return f"{reverse(name, args=[code])}?{urlencode({'as_known_on': moment.isoformat()})}"


def _ways(one: Drill) -> tuple[Way, ...]:
    return (
        Way("forward", _("every hull that lot %(lot)s went into") % {"lot": one.lot}, lot_url(one.lot, one.begun),
            one.minutes(one.marks.get("forward"))),
        Way("back", _("every lot that went into hull %(hull)s") % {"hull": printed(one.hull)},
            hull_url(one.hull, one.begun), one.minutes(one.marks.get("back"))),
    )  # fmt: skip


def _send(request: HttpRequest, person: SignedOn | None) -> HttpResponse:
    if person is None:
        raise NotUnderstood
    sent = request.POST
    uid, way = sent.get("drill", "").strip(), sent.get("way", "").strip()[:20]
    command: Command
    if not uid:
        command = BeginDrill(lot=sent.get("lot", "").strip()[:100], hull=sent.get("hull", "").strip()[:100])
    elif way:
        command = MarkDrill(drill=uid_of(uid), way=way)
    else:
        found = outcome_of(_begun(uid))
        command = SignDrill(
            drill=uid_of(uid), result=dict(found.said), unaccounted=found.unaccounted,
            remark=sent.get("remark", "").strip()[:2000],
        )  # fmt: skip
    try:
        answer = record(command, By(person=person.person, station="drill", scan_id=form_number(request.POST)))
    except TooWideError as wide:
        raise NotUnderstood(what=str(wide)) from None
    if answer.outcome == "refused":
        error = speak(f"{answer.what} {answer.why} {answer.now}")
        page = _page(_begun(uid), may=True) if uid else DrillPage(
            drills=drill_lines(drills()), lot=sent.get("lot", "")[:100], hull=sent.get("hull", "")[:100], may_send=True
        )  # fmt: skip
        return _shown(request, page, error)
    return HttpResponseRedirect(drill_url(uid or next(one.uid for one in drills() if one.person == person.person)))

