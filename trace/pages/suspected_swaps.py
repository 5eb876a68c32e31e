"""The page of plates that seem to stand on each other's mouldings, by the colours that inspections saw."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.sign_on import current
from trace.quality.plates_seen import LOOKED_AT, Bound, bound
from trace.quality.swapped import Exchange, exchanged
from trace.sheets.addresses import hull_url
from trace.speech import names_of

# Odds above this take two hulls, each seen as the other.
BOTH_SEEN = 1000


@dataclass(frozen=True, slots=True)
class PlateLine:
    """One plate: what the records give its hull, and what was seen; `seen` is "" where nobody said."""

    plate: str
    url: str
    mouldings: str
    bound: datetime
    bound_by: str
    recorded: str
    seen: str
    seen_at: datetime | None
    seen_by: str


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
    `looked_at` plates bound last, of which `seen` have a colour; `most`: no more are looked at."""

    suspected: tuple[Suspected, ...]
    alone: tuple[PlateLine, ...]
    looked_at: int
    seen: int
    most: int
    may_exchange: bool


def suspected_swaps(request: HttpRequest) -> HttpResponse:
    """Context: page (SwapsPage)."""
    plates = bound()
    at = {one.plate: one for one in plates}
    pairs = exchanged([one.binding for one in plates])
    paired = {plate for pair in pairs for plate in (pair.one, pair.other)}
    alone = [one for one in plates if one.other and one.plate not in paired]
    shown = [*alone, *(at[plate] for plate in paired)]
    names = names_of({person for one in shown for person in (one.bound_by, one.seen_by) if person})
    person = current(request)
    page = SwapsPage(
        tuple(_suspected(pair, at, names) for pair in pairs),
        tuple(_line(one, names) for one in alone),
        len(plates), sum(bool(one.seen) for one in plates), LOOKED_AT,
        person is not None and allowed(person.roles, "station", "GET", {"slug": "plates"}, person.tasks),
    )  # fmt: skip
    return render(request, "pages/suspected_swaps.html", {"page": page})


def _suspected(pair: Exchange, at: Mapping[str, Bound], names: Mapping[str, str]) -> Suspected:
    both = pair.odds > BOTH_SEEN
    likely = (
        _("Very likely: each hull was seen in the other's colour.") if both
        else _("Likely: one hull was seen in the other's colour; nothing seen speaks against it.")
    )  # fmt: skip
    asked = urlencode({"task": "swap", "first": pair.one, "second": pair.other})
    return Suspected(
        (_line(at[pair.one], names), _line(at[pair.other], names)), likely, f"{pair.odds:,.0f}",
        f"{reverse('station', args=['plates'])}?{asked}",
    )  # fmt: skip


def _line(one: Bound, names: Mapping[str, str]) -> PlateLine:
    return PlateLine(
        one.plate, hull_url(one.plate), one.mouldings, one.bound, names.get(one.bound_by, ""), one.recorded, one.seen,
        one.seen_at, names.get(one.seen_by, ""),
    )  # fmt: skip
