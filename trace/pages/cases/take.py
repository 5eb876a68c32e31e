"""A complaint is taken: what of the plate can be read, the hulls that fit, where on it, and what is wrong."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, BinaryIO, cast

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotUnderstood
from plant.sign_on import current, device_of
from trace.codes import uuid7
from trace.drawings import PlanPair
from trace.lookup import look, plant_now
from trace.pages.asked import form_number
from trace.pages.cases.sent import taken
from trace.pages.finding import Wanted
from trace.pages.lists import FoundLine
from trace.pages.search import search_page
from trace.photos.evidence import MOST_WAITING, keep_photo, settle
from trace.photos.photo import PhotoError
from trace.recording.acts.complaint_words import SYMPTOMS
from trace.recording.commands import By
from trace.recording.floor.standing import Found
from trace.recording.record import record
from trace.sheets.cases.spots import Spot, plan_to_point_at, spots
from trace.sheets.facts.notes import notes
from trace.sheets.hulls.sheet import caution

# So many hulls are offered: with more, another sign of the plate is quicker than looking through them.
OFFERED = 12
PLATE = ("q", "model", "colour", "month")


@dataclass(frozen=True, slots=True)
class Candidate:
    """A hull that fits what could be read; `url` takes the complaint for it."""

    line: FoundLine
    url: str


@dataclass(frozen=True, slots=True)
class TakePage:
    """Contract of templates/pages/complaint_take.html. `hull`: its plate, where one was chosen; `typed`: what the form
    was filled with, by name."""

    asked: str
    model: str
    colour: str
    month: str
    models: tuple[tuple[str, str], ...]
    colours: tuple[str, ...]
    searched: bool
    hint: str
    candidates: tuple[Candidate, ...]
    more: int
    hull: str
    hull_words: str
    without_url: str
    plan: PlanPair | None
    spots: tuple[Spot, ...]
    symptoms: tuple[tuple[str, str], ...]
    consignees: tuple[tuple[str, str], ...]
    symptom: str
    reported: str
    today: date
    most_photos: int
    scan_id: str
    caution: str
    typed: Mapping[str, str]
    troubles: tuple[str, ...] = ()


def take_complaint(request: HttpRequest) -> HttpResponse:
    """Context: page (TakePage). GET looks for the hull by what of its plate can be read, POST keeps the complaint, with
    or without its hull."""
    if request.method == "POST":
        return _keep(request)
    return render(request, "pages/complaint_take.html", {"page": _page(request.GET)})


def _page(asked: Mapping[str, Any], troubles: tuple[str, ...] = (), scan_id: str = "") -> TakePage:
    typed = {name: str(value)[:2000] for name, value in asked.items()}
    q, model, colour, month = (typed.get(name, "").strip()[:60] for name in PLATE)
    plant = plant_now()
    found = search_page(Wanted(q, model, colour, month))
    hull = _hull(typed.get("hull", ""))
    body = plant.product_of(hull.hull.about) if hull and hull.hull else plant.body("product", model)
    fits = [line for line in found.found if line.kind == _("hull")]
    here = {name: value for name, value in zip(PLATE, (q, model, colour, month), strict=True) if value}
    at, today = reverse("take_complaint"), plant.calendar.day(timezone.now())
    return TakePage(
        asked=q, model=model, colour=colour, month=month,
        models=found.models, colours=tuple(c for c, _words in found.colours),
        searched=found.searched, hint=found.hint,
        candidates=tuple(
            Candidate(line, f"{at}?{urlencode(here | {'hull': line.name})}#wrong") for line in fits[:OFFERED]
        ),
        more=max(found.most, len(fits)) - min(len(fits), OFFERED),
        hull=hull.code if hull else "",
        hull_words=_words(hull, body) if hull else "",
        without_url=f"{at}?{urlencode(here)}",
        plan=plan_to_point_at(body, str(body.get("name") or "")), spots=spots(body),
        symptoms=tuple((code, _(word)) for code, word in SYMPTOMS.items()),
        consignees=consignees(),
        symptom=typed.get("symptom", ""), reported=typed.get("reported") or today.isoformat(),
        today=today, most_photos=MOST_WAITING, scan_id=scan_id or str(uuid7()),
        caution=caution(), typed=typed, troubles=troubles,
    )  # fmt: skip


def consignees() -> tuple[tuple[str, str], ...]:
    """(key, name) of every consignee, by name."""
    things = plant_now().of_kind("consignee")
    named = notes([thing.body.get("name") for thing in things])
    found = [(thing.key, named.text(thing.body.get("name")) or thing.key) for thing in things if not thing.ended]
    return tuple(sorted(found, key=lambda one: one[1]))


def _hull(code: str) -> Found | None:
    """The hull of a plate; None for anything else."""
    if not code.strip():
        return None
    found = look([code], plant_now(), ("hull", "plate"))[code]
    return found if found.hull else None


def _words(found: Found, body: Mapping[str, Any]) -> str:
    hull = found.hull
    if hull is None:
        return ""
    said = [str(body.get("name") or hull.about.get("product") or ""), str(hull.about.get("colour") or "")]
    return ", ".join(part for part in (*said, hull.status or "") if part)


def _keep(request: HttpRequest) -> HttpResponse:
    person, post = current(request), request.POST
    if person is None:
        raise NotUnderstood
    scan_id = form_number(post)
    photos, troubles = _photos(request)
    if troubles:
        page = _page(post.dict(), tuple(troubles), str(scan_id))
        return render(request, "pages/complaint_take.html", {"page": page}, status=409)
    hull = _hull(post.get("hull", ""))
    command = taken(post, hull.code if hull else "", photos, plant_now().calendar.day(timezone.now()))
    answer = record(
        command,
        By(person=person.person, station="complaints", device=device_of(request).id, scan_id=scan_id, mode="tells"),
    )
    for photo in photos:
        settle(photo)
    [number] = answer.made["complaints"]
    reads = allowed(person.roles, "complaint", "GET", {}, person.tasks)
    return HttpResponseRedirect(reverse("complaint", args=[number]) if reads else reverse("home"))


def _photos(request: HttpRequest) -> tuple[list[str], list[str]]:
    """The pictures that were sent, kept; and what is wrong with those that are none."""
    kept, troubles = [], []
    for file in request.FILES.getlist("photos")[:MOST_WAITING]:
        try:
            kept.append(keep_photo(cast(BinaryIO, file), device_of(request).id))
        except PhotoError as error:
            troubles.append(f"{file.name or ''}: {error}")
    return kept, troubles
