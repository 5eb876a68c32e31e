"""One hold in force: who knows of it, screen by screen and person by person, and whom to phone about the others."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.access import allowed, role_words, roles_of
from plant.errors import NotThere
from plant.sign_on import current
from plant.stations import title_of
from trace.codes import storable
from trace.readmodels.plantdata import Directory
from trace.recording.acts import hold_words
from trace.recording.floor.hold_list import Held, Screen, in_force, phone, plant_and_number, reads, screens
from trace.sheets.hulls.sheet import caution
from trace.speech import names_of, spoken


@dataclass(frozen=True, slots=True)
class ScreenLine:
    """One screen: the station it was at last, who was signed on there, when; `phone`: who is told by telephone."""

    station: str
    who: str
    when: datetime
    phone: str = ""


@dataclass(frozen=True, slots=True)
class ReadLine:
    """Who has read the list that this hold is on, and where."""

    who: str
    station: str
    when: datetime


@dataclass(frozen=True, slots=True)
class KnownPage:
    """Contract of templates/pages/hold_known.html. `ways`: (words, address) of what is done about a hold."""

    title: str
    why: str
    who: str
    laid: datetime
    number: int
    newest: int
    know: tuple[ScreenLine, ...]
    not_yet: tuple[ScreenLine, ...]
    read: tuple[ReadLine, ...]
    ways: tuple[tuple[str, str], ...]
    caution: str


def hold_known(request: HttpRequest, key: str) -> HttpResponse:
    """Context: page (KnownPage). `key`: a hold's uid, or scope-N. Raises NotThere for one that is not in force."""
    plant, newest = plant_and_number()
    wanted = storable(key).replace("-", " ") if key.startswith("scope-") else key
    held = next((one for one in in_force(newest) if one.key == wanted), None)
    if held is None:
        raise NotThere(what=_("No hold in force is known by that."), why=_("It may have been ended."))
    there = screens(timezone.now())
    readers = {read.person: read for read in reads() if read.number >= held.record}
    people = names_of({held.person, *(screen.person for screen in there), *readers})
    why, name = spoken([hold_words.reason({"why": held.why, "rule": held.rule}), held.name])
    page = KnownPage(
        title=_("all that share %(cause)s") % {"cause": name} if held.kind == "scope" else name,
        why=why, who=people.get(held.person, ""), laid=held.laid, number=held.record, newest=newest,
        know=tuple(_line(one, people) for one in there if one.knows(held)),
        not_yet=tuple(_line(one, people, plant) for one in there if not one.knows(held)),
        read=tuple(ReadLine(people[one.person], title_of(one.station), one.when) for one in readers.values()),
        ways=tuple(_ways(request, held)), caution=caution(),
    )  # fmt: skip
    return render(request, "pages/hold_known.html", {"page": page})


def _line(screen: Screen, people: Mapping[str, str], plant: Directory | None = None) -> ScreenLine:
    who, place = people.get(screen.person, ""), title_of(screen.station)
    if plant is None:
        return ScreenLine(place, who, screen.got)
    return ScreenLine(place, who, screen.seen, whom_to_phone(screen, who, plant))


def whom_to_phone(screen: Screen, who: str, plant: Directory) -> str:
    """The person who was signed on there last, by the number of their role; else the role that answers for holds; else
    where to go."""
    own = [role for role in sorted(roles_of(plant.body("person", screen.person))) if phone(plant, [role])]
    if own:
        return f"{who}: {phone(plant, own)}"
    return phone(plant) or _("no number is set: go to %(station)s, or to the %(role)s") % {
        "station": title_of(screen.station), "role": role_words("lead"),
    }  # fmt: skip


def known_url(key: str) -> str:
    return reverse("hold_known", args=[key.replace(" ", "-")])


def _ways(request: HttpRequest, held: Held) -> list[tuple[str, str]]:
    """Its walk, its recall, a drill: those that whoever looks may open."""
    person = current(request)
    words = [("q", word) for word in held.name.split(" ")]
    asked = urlencode(words if held.kind == "scope" else [("hold", held.key)])
    ways = [
        ("containment", _("Find what it is on"), f"{reverse('containment')}?{asked}"),
        ("recall", _("Recall what has gone"), f"{reverse('recall')}?{asked}"),
        ("drill", _("Mock recall"), reverse("drill")),
    ]
    if held.kind == "scope":
        ways.append(("scope_holds", _("Its hulls, and how they are let go"), reverse("scope_holds")))
        ways.append(("scope", _("Who shares it today"), f"{reverse('scope')}?{asked}"))
    roles: Sequence[str] = sorted(person.roles) if person else ()
    return [(said, url) for name, said, url in ways if allowed(roles, name)]
