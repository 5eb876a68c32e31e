"""Ways from a case to pages that go on with it: the walk, the recall, what the bad hulls share."""

from collections.abc import Iterable

from django.urls import NoReverseMatch, reverse
from django.utils.http import urlencode

from plant.access import allowed
from plant.sign_on import SignedOn


def way(person: SignedOn, name: str, asked: Iterable[tuple[str, str]]) -> str:
    """The address of a page with what it is asked; "" where there is none, or not for this person."""
    if not allowed(person.roles, name, "GET", {}, person.tasks):
        return ""
    try:
        words = urlencode(list(asked))
        return f"{reverse(name)}?{words}" if words else reverse(name)
    except NoReverseMatch:
        return ""
