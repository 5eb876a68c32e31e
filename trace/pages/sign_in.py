"""Signing on and off: badge and PIN on the floor, key and password at the desk."""

import logging
from http import HTTPStatus
from urllib.parse import urlsplit

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import Resolver404, resolve, reverse
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

from plant.access import allowed, counts_at
from plant.address import address_of
from plant.guessing import STRANGER, begin_try, was_right
from plant.models import Account, Person
from plant.sign_on import (
    How,
    badge_shown,
    current,
    device_of,
    keep_device,
    people_signed_on,
    secret_fits,
    sign_off,
    sign_on,
    why_ended,
)
from trace.codes import CodeError, parse_label_code, storable
from trace.lookup import is_demo
from trace.models import Label, LabelState, Note
from trace.pages.lists import SignInPage

log = logging.getLogger("plant.sign_in")


def floor(request: HttpRequest) -> HttpResponse:
    """Posted: badge (scanned or typed), pin, next. Context: sign_in (trace.pages.lists.SignInPage)."""
    return _sign_in(request, "floor", request.POST.get("badge", ""), request.POST.get("pin", ""))


def desk(request: HttpRequest) -> HttpResponse:
    """Posted: name (the key of the person), password, next. Context as for the floor."""
    return _sign_in(request, "desk", request.POST.get("name", ""), request.POST.get("password", ""))


def sign_out(request: HttpRequest) -> HttpResponse:
    """Posted: person, to take one person off a shared screen; without it everybody is signed out."""
    sign_off(request, request.POST.get("person", ""))
    return HttpResponseRedirect(reverse("home") if people_signed_on(request) else reverse("sign_in"))


def _sign_in(request: HttpRequest, how: How, claimed: str, secret: str) -> HttpResponse:
    if request.method != "POST":
        shown = badge_shown(request) if how == "floor" else ""
        return _form(request, how, _ended_words(why_ended(request)), badge=shown)
    claimed = storable(claimed.strip())
    if how == "floor" and claimed and not secret:
        # A scanner that sends Enter behind the badge: the PIN comes next, and nobody has tried one yet.
        return _form(request, how, "", HTTPStatus.UNAUTHORIZED, badge=claimed[:200])
    key = badge_person(claimed) if how == "floor" else claimed
    person = Person.objects.filter(key=key).first() if key else None
    account = Account.objects.filter(person=person.key).first() if person else None
    place = _place(request)
    # An unknown badge is counted and locked like a known one: nobody learns which badges exist.
    whom = person.key if person else _stand_in(claimed)
    tried = begin_try(whom, place)
    if tried is None:
        log.warning("sign-in locked person=%r from=%r", whom, place)
        return _form(request, how, _locked_words(how), HTTPStatus.TOO_MANY_REQUESTS)
    fits = secret_fits(account, secret, how)
    if not (fits and person and account and counts_at(person.body, person.ended, timezone.now())):
        log.warning("sign-in refused person=%r from=%r", whom, place)
        return _form(request, how, _wrong_words(how), HTTPStatus.UNAUTHORIZED)
    was_right(whom, place)
    sign_on(request, person, account, name_of(person), how)
    log.info("signed in person=%r how=%s from=%r", person.key, how, place)
    response = HttpResponseRedirect(_next_for(request) or reverse("home"))
    keep_device(request, response, known=True)
    return response


def _stand_in(claimed: str) -> str:
    """A name for an unknown badge in counts and log; hides the text, which may be a PIN in the wrong box."""
    return "unknown " + salted_hmac("trace.sign_in", claimed.upper()).hexdigest()[:16]


def badge_person(text: str) -> str:
    """The key of the person whose badge carries this label code; empty when it is no badge that counts."""
    try:
        code = parse_label_code(text).code
    except CodeError:
        return ""
    label = Label.objects.filter(code=code, resource__kind="person").select_related("resource").first()
    if label is None or label.resource is None or LabelState.objects.filter(code=code).exists():
        return ""
    return label.resource.key


def name_of(person: Person) -> str:
    """The person's name from its note; the key where the name was erased."""
    digest = person.body.get("name")
    text = Note.objects.filter(digest=digest).values_list("text", flat=True).first() if digest else None
    return text or person.key


def _place(request: HttpRequest) -> str:
    """Where tries are counted: the device once somebody signed in on it, else the address of the connection.

    A browser without history can throw its cookie away, so its own id would count nothing.
    """
    device = device_of(request)
    return device.id if device.known else f"{STRANGER}{address_of(request)}"


def _next(request: HttpRequest) -> str:
    """Where to go afterwards: only to a path of this server."""
    wanted = request.POST.get("next", "") or request.GET.get("next", "")
    ours = url_has_allowed_host_and_scheme(wanted, allowed_hosts=None, require_https=request.is_secure())
    return wanted if ours and wanted.startswith("/") else ""


def _next_for(request: HttpRequest) -> str:
    """Where whoever signed on goes: what is none of their work is no place to begin, home shows what is."""
    wanted, now = _next(request), current(request)
    try:
        there = resolve(urlsplit(wanted).path)
    except Resolver404:
        return wanted
    if now is None or there.url_name is None:
        return wanted
    return wanted if allowed(now.roles, there.url_name, "GET", there.kwargs, now.tasks) else ""


def _form(
    request: HttpRequest, how: How, error: str, status: int = HTTPStatus.OK, *, badge: str = ""
) -> HttpResponse:
    page = SignInPage(
        floor=how == "floor",
        error=error,
        next_url=_next(request),
        people=tuple(person.name for person in people_signed_on(request)),
        labels_url=reverse("labels_to_try") if is_demo() else "",
        badge=badge,
    )
    template = "scan/sign_in.html" if page.floor else "pages/sign_in.html"
    response = render(request, template, {"sign_in": page}, status=status)
    if status == HTTPStatus.UNAUTHORIZED:
        response["WWW-Authenticate"] = 'Form realm="Lotwright"'
    if status == HTTPStatus.TOO_MANY_REQUESTS:
        response["Retry-After"] = "900"
    keep_device(request, response)
    return response


def _wrong_words(how: How) -> str:
    if how == "floor":
        return _("Badge and PIN do not fit together: scan the badge again and type the six digits.")
    return _("Key and password do not fit together: type both again.")


def _locked_words(how: How) -> str:
    if how == "floor":
        return _("Too many wrong PINs: wait 15 minutes, or ask the shift lead. Nothing recorded is lost.")
    return _("Too many wrong passwords: wait 15 minutes and try again.")


def _ended_words(why: str) -> str:
    if why == "idle":
        return _("This screen was not used for a while, so everybody was signed off. Sign on again.")
    if why == "over":
        return _("The time on this screen is over. Sign on again.")
    return ""
