"""A thing scanned at home opens the station that it is for; where there are several, each is one button."""

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.sign_on import SignedOn, current
from trace import lookup
from trace.recording.floor.standing import Found
from trace.scan import posted
from trace.scan.sight import Sight, Slot, Station, open_slot
from trace.scan.stations import STATIONS


@dataclass(frozen=True, slots=True)
class Way:
    """One station that takes what was scanned."""

    title: str
    line: str
    url: str


@dataclass(frozen=True, slots=True)
class WherePage:
    """What was scanned and the stations that take it; `said` where there is none."""

    name: str
    ways: tuple[Way, ...] = ()
    said: str = ""


def where(request: HttpRequest) -> HttpResponse:
    """Asked: ?code=. Context: page (WherePage), or the one station's address."""
    code, person = posted.clean(request.GET.get("code", "")).strip(), current(request)
    if not code or person is None:
        return HttpResponseRedirect(reverse("home"))
    sight = Sight(lookup.plant_now(), timezone.now(), person=person.person)
    found = lookup.look([code], sight.plant, lookup.TYPED)[code]
    if found.thing is not None and found.thing.kind == "person":
        return HttpResponseRedirect(reverse("sign_in"))
    ways = [_way(place, slot, found) for place, slot in _best(sight, person, found)]
    if len(ways) == 1:
        return HttpResponseRedirect(ways[0].url)
    name, said = found.key or found.name, ""
    if not ways:
        said = _("None of your stations takes this.") if found.kinds else _("Nothing of this plant reads so.")
    return render(request, "scan/where.html", {"page": WherePage(name, tuple(ways), said)})


def _way(place: Station, slot: Slot, found: Found) -> Way:
    address = reverse("station", args=[place.slug])
    return Way(str(place.title), str(place.home.line), f"{address}?{urlencode({slot.name: found.code})}")


def _best(sight: Sight, person: SignedOn, found: Found) -> list[tuple[Station, Slot]]:
    """The stations that begin with such a thing, else those that take it later on."""
    every = list(_takers(sight, person, found)) if found.kinds and not found.dead else []
    return [one for one in every if open_slot(one[0], sight) == one[1]] or every


def _takers(sight: Sight, person: SignedOn, found: Found) -> Iterator[tuple[Station, Slot]]:
    for place in STATIONS.values():
        slot = next((slot for slot in place.slots(sight) if found.kinds & set(slot.kinds)), None)
        may = allowed(person.roles, "station", "POST", {"slug": place.slug}, person.tasks)
        if slot is not None and may and place.opens(sight, found):
            yield place, slot
