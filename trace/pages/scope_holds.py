"""Holds on a scope at the desk: laid over what shares a cause, asked again, let go hull by hull, ended."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import connection
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotThere, NotUnderstood
from plant.sign_on import SignedOn, current
from trace.codes import uuid7
from trace.genealogy.cause_said import said_of
from trace.genealogy.causes import CauseError, Holds, read_cause
from trace.genealogy.documents import in_unit
from trace.genealogy.find import find_unit
from trace.genealogy.sharing import Shared, shared_by
from trace.genealogy.walk import nodes
from trace.pages.asked import form_number
from trace.readmodels.apply import GONE
from trace.recording.acts.joining import LiveScope, live_scopes
from trace.recording.acts.scope_holds import AT_ONCE, EndScopeHold, HoldScope, SpreadScope, under
from trace.recording.answers import Answer
from trace.recording.commands import By
from trace.recording.record import record
from trace.sheets.addresses import hull_url, scope_url
from trace.sheets.hulls.sheet import caution
from trace.speech import names_of, speak

# What is left of a lot in its containers: a hold on hulls does not stop that.
IN_STOCK = """
SELECT COALESCE(sum(s.balance), 0) FROM unit u JOIN unit_state s ON s.unit = u.id JOIN unit l ON l.id = %(lot)s
 WHERE u.kind = 'content' AND u.uom = 'mg' AND s.balance > 0 AND (u.id = l.id OR u.about->>'lot' = l.uid::text)
"""


@dataclass(frozen=True, slots=True)
class Preview:
    """What a hold on this question would stop. `stock`: (code, kg) of the materials asked about that are in stock."""

    certain: int
    may: int
    gone: int
    stock: tuple[tuple[str, str], ...]
    scan_id: str

    @property
    def here(self) -> int:
        return self.certain + self.may


@dataclass(frozen=True, slots=True)
class Held:
    """One hull under a hold."""

    uid: str
    code: str
    url: str


@dataclass(frozen=True, slots=True)
class ScopeHold:
    """One hold on a scope in force."""

    number: int
    title: str
    words: str
    url: str
    laid: datetime
    who: str
    hulls: tuple[Held, ...]


@dataclass(frozen=True, slots=True)
class ScopeHoldsPage:
    """Contract of templates/pages/scope_holds.html."""

    holds: tuple[ScopeHold, ...]
    may_end: bool
    scan_id: str
    error: str = ""
    caution: str = ""


def may_hold(person: SignedOn | None) -> bool:
    return person is not None and allowed(person.roles, "scope_holds", "POST", {}, person.tasks)


def preview(answer: Shared) -> Preview:
    """Of an answer as known now; where its hulls are was looked up."""
    sharing = [line for line in answer.lines if line.verdict != "cannot"]
    here = [line for line in sharing if not (line.place or "").startswith(GONE)]
    stock = [
        (part.code, in_unit(amount, "mg") or "")
        for part in answer.parts
        if isinstance(part, Holds) and (amount := _in_stock(part.code))
    ]
    certain = sum(line.verdict == "certain" for line in here)
    return Preview(certain, len(here) - certain, len(sharing) - len(here), tuple(stock), str(uuid7()))


def _in_stock(code: str) -> int:
    with connection.cursor() as cursor:
        cursor.execute(IN_STOCK, {"lot": find_unit(code)})
        return int(cursor.fetchone()[0])


def scope_holds(request: HttpRequest) -> HttpResponse:
    """Context: page (ScopeHoldsPage). POST lays one (`q` for each word, `reason`), asks one again (`number`,
    `do` again), lets hulls go (`number`, `hull` for each, `reason`) or ends it (`number`, `do` end, `reason`)."""
    person = current(request)
    if request.method != "POST":
        return _shown(request, person)
    if person is None:
        raise NotUnderstood
    words = [word for word in request.POST.getlist("q") if word.strip()]
    answer = _lay(request, person, words) if words else _change(request, person)
    if answer is not None and answer.outcome == "refused":
        error = speak(f"{answer.what} {answer.why} {answer.now}")
        return _shown(request, person, error=error)
    return HttpResponseRedirect(reverse("scope_holds"))


def _lay(request: HttpRequest, person: SignedOn, words: Sequence[str]) -> Answer:
    try:
        known = shared_by(read_cause(words))
    except CauseError as error:
        raise NotUnderstood(what=str(error), why=_("A hold is laid on what shares a cause."), now="") from None
    except LookupError as nothing:
        raise NotThere(what=str(nothing), why=_("A hold is laid on what the records know.")) from None
    shown = preview(known)
    answer = record(
        HoldScope(
            cause=tuple(words), certain=shown.certain, may=shown.may, gone=shown.gone,
            reason=request.POST.get("reason", "").strip()[:500],
        ),
        By(person=person.person, station="hold", scan_id=form_number(request.POST)),
    )  # fmt: skip
    if answer.outcome != "refused":
        spread(max(scope.number for scope in live_scopes() if scope.words == tuple(words)), person.person)
    return answer


def spread(number: int, person: str) -> int:
    """Hold every hull that shares the scope as all is known now, a slice at a time; how many share it."""
    scope = next((one for one in live_scopes() if one.number == number), None)
    if scope is None:
        return 0
    answer = shared_by(scope.cause)
    hulls = [line.made.uid for line in answer.lines if line.verdict != "cannot"]
    for at in range(0, len(hulls), AT_ONCE):
        command = SpreadScope(number=number, hulls=tuple(hulls[at : at + AT_ONCE]))
        record(command, By(person=person, station="hold", scan_id=uuid7()))
    return len(hulls)


def _change(request: HttpRequest, person: SignedOn) -> Answer | None:
    text = request.POST.get("number", "")
    number = int(text) if text.isascii() and text.isdecimal() and len(text) < 7 else 0
    if request.POST.get("do") == "again":
        spread(number, person.person)
        return None
    hulls = tuple(request.POST.getlist("hull"))
    if request.POST.get("do") != "end" and not hulls:
        raise NotUnderstood(what=_("No hull was chosen."), why=_("Those that are ticked are let go."), now="")
    reason = request.POST.get("reason", "").strip()[:500]
    command = EndScopeHold(
        number=number, hulls=() if request.POST.get("do") == "end" else hulls, reason=reason
    )
    return record(command, By(person=person.person, station="release", scan_id=form_number(request.POST)))


def _shown(request: HttpRequest, person: SignedOn | None, *, error: str = "") -> HttpResponse:
    scopes = live_scopes()
    people = names_of(scope.person for scope in scopes)
    page = ScopeHoldsPage(
        tuple(_hold(request, scope, people.get(scope.person, "")) for scope in reversed(scopes)),
        may_hold(person), str(uuid7()), error, caution(),
    )  # fmt: skip
    return render(request, "pages/scope_holds.html", {"page": page}, status=409 if error else 200)


def _hold(request: HttpRequest, scope: LiveScope, who: str) -> ScopeHold:
    uids = set(under(scope.number))
    with connection.cursor() as cursor:
        cursor.execute("SELECT id FROM unit WHERE uid::text = ANY (%s)", [sorted(uids)])
        found = nodes([unit for (unit,) in cursor.fetchall()])
    hulls = [
        Held(one.uid, one.said, hull_url(one.serial or "")) for one in sorted(found.values(), key=lambda one: one.said)
    ]
    return ScopeHold(
        scope.number, said_of(scope.cause), " ".join(scope.words), scope_url(request, scope.words), scope.laid, who,
        tuple(hulls),
    )  # fmt: skip

