"""A badge shown at a station: who works here now, who stands beside, who allows an override."""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from django.core import signing
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.access import allowed, counts_at
from plant.sign_on import SignedOn, current, device_of, people_signed_on, sign_in_address, switch_to
from trace.readmodels.plantdata import Thing
from trace.speech import names_of

WANTS_HELPER = "wants_helper"
HELPER = "helper"
BESIDE = "beside"  # on the way through the sign-on: who is to go on working here
SALT = "trace.helper"
BESIDE_FOR = 4 * 3600  # seconds for which one scan of a badge says that its person stands beside


@dataclass(frozen=True, slots=True)
class Shown:
    """What a badge did: `said` is the sentence, `sign_in` the address to go to when the PIN is needed first."""

    said: str = ""
    sign_in: str = ""
    helper: str = ""


def person_here(request: HttpRequest) -> str:
    """Who works at this screen now, "" where nobody does."""
    now = current(request)
    return now.person if now else ""


def here(request: HttpRequest, key: str) -> SignedOn | None:
    """The person of this key, if signed on at this screen with badge and PIN."""
    return next((one for one in people_signed_on(request) if one.person == key), None)


def shown(request: HttpRequest, badge: Thing, slug: str, held: Mapping[str, str]) -> Shown:
    """A badge was scanned: the helper an untrained person needs, or the one who works here from now on."""
    now = current(request)
    if not counts_at(badge.body, badge.ended, timezone.now()):
        return Shown(_("This badge has ended: ask the shift lead for another one. Nobody changed here."))
    one = here(request, badge.key)
    if held.get(WANTS_HELPER) and now is not None and badge.key != now.person and one is not None:
        return Shown(_("%(name)s stands beside.") % {"name": one.name}, helper=_token(request, badge.key))
    if one is None:
        # A badge alone is no witness: anybody can pick up one that lies about.
        beside = {BESIDE: now.person} if held.get(WANTS_HELPER) and now is not None else {}
        return Shown(sign_in=_sign_in(slug, {**held, **beside}))
    if not allowed(one.roles, "station", "POST", {"slug": slug}, one.tasks):
        return Shown(_("%(name)s has no task at this station. Nobody changed here.") % {"name": one.name})
    switch_to(request, one.person)
    return Shown(_("%(name)s works here now.") % {"name": one.name})


def came_beside(request: HttpRequest, held: dict[str, str]) -> bool:
    """Whether somebody has just signed on to stand beside: then the one who was here before goes on working."""
    asked, now = here(request, held.pop(BESIDE, "")), current(request)
    if asked is None or now is None or now.person == asked.person:
        return False
    held.pop(WANTS_HELPER, None)
    held[HELPER] = _token(request, now.person)
    switch_to(request, asked.person)
    return True


def _sign_in(slug: str, held: Mapping[str, str]) -> str:
    """The sign-in that leads back to this station with what was scanned; of what is too much, the longest stays out."""
    kept = sorted(held.items(), key=lambda slot: len(slot[1]))
    while not (found := sign_in_address(f"{reverse('station', args=[slug])}?{urlencode(kept)}")):
        kept.pop()
    return found


def _token(request: HttpRequest, key: str) -> str:
    """What the form carries of a helper: signed, so that nobody stands beside without having shown the badge."""
    return signing.dumps([key, device_of(request).id], salt=SALT)


def helper_of(request: HttpRequest, token: str) -> str:
    """The key of the person who stands beside, "" for nobody."""
    try:
        key, device = signing.loads(token, salt=SALT, max_age=BESIDE_FOR)
    except (signing.BadSignature, ValueError, TypeError):
        return ""
    return str(key) if device == device_of(request).id else ""


def names_here(request: HttpRequest, helper: str) -> tuple[str, ...]:
    """Everybody signed on here, the one who works now first, with who stands beside."""
    now = current(request)
    people = people_signed_on(request)
    names = [one.name for one in people if now and one.person == now.person]
    names += [one.name for one in people if not now or one.person != now.person]
    if helper:
        known = here(request, helper)
        name = known.name if known else names_of([helper])[helper]
        if name in names:
            names.remove(name)
        names.insert(1, _("with %(name)s beside") % {"name": name})
    return tuple(names)
