"""Who is signed on at this screen: kept in the session, judged anew at every request.

A floor screen may have several people at once, each of whom came with badge and PIN; the one whose badge was
scanned last is the current one. Roles are never kept here: they are read from plant data each time.
"""

import hmac
import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any, Literal
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.auth.hashers import check_password, is_password_usable, make_password
from django.contrib.auth.models import AnonymousUser
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import rotate_token
from django.utils import timezone
from django.utils.crypto import salted_hmac

from plant.access import counts_at, day_badge_tasks, roles_of
from plant.models import Account, Person
from plant.prepared import fetch_rows

How = Literal["floor", "desk"]

SESSION = "screen"  # the session's one key for who is signed on
BADGE = "badge_shown"
SCREEN = "plant.screen"  # where the judged people travel with a request
DEVICE = "plant.device"
DEVICE_DAYS = 400  # the longest life browsers grant a cookie (RFC 6265bis draft, 5.5)
LONGEST_ADDRESS = 3500  # characters: gunicorn takes a line of 4094
SEEN_EVERY = 60  # seconds: the session's row is not rewritten more often


@dataclass(frozen=True, slots=True)
class SignedOn:
    """One person signed on here. `tasks` are the stations of a day badge, None for anybody else."""

    person: str
    name: str
    roles: frozenset[str]
    trained: Mapping[str, Any]
    since: datetime
    tasks: frozenset[str] | None = None


@dataclass(frozen=True, slots=True)
class Screen:
    people: tuple[SignedOn, ...] = ()
    current: SignedOn | None = None
    how: How = "floor"
    why_ended: Literal["", "idle", "over"] = ""


@dataclass(frozen=True, slots=True)
class Device:
    """The browser's own id; `known` once somebody signed in on it, `fresh` until its cookie was set."""

    id: str
    known: bool = False
    fresh: bool = False


def sign_in_address(back: str) -> str:
    """Where to sign in and be led back to the address `back`; "" when that is longer than servers take."""
    found = f"{settings.LOGIN_URL}?{urlencode({'next': back})}"
    return found if len(found) <= LONGEST_ADDRESS else ""


def show_badge(request: HttpRequest, code: str) -> None:
    """A badge was scanned on the way to the sign-on: it is not asked for once more there."""
    request.session[BADGE] = code


def badge_shown(request: HttpRequest) -> str:
    """The badge with which somebody came to the sign-on, once; "" for none."""
    return str(request.session.pop(BADGE, "")) if BADGE in request.session else ""


def people_signed_on(request: HttpRequest) -> tuple[SignedOn, ...]:
    """Everybody signed on at this screen, in the order they came."""
    return _screen(request).people


def current(request: HttpRequest) -> SignedOn | None:
    """The person a scan now counts for: whose badge was scanned last."""
    return _screen(request).current


def at_desk(request: HttpRequest) -> bool:
    """Whether who is signed on here came with key and password, to a desk, and not with a badge to the floor."""
    screen = _screen(request)
    return screen.current is not None and screen.how == "desk"


def why_ended(request: HttpRequest) -> str:
    """Whether this very request found the sign-in ended: "idle" or "over", else an empty text."""
    return _screen(request).why_ended


def _screen(request: HttpRequest) -> Screen:
    screen = request.META.get(SCREEN)
    return screen if isinstance(screen, Screen) else Screen()


def read_screen(request: HttpRequest) -> Screen:
    """Judge the session's people by the plant data as it stands now, and hang the result on the request.

    Ends the session when it was idle or on for too long, or when the current person no longer counts:
    a scan must never fall to the next person in the list by itself.
    """
    kept = request.session.get(SESSION) if settings.SESSION_COOKIE_NAME in request.COOKIES else None
    screen, account = _judged(request, kept) if kept else (Screen(), None)
    request.META[SCREEN] = screen
    request.user = account or AnonymousUser()
    return screen


def _judged(request: HttpRequest, kept: Mapping[str, Any]) -> tuple[Screen, Account | None]:
    at = timezone.now()
    how: How = "desk" if kept["how"] == "desk" else "floor"
    if at - _moment(kept["seen"]) > _idle(how):
        request.session.flush()
        return Screen(how=how, why_ended="idle"), None
    keys = [entry["person"] for entry in kept["people"]]
    there = _with_accounts(keys)
    people = []
    for entry in kept["people"]:
        person, account = there.get(entry["person"], (None, None))
        if person is not None and account is not None and _still_counts(person, account, entry, at):
            people.append(_signed_on(person, str(entry["name"]), _moment(entry["since"])))
    now = next((person for person in people if person.person == kept["current"]), None)
    if now is None:
        request.session.flush()
        return Screen(how=how, why_ended="over"), None
    if at - _moment(kept["seen"]) >= timedelta(seconds=SEEN_EVERY):
        request.session[SESSION] = {**kept, "seen": at.timestamp()}
    return Screen(tuple(people), now, how), there[now.person][1]


PEOPLE = """
SELECT p.key, p.body::text, p.ended, a.id, a.password, a.person, a.pin, a.is_active
  FROM plant_person p JOIN account a ON a.person = p.key WHERE p.key = ANY (%s::text[])
"""
OF_ACCOUNT = ("id", "password", "person", "pin", "is_active")  # in the order of the model


