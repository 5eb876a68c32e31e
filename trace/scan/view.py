"""The one view of all stations: a form comes, its scan is answered, the page is ready again.

Nothing is kept between two requests but the form itself: several tabs and several people do not meet.
"""

from dataclasses import replace

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.errors import NotThere
from plant.sign_on import device_of, keep_device
from trace import lookup
from trace.codes import uuid7
from trace.scan import people, posted
from trace.scan.answering import HAPPENED, LATE, Answering, Shows, person_here, see, still_refused
from trace.scan.page import Action, Field, StationPage
from trace.scan.sight import Sight, Slot, Station, open_slot
from trace.scan.stations import STATIONS
from trace.scan.stations.parts import DEFERRAL, off


def station(request: HttpRequest, slug: str) -> HttpResponse:
    """Context: page (trace.scan.page.StationPage). Posted: see there. Raises NotThere for an unknown station."""
    place = STATIONS.get(slug)
    if place is None:
        raise NotThere
    sight = Sight(lookup.plant_now(), timezone.now(), person=person_here(request))
    if request.method == "POST":
        answer = Answering(request, place, sight, posted.read(request)).answer()
    else:
        sight.held = posted.held_in(request.GET, device_of(request).id)
        if people.came_beside(request, sight.held):
            sight.person = person_here(request)
        see(place, sight)
        answer = Shows(still_refused(request, sight))
    response: HttpResponse
    if isinstance(answer, str):
        response = HttpResponseRedirect(answer)
    else:
        response = render(request, "scan/station.html", {"page": _page(request, place, sight, answer)})
    keep_device(request, response)
    return response


def _page(request: HttpRequest, place: Station, sight: Sight, shows: Shows) -> StationPage:
    fields = _filled(place, sight, shows.errors or {})
    shown = {name for f in fields for name in (f.name, f"{f.name}_how", f"{f.name}_words")}
    slot = open_slot(place, sight)
    then = place.next(sight)
    sentence = then.sentence if then else slot.ask if slot else _("Fill this in and send it")
    detail = then.detail if then else slot.detail if slot else ""
    refused = shows.verdict is not None and shows.verdict.outcome == "refused"
    return StationPage(
        slug=place.slug,
        title=str(place.title),
        next=str(sentence),
        detail=str(detail),
        scan_id=str(uuid7()),
        place=place.place(sight),
        people=people.names_here(request, people.helper_of(request, sight.text(people.HELPER))),
        caution=str(place.caution),
        deferral=str(DEFERRAL) if place.caution else "",
        plan_first=place.plan_first,
        focus=_focus(fields, slot, plan_first=place.plan_first, refused=refused),
        drawing=place.drawing(sight),
        rows=place.rows(sight),
        verdict=shows.verdict,
        said=shows.said or _helper_wanted(sight),
        fields=fields,
        actions=(*place.actions(sight), *_last_off(place, sight)),
        carried={name: value for name, value in sight.held.items() if name not in shown},
        refused_text=shows.refused_text,
        takes_code=place.takes_code,
        takes_photo=place.takes_code,
    )


def _last_off(place: Station, sight: Sight) -> tuple[Action, ...]:
    """What was scanned last into a slot that gathers several can be taken out again."""
    shown = {action.value for action in place.actions(sight)}
    last = [off(sight.codes(slot.name)[-1]) for slot in place.slots(sight) if slot.many and sight.codes(slot.name)]
    return tuple(action for action in last if action.value not in shown)


def _focus(fields: tuple[Field, ...], slot: Slot | None, *, plan_first: bool, refused: bool) -> str:
    """The first field to type into once every code is there, or that is wrong, or whose figure was refused; where the
    plan leads, more codes may come at any time."""
    boxes = [f for f in fields if f.kind not in ("choice", "reason", "checkbox", "photo", "hidden")]
    wrong = [f.name for f in boxes if f.error]
    empty = [f.name for f in boxes if f.required and not f.value] if slot is None and not plan_first else []
    figures = [f.name for f in boxes if f.kind in ("weight", "temperature")] if slot is None and refused else []
    return (wrong or empty or figures or [""])[0]


def _helper_wanted(sight: Sight) -> str:
    if sight.text(people.WANTS_HELPER):
        return _("A second person can scan their badge now, a trained one for work that is to be witnessed.")
    return ""


def _filled(place: Station, sight: Sight, errors: dict[str, str]) -> tuple[Field, ...]:
    fields = place.fields(sight)
    if sight.text(LATE):
        fields = (
            *fields,
            Field(HAPPENED, _("When it was done"), required=True, hint=_("date and time, as 2026-04-30 14:05")),
        )
    return tuple(
        replace(
            one,
            value=sight.held.get(one.name, one.value),
            words=sight.held.get(f"{one.name}_words", one.words),
            error=errors.get(one.name, one.error),
        )
        for one in fields
    )
