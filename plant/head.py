"""The head of every page: who is signed on here, and where that person may go."""

from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext as _

from plant.access import allowed, role_words
from plant.roles import ROLES
from plant.sign_on import SignedOn, current, people_signed_on


def who(request: HttpRequest) -> dict[str, Any]:
    """What every template is told: `bar` (head of the page; worked out where one asks for it), `person`, `people` and
    `roles` signed on here.

    Reads nothing from the database, so that the page about a missing database can still be drawn.
    """
    person = current(request)
    return {
        "bar": SimpleLazyObject(lambda: _bar(request, person)),
        "person": person,
        "people": people_signed_on(request),
        "roles": person.roles if person else frozenset(),
    }


def _bar(request: HttpRequest, person: SignedOn | None) -> dict[str, Any]:
    bar: dict[str, Any] = {"home_url": _address("home"), "links": []}
    if person is not None:
        bar |= {
            "find_url": _address("search") if allowed(person.roles, "search", tasks=person.tasks) else "",
            "person": person.name,
            "roles": ", ".join(role_words(role) for role in ROLES if role in person.roles),
            "sign_out_url": _address("sign_out"),
            "links": [
                {"url": url, "label": label, "here": request.path == url}
                for name, label in (
                    ("search", _("Find")), ("scope", _("Scope")), ("cases", _("Cases")), ("papers", _("Papers")),
                    ("rules", _("Rules")),
                )
                if allowed(person.roles, name, tasks=person.tasks) and (url := _address(name))
            ],
        }  # fmt: skip
    return bar


def _address(name: str) -> str:
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""
