"""The page on which owners of hulls are registered: one with half a plate, or many out of a spreadsheet."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotAllowed, NotUnderstood
from plant.sign_on import SignedOn, current, device_of
from trace.codes import uuid7
from trace.genealogy.owners import USES, owners
from trace.lookup import look, plant_now
from trace.pages.asked import form_number
from trace.pages.finding import Wanted
from trace.pages.lists import FoundLine
from trace.pages.search import search_page
from trace.recording.acts.erasing import Erase
from trace.recording.acts.owners import OWNER_IS, WithdrawOwner
from trace.recording.commands import By, Command
from trace.recording.floor.owners import notes_of_owners
from trace.recording.floor.standing import Found
from trace.recording.record import record
from trace.sheets.addresses import hull_url
from trace.sheets.hulls.sheet import caution
from trace.sheets.owners.registering import COLUMNS, MOST_ROWS, Outcome, Row, pasted, register
from trace.sheets.owners.told import SEE_OWNERS, OwnerLine, owner_lines
from trace.speech import speak

OFFERED = 12


@dataclass(frozen=True, slots=True)
class OwnersPage:
    """Contract of templates/pages/owners.html. `hull`: the plate chosen, with its `owners`; `typed`: what the form was
    filled with; `refused`: the rows that were not kept, and `again` as text to be put right; `kept`: how many were."""

    asked: str
    searched: bool
    hint: str
    candidates: tuple[tuple[FoundLine, str], ...]
    more: int
    hull: str
    hull_words: str
    hull_url: str
    owners: tuple[OwnerLine, ...]
    uses: tuple[tuple[str, str], ...]
    kinds: tuple[tuple[str, str], ...]
    most_rows: int
    today: date
    may: bool
    may_erase: bool
    sees: bool
    scan_id: str
    caution: str
    typed: Mapping[str, str]
    kept: int = 0
    warned: tuple[Outcome, ...] = ()
    refused: tuple[Outcome, ...] = ()
    again: str = ""
    error: str = ""

    @property
    def owner_is(self) -> str:
        """What is chosen: where nothing was sent, the first purchaser while there is none."""
        return self.typed.get("owner_is") or ("later" if self.owners else "first")


def owners_page(request: HttpRequest) -> HttpResponse:
    """Context: page (OwnersPage). GET: `q` looks for a hull, `hull` chooses it. POST does what `do` says: register,
    paste, withdraw or erase."""
    if request.method == "POST":
        return _done(request)
    return _shown(request, _page(request, request.GET))


def _shown(request: HttpRequest, page: OwnersPage, status: int = 200) -> HttpResponse:
    return render(request, "pages/owners.html", {"page": page}, status=status)


def _page(request: HttpRequest, asked: Mapping[str, Any], **more: Any) -> OwnersPage:
    typed = {name: str(value)[:2000] for name, value in asked.items()}
    person, q = current(request), typed.get("q", "").strip()[:60]
    roles = person.roles if person else frozenset()
    found = search_page(Wanted(q))
    fits = [line for line in found.found if line.kind == _("hull")]
    hull = _hull(typed.get("hull", ""))
    chosen = hull.hull if hull else None
    at, plant = reverse("owners"), plant_now()
    may = person is not None and allowed(person.roles, "owners", "POST", {}, person.tasks)
    return OwnersPage(
        asked=q, searched=found.searched, hint=found.hint,
        candidates=tuple((one, f"{at}?{urlencode({'q': q, 'hull': one.name})}#owner") for one in fits[:OFFERED]),
        more=max(found.most, len(fits)) - min(len(fits), OFFERED),
        hull=hull.code if hull else "", hull_words=_words(hull) if hull else "",
        hull_url=hull_url(hull.code, None) if hull else "",
        owners=owner_lines(owners([chosen.id]).get(chosen.id, ()), roles) if chosen else (),
        uses=tuple((code, _(said)) for code, said in USES.items()),
        kinds=tuple((code, _(said)) for code, said in OWNER_IS.items()),
        most_rows=MOST_ROWS, today=plant.calendar.day(timezone.now()), may=may,
        may_erase=may and bool(roles & SEE_OWNERS), sees=bool(roles & SEE_OWNERS),
        scan_id=str(uuid7()), caution=caution(), typed=typed, **more,
    )  # fmt: skip


def _hull(code: str) -> Found | None:
    found = look([code], plant_now(), ("hull", "plate"))[code] if code.strip() else None
    return found if found and found.hull else None


def _words(found: Found) -> str:
    hull = found.hull
    if hull is None:
        return ""
    model = plant_now().product_of(hull.about).get("name") or hull.about.get("product")
    return ", ".join(str(part) for part in (model, hull.about.get("colour"), hull.status) if part)


def _done(request: HttpRequest) -> HttpResponse:
    person, post = current(request), request.POST
    if person is None:
        raise NotUnderstood
    match post.get("do", ""):
        case "register":
            row = Row(**{name: str(post.get(name, "")).strip() for name in COLUMNS if name != "plate"},
                      plate=str(post.get("hull", "")))
            return _registered(request, person, [row])
        case "paste":
            return _registered(request, person, pasted(str(post.get("table", ""))[:100_000]))
        case "withdraw":
            return _sent(request, person, WithdrawOwner(
                hull=str(post.get("hull", "")), registration=str(post.get("registration", ""))[:40],
                reason=str(post.get("reason", "")).strip(),
            ))  # fmt: skip
        case "erase":
            if not person.roles & SEE_OWNERS:
                raise NotAllowed
            hull = _hull(str(post.get("hull", "")))
            noted = notes_of_owners(hull.code) if hull else []
            return _sent(request, person, Erase(notes=tuple(noted), reason=str(post.get("reason", "")).strip()))
    raise NotUnderstood


def _registered(request: HttpRequest, person: SignedOn, rows: Sequence[Row]) -> HttpResponse:
    number = form_number(request.POST)
    if not rows or len(rows) > MOST_ROWS:
        many = _("These are more than %(n)d rows: send them in parts.") % {"n": MOST_ROWS}
        error = many if rows else _("There is no row in what was sent.")
        return _shown(request, _page(request, request.POST.dict(), error=error), 409)
    came = register(rows, person.person, device_of(request).id, number)
    refused = tuple(one for one in came if not one.kept)
    warned = tuple(one for one in came if one.kept and one.said)
    if len(rows) == 1 and not refused and not warned:
        return HttpResponseRedirect(f"{reverse('owners')}?{urlencode({'hull': came[0].hull})}#owner")
    page = _page(
        request, request.POST.dict() if refused else {"hull": came[0].hull} if len(rows) == 1 else {},
        kept=len(came) - len(refused), warned=warned, refused=refused,
        again="\n".join("\t".join(getattr(one.row, name) for name in COLUMNS) for one in refused)
        if request.POST.get("do") == "paste" else "",
    )  # fmt: skip
    return _shown(request, page, 409 if refused else 200)


def _sent(request: HttpRequest, person: SignedOn, command: Command) -> HttpResponse:
    by = By(person=person.person, station="owners", device=device_of(request).id, scan_id=form_number(request.POST))
    answer = record(command, by)
    if answer.outcome != "refused":
        return HttpResponseRedirect(f"{reverse('owners')}?{urlencode({'hull': request.POST.get('hull', '')})}#owner")
    error = speak(" ".join(part for part in (answer.what, answer.why, answer.now) if part))
    return _shown(request, _page(request, request.POST.dict(), error=error), 409)
