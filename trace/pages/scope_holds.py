"""Holds on a scope at the desk: laid over what shares a cause, asked again, let go hull by hull, ended."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import uuid5

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
from trace.genealogy.causes import Cause, CauseError, read_cause
from trace.genealogy.documents import in_unit
from trace.genealogy.live import id_array
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.sharing import Shared, shared_by
from trace.genealogy.walk import nodes
from trace.pages.asked import form_number
from trace.pages.lots_of_scope import LotHold, end_each, holds_of_lots, named_lots
from trace.readmodels.apply import GONE
from trace.recording.acts import act_words
from trace.recording.acts.holds import Hold
from trace.recording.acts.scope_holds import EndScopeHold, HoldScope, under
from trace.recording.answers import Answer
from trace.recording.asking_scopes import Asked, last_asked, spread
from trace.recording.commands import By
from trace.recording.floor.scopes_on_hold import LiveScope, laid_on, live_scopes, rule_of
from trace.recording.record import record
from trace.sheets.addresses import hull_url, scope_url
from trace.sheets.hulls.sheet import caution
from trace.speech import names_of, speak

# What is left of lots in their containers: a hold on hulls does not stop that.
IN_STOCK = """
SELECT l.uid::text, COALESCE(l.lot_no, l.uid::text), sum(s.balance)::bigint FROM unit l
  JOIN unit u ON u.about->>'lot' = l.uid::text AND u.kind = 'content' AND u.uom = 'mg'
  JOIN unit_state s ON s.unit = u.id AND s.balance > 0
 WHERE l.kind = 'lot' AND (l.id = ANY (%(lots)s::bigint[]) OR l.about->>'supplier' = ANY (%(suppliers)s::text[]))
 GROUP BY l.id ORDER BY l.id
"""
FIRST = "SELECT uid::text FROM hold WHERE rule = %(rule)s::text ORDER BY id LIMIT 1"


@dataclass(frozen=True, slots=True)
class Preview:
    """What a hold on this question would stop. `stock`: (uid, number, kg) of each lot asked about, by itself or by its
    supplier, that is in stock: a hold on hulls does not stop that, and one on the lot is laid with the same press."""

    certain: int
    may: int
    gone: int
    stock: tuple[tuple[str, str, str], ...]
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
    """One hold on a scope in force. `asked`: who shares it was asked last, None where that is under way or broke off;
    `asked_by`: the person, "" the worker, after what `because` says. `lots`: the holds of their own on its lots."""

    number: int
    title: str
    words: str
    url: str
    laid: datetime
    who: str
    hulls: tuple[Held, ...]
    asked: Asked | None
    asked_by: str
    because: str
    lots: tuple[LotHold, ...]


@dataclass(frozen=True, slots=True)
class Ended:
    """One that was just ended, and the holds on its lots that stay in force."""

    number: int
    title: str
    lots: tuple[LotHold, ...]


@dataclass(frozen=True, slots=True)
class ScopeHoldsPage:
    """Contract of templates/pages/scope_holds.html."""

    holds: tuple[ScopeHold, ...]
    may_end: bool
    scan_id: str
    error: str = ""
    caution: str = ""
    ended: Ended | None = None


def may_hold(person: SignedOn | None) -> bool:
    return person is not None and allowed(person.roles, "scope_holds", "POST", {}, person.tasks)


def preview(answer: Shared) -> Preview:
    """Of an answer as known now; where its hulls are was looked up."""
    sharing = [line for line in answer.lines if line.verdict != "cannot"]
    here = [line for line in sharing if not (line.place or "").startswith(GONE)]
    certain = sum(line.verdict == "certain" for line in here)
    return Preview(certain, len(here) - certain, len(sharing) - len(here), _in_stock(answer.cause), str(uuid7()))


def _in_stock(cause: Cause) -> tuple[tuple[str, str, str], ...]:
    """The lots that the cause names, and not those that it rules out."""
    lots, suppliers = named_lots(cause)
    if not lots and not suppliers:
        return ()
    rows = fetch_rows(IN_STOCK, {"lots": id_array(lots), "suppliers": suppliers})
    return tuple((uid, number, in_unit(amount, "mg") or "") for uid, number, amount in rows)


def scope_holds(request: HttpRequest) -> HttpResponse:
    """Context: page (ScopeHoldsPage). POST lays one (`q` for each word, `reason`), asks one again (`number`,
    `do` again), lets hulls go (`number`, `hull` for each, `reason`) or ends it (`number`, `do` end, `reason`, and
    `lot_hold` for each hold of its lots that ends with it). `ended`: the number of one that was ended."""
    person = current(request)
    if request.method != "POST":
        return _shown(request, person)
    if person is None:
        raise NotUnderstood
    if request.POST.get("do") == "end":
        return _end(request, person)
    words = [word for word in request.POST.getlist("q") if word.strip()]
    answer = lay_scope(request, person, words) if words else _change(request, person)
    if answer is not None and answer.outcome == "refused":
        error = speak(f"{answer.what} {answer.why} {answer.now}")
        return _shown(request, person, error=error)
    return HttpResponseRedirect(reverse("scope_holds"))


def lay_scope(request: HttpRequest, person: SignedOn, words: Sequence[str]) -> Answer:
    """Hold all that shares the cause, with the reason and the lots that the form names."""
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
        _lay_on_lots(request, person, shown)
        spread(max(scope.number for scope in live_scopes() if scope.words == tuple(words)), person.person)
    return answer


def first_hold(words: Sequence[str]) -> str | None:
    """The uid of the first hull's hold of the newest hold on this scope; it stands for all of them."""
    numbers = [scope.number for scope in live_scopes() if scope.words == tuple(words)]
    if not numbers:
        return None
    rows = fetch_rows(FIRST, {"rule": rule_of(max(numbers))})
    return str(rows[0][0]) if rows else None


