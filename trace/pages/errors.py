"""Answers a form that was older than the sign-in it was made for."""

from django.http import HttpRequest, HttpResponse

from plant.errors import StaleForm
from plant.middleware import answer


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:  # noqa: ARG001 - Django's reason is for developers
    """The page Django asks for when a form's token does not fit (CSRF_FAILURE_VIEW); nothing was recorded."""
    return answer(request, StaleForm())