def _with_accounts(keys: list[str]) -> dict[str, tuple[Person, Account]]:
    """These people as the plant data says, each with the account; who lacks either is left out."""
    return {
        key: (Person(key=key, body=json.loads(body), ended=ended), Account.from_db("default", OF_ACCOUNT, account))
        for key, body, ended, *account in fetch_rows(PEOPLE, [keys])
    }


def _signed_on(person: Person, name: str, since: datetime) -> SignedOn:
    body = person.body
    return SignedOn(person.key, name, roles_of(body), body.get("trained") or {}, since, day_badge_tasks(body))


def _still_counts(person: Person, account: Account, entry: Mapping[str, Any], at: datetime) -> bool:
    return (
        account.is_active
        and counts_at(person.body, person.ended, at)
        and at - _moment(entry["since"]) < timedelta(hours=settings.SIGNED_ON_HOURS)
        and hmac.compare_digest(_stamp(account), str(entry["stamp"]))
    )


def _idle(how: How) -> timedelta:
    return timedelta(minutes=settings.DESK_IDLE_MINUTES if how == "desk" else settings.FLOOR_IDLE_MINUTES)


def _moment(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


def _stamp(account: Account) -> str:
    """Changes with the PIN and with the password, so that a new one ends every session of the person."""
    return salted_hmac("plant.sign_on", f"{account.pin}\n{account.password}").hexdigest()


def sign_on(request: HttpRequest, person: Person, account: Account, name: str, how: How) -> None:
    """Put a person, whose PIN or password was right, on this screen as the current one.

    The session gets a new id and the forms a new token. At the desk there is one person at a time.
    """
    at = timezone.now()
    kept = request.session.get(SESSION) or {}
    stay = kept.get("people", []) if how == "floor" and kept.get("how") == "floor" else []
    entry = {"person": person.key, "name": name, "since": at.timestamp(), "stamp": _stamp(account)}
    request.session.cycle_key()
    request.session[SESSION] = {
        "how": how,
        "seen": at.timestamp(),
        "current": person.key,
        "people": [*(one for one in stay if one["person"] != person.key), entry],
    }
    rotate_token(request)
    request.user = account
    now = _signed_on(person, name, at)
    others = tuple(one for one in people_signed_on(request) if stay and one.person != person.key)
    request.META[SCREEN] = Screen((*others, now), now, how)


def switch_to(request: HttpRequest, person_key: str) -> bool:
    """Make a person already signed on here the current one; False when that person is not."""
    screen = _screen(request)
    chosen = next((one for one in screen.people if one.person == person_key), None)
    if chosen is None:
        return False
    request.session[SESSION] = {
        **request.session[SESSION],
        "current": person_key,
        "seen": timezone.now().timestamp(),
    }
    request.META[SCREEN] = Screen(screen.people, chosen, screen.how)
    request.user = Account.objects.get(person=person_key)
    return True


def sign_off(request: HttpRequest, person_key: str = "") -> None:
    """Take one person off this screen; without a key, or with the last or the current one, everybody."""
    screen = _screen(request)
    stay = [one for one in screen.people if one.person != person_key]
    if person_key and stay and screen.current in stay and SESSION in request.session:
        kept = request.session[SESSION]
        people = [one for one in kept["people"] if one["person"] != person_key]
        request.session[SESSION] = {**kept, "people": people}
        request.META[SCREEN] = Screen(tuple(stay), screen.current, screen.how)
        return
    request.session.flush()
    request.user = AnonymousUser()
    request.META[SCREEN] = Screen()


def secret_fits(account: Account | None, secret: str, how: How) -> bool:
    """Whether the PIN (floor) or password (desk) fits; one hashing, whether or not there is an account."""
    stored = (account.pin if how == "floor" else account.password) if account else ""
    usable = bool(stored) and is_password_usable(stored)
    fits = check_password(secret, stored if usable else _hash_of_nobody())
    return fits and usable and account is not None and account.is_active


@cache
def _hash_of_nobody() -> str:
    return make_password(secrets.token_urlsafe(16))


def device_of(request: HttpRequest) -> Device:
    """The browser's id, from its signed cookie; a new one when it has none (then set by keep_device)."""
    held = request.META.get(DEVICE)
    if isinstance(held, Device):
        return held
    try:
        text = signing.loads(
            request.COOKIES.get(settings.DEVICE_COOKIE_NAME, ""),
            salt="plant.device",
            max_age=timedelta(days=DEVICE_DAYS),
        )
        device = Device(str(text["id"]), bool(text["known"]))
    except (signing.BadSignature, KeyError, TypeError, ValueError):
        device = Device("d-" + secrets.token_hex(16), fresh=True)
    request.META[DEVICE] = device
    return device


def keep_device(request: HttpRequest, response: HttpResponse, *, known: bool = False) -> None:
    """Set the device's cookie when it is new, or when it becomes known by a sign-in on it."""
    device = device_of(request)
    if device.fresh or known:
        value = signing.dumps({"id": device.id, "known": known or device.known}, salt="plant.device")
        response.set_cookie(
            settings.DEVICE_COOKIE_NAME,
            value,
            max_age=DEVICE_DAYS * 86400,
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )
