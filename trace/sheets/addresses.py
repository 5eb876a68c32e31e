"""The addresses of the desk's sheets, which keep the moment asked for."""

from collections.abc import Sequence
from datetime import datetime
from urllib.parse import urlencode

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from plant.access import allowed
from plant.sign_on import current


def hull_url(serial: str, as_known_on: datetime | None = None) -> str:
    return _url("hull", serial, as_known_on)


def lot_url(code: str, as_known_on: datetime | None = None) -> str:
    return _url("lot", code, as_known_on)


def unit_url(code: str, as_known_on: datetime | None = None) -> str:
    return _url("unit", code, as_known_on)


def balance_url(code: str, as_known_on: datetime | None = None) -> str:
    return _url("balance", code, as_known_on)


def dispersion_url(code: str, as_known_on: datetime | None = None) -> str:
    return _url("dispersion_of", code, as_known_on)


def scope_url(request: HttpRequest, words: Sequence[str], as_known_on: datetime | None = None) -> str:
    """The hulls that share a cause (genealogy/causes.py), "" for those who may not ask."""
    person = current(request)
    if not words or person is None or not allowed(person.roles, "scope", "GET", {}, person.tasks):
        return ""
    day = [("as_known_on", as_known_on.isoformat())] if as_known_on else []
    return f"{reverse('scope')}?{urlencode([*(('q', word) for word in words), *day])}"


def scope_page(words: Sequence[str]) -> str:
    """The same, whoever reads it: for links that are left out by themselves where a person may not open them."""
    return f"{reverse('scope')}?{urlencode([('q', word) for word in words])}"


def _url(name: str, code: str, as_known_on: datetime | None) -> str:
    """ "" where the code cannot stand in an address: then the words stand without a link."""
    if not code:
        return ""
    try:
        address = reverse(name, args=[code])
    except NoReverseMatch:
        return ""
    return address if as_known_on is None else f"{address}?{urlencode({'as_known_on': as_known_on.isoformat()})}"
