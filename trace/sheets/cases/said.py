"""What pages and papers say of complaints and cases alike: what is missing, how long in use, when and where."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.drawings.time_line import TimeRow
from trace.genealogy.cause_said import said_of
from trace.genealogy.causes import CauseError, read_cause
from trace.sheets.cases.told import Complaint
from trace.sheets.facts.known import Known

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def letter(n: int) -> str:
    """What the n-th suspect of a case goes by, or the n-th list in a drawing: A to Z, then AA."""
    return LETTERS[n % 26] * (n // 26 + 1)


def use(says: Mapping[str, Any]) -> str:
    """How long it was used, as far as it was told."""
    months = str(says.get("months") or "")
    said = [
        _("%(n)s h") % {"n": says["hours"]} if says.get("hours") else "",
        (_("1 month") if months == "1" else _("%(n)s months") % {"n": months}) if months else "",
    ]
    return ", ".join(part for part in said if part)


def gaps_of(one: Complaint) -> list[str]:
    """What of a complaint is not known, in sentences of one line."""
    found = [] if one.hull else [_("Its hull is not known.")]
    names = {
        "spot": _("Where on the hull was not told."), "sold": _("When it was sold is not known."),
        "failed": _("When it failed is not known."), "reported": _("When it was told is not known."),
    }  # fmt: skip
    found += [said for name, said in names.items() if not (one.says.get(name) or one.day(name))]
    return found if use(one.says) else [*found, _("How long it was used was not told.")]


def gaps_of_case(complaints: Iterable[Complaint], *, suspected: bool) -> tuple[str, ...]:
    """What is not known of the complaints of a case, each with its number."""
    found = [
        _("Complaint %(n)d: %(lacks)s") % {"n": one.number, "lacks": " ".join(lacks)}
        for one in complaints
        if (lacks := gaps_of(one))
    ]
    return tuple(found if suspected else [*found, _("No suspect was named yet.")])


def hull_words(about: Mapping[str, Any], place: str | None, known: Known) -> str:
    """A hull's model, colour, mould and place in one line."""
    model = str(known.plant.newest("product", about.get("product")).get("name") or about.get("product") or "")
    stands = known.place(place) if place else _("place unknown")
    return ", ".join(str(part) for part in (model, about.get("colour"), about.get("mould"), stands) if part)


def cause_said(words: Sequence[str]) -> str:
    """A cause as people say it; its own words where it can no longer be read."""
    try:
        said = said_of(read_cause(words))
    except CauseError:
        return " ".join(words)
    return f"{said[:1].upper()}{said[1:]}"


def at_places(complaints: Iterable[Complaint], models: Mapping[int, str]) -> dict[str, dict[str, str]]:
    """Model -> place on its drawing -> which complaints are of it. `models`: the model by the complaint's number."""
    at: dict[str, dict[str, list[int]]] = {}
    for one in complaints:
        spot, model = str(one.says.get("spot") or ""), models.get(one.number)
        if model and spot:
            at.setdefault(model, {}).setdefault(spot, []).append(one.number)
    return {model: {spot: _which(of) for spot, of in places.items()} for model, places in sorted(at.items())}


def _which(numbers: Sequence[int]) -> str:
    return ngettext("complaint %(which)s", "complaints %(which)s", len(numbers)) % {
        "which": ", ".join(str(n) for n in numbers)
    }


def time_rows(complaints: Iterable[Complaint], made: Mapping[str, datetime]) -> list[TimeRow]:
    """When the hull of each complaint was made (`made`, by its uid), sold, failed and told of."""
    return [
        TimeRow(
            str(one.number), timezone.localtime(at).date() if (at := made.get(one.hull or "")) else None,
            _day(one, "sold"), _day(one, "failed"), _day(one, "reported"),
        )
        for one in complaints
    ]  # fmt: skip


def _day(one: Complaint, name: str) -> date | None:
    text = one.day(name)
    return date.fromisoformat(text) if text else None