def _lay_on_lots(request: HttpRequest, person: SignedOn, shown: Preview) -> None:
    """What was ticked of the lots in stock; each under an id that follows from the form's, so that twice is as once."""
    ticked, reason = set(request.POST.getlist("lot")), request.POST.get("reason", "").strip()[:500]
    for uid in (uid for uid, _number, _kg in shown.stock if uid in ticked):
        by = By(person=person.person, station="hold", scan_id=uuid5(form_number(request.POST), f"lot {uid}"))
        record(Hold(code=uid, rule="quality", reason=reason), by)


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 7 else 0


def _change(request: HttpRequest, person: SignedOn) -> Answer | None:
    number = _number(request.POST.get("number", ""))
    if request.POST.get("do") == "again":
        spread(number, person.person)
        return None
    hulls = tuple(request.POST.getlist("hull"))
    if not hulls:
        raise NotUnderstood(what=_("No hull was chosen."), why=_("Those that are ticked are let go."), now="")
    return _release(request, person, number, hulls)


def _release(request: HttpRequest, person: SignedOn, number: int, hulls: tuple[str, ...]) -> Answer:
    command = EndScopeHold(number=number, hulls=hulls, reason=_reason(request))
    return record(command, By(person=person.person, station="release", scan_id=form_number(request.POST)))


def _reason(request: HttpRequest) -> str:
    return request.POST.get("reason", "").strip()[:500]


def _end(request: HttpRequest, person: SignedOn) -> HttpResponse:
    """The hold is over, and with it those of its lots' own holds that were ticked; then what of them stays is said."""
    number = _number(request.POST.get("number", ""))
    answer = _release(request, person, number, ())
    if answer.outcome == "refused":
        return _shown(request, person, error=speak(f"{answer.what} {answer.why} {answer.now}"))
    cause = laid_on(number)
    refused = end_each(
        request.POST.getlist("lot_hold"), holds_of_lots(cause, person) if cause else (), person, _reason(request),
        form_number(request.POST),
    )  # fmt: skip
    if refused:
        return _shown(request, person, error=" ".join(refused), ended=number)
    return HttpResponseRedirect(f"{reverse('scope_holds')}?ended={number}")


def _ended(number: int, person: SignedOn | None) -> Ended | None:
    """None where it is in force, or was never laid."""
    cause = laid_on(number) if number and number not in {scope.number for scope in live_scopes()} else None
    return Ended(number, said_of(cause), holds_of_lots(cause, person)) if cause else None


def _shown(request: HttpRequest, person: SignedOn | None, *, error: str = "", ended: int = 0) -> HttpResponse:
    scopes = live_scopes()
    asked = last_asked([scope.number for scope in scopes])
    people = names_of({*(scope.person for scope in scopes), *(one.by for one in asked.values() if one.by)})
    page = ScopeHoldsPage(
        tuple(_hold(request, scope, people, asked.get(scope.number), person) for scope in reversed(scopes)),
        may_hold(person), str(uuid7()), error, caution(),
        _ended(ended or _number(request.GET.get("ended", "")), person),
    )  # fmt: skip
    return render(request, "pages/scope_holds.html", {"page": page}, status=409 if error else 200)


def _hold(
    request: HttpRequest, scope: LiveScope, people: Mapping[str, str], asked: Asked | None, person: SignedOn | None
) -> ScopeHold:
    uids = set(under(scope.number))
    with connection.cursor() as cursor:
        cursor.execute("SELECT id FROM unit WHERE uid::text = ANY (%s)", [sorted(uids)])
        found = nodes([unit for (unit,) in cursor.fetchall()])
    hulls = [
        Held(one.uid, one.said, hull_url(one.serial or "")) for one in sorted(found.values(), key=lambda one: one.said)
    ]
    return ScopeHold(
        scope.number, said_of(scope.cause), " ".join(scope.words), scope_url(request, scope.words), scope.laid,
        people.get(scope.person, ""), tuple(hulls), asked, people.get(asked.by, "") if asked else "",
        ", ".join(act_words(kind) for kind in asked.because) if asked else "",
        holds_of_lots(scope.cause, person),
    )  # fmt: skip

