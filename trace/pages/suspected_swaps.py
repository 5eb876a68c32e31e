"""The page of plates that seem to stand on each other's mouldings, by what inspections saw and weighed."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode

from plant.access import allowed
from plant.sign_on import current
from trace.pages.swap_words import kilograms, likely, odds
from trace.quality.plates_seen import LOOKED_AT, Bound, bound, suspected
from trace.quality.swapped import Exchange
from trace.sheets.addresses import hull_url
from trace.speech import names_of


@dataclass(frozen=True, slots=True)
class PlateLine:
    """One plate: what the records give its hull, and what was seen; `seen` and `weighed` are "" where nobody said,
    `charged` where the records do not say all of it."""

    plate: str
    url: str
    mouldings: str
    bound: datetime
    bound_by: str
    recorded: str
    seen: str
    seen_at: datetime | None
    seen_by: str
    weighed: str
    charged: str


@dataclass(frozen=True, slots=True)
class Suspected:
    """Two plates; how likely it is in words, and as odds to one; the station that exchanges them."""

    plates: tuple[PlateLine, PlateLine]
    likely: str
    odds: str
    exchange_url: str


@dataclass(frozen=True, slots=True)
class SwapsPage:
    """Contract of templates/pages/suspected_swaps.html. `alone`: seen in another colour, and no plate beside it fits;
    `looked_at` plates bound last, of which `seen` have a colour and `weighed` a mass; `most`: no more are looked at.
    list_url: the list where it is said what came of them."""

    suspected: tuple[Suspected, ...]
    alone: tuple[PlateLine, ...]
    looked_at: int
    seen: int
    weighed: int
    most: int
    may_exchange: bool
    list_url: str


def suspected_swaps(request: HttpRequest) -> HttpResponse:
    """Context: page (SwapsPage)."""
    plates = bound()
    at = {one.plate: one for one in plates}
    pairs = suspected(plates)
    paired = {plate for pair in pairs for plate in (pair.one, pair.other)}
    alone = [one for one in plates if one.other and one.plate not in paired]
    shown = [*alone, *(at[plate] for plate in paired)]
    names = names_of({person for one in shown for person in (one.bound_by, one.seen_by) if person})
    person = current(request)
    page = SwapsPage(
        tuple(_suspected(pair, at, names) for pair in pairs),
        tuple(_line(one, names) for one in alone),
        len(plates), sum(bool(one.seen) for one in plates), sum(one.weighed is not None for one in plates), LOOKED_AT,
        person is not None and allowed(person.roles, "station", "GET", {"slug": "plates"}, person.tasks),
        reverse("open_list", args=["swaps"]),
    )  # fmt: skip
    return render(request, "pages/suspected_swaps.html", {"page": page})


def _suspected(pair: Exchange, at: Mapping[str, Bound], names: Mapping[str, str]) -> Suspected:
    asked = urlencode({"task": "swap", "first": pair.one, "second": pair.other})
    return Suspected(
        (_line(at[pair.one], names), _line(at[pair.other], names)), likely(pair), odds(pair),
        f"{reverse('station', args=['plates'])}?{asked}",
    )  # fmt: skip


def _line(one: Bound, names: Mapping[str, str]) -> PlateLine:
    return PlateLine(
        one.plate, hull_url(one.plate), one.mouldings, one.bound, names.get(one.bound_by, ""), one.recorded, one.seen,
        one.seen_at, names.get(one.seen_by, ""), kilograms(one.weighed),
        "" if one.charged is None else f"{one.charged:.2f}",
    )  # fmt: skip
