"""A refusal that may be let pass: who may, what the form carries of it, and how it stands until somebody has."""

import json
from dataclasses import replace
from uuid import UUID

from django.core import signing
from django.http import HttpRequest
from django.utils.translation import gettext as _

from plant.access import role_words
from plant.sign_on import device_of
from trace import lookup
from trace.recording.rules.table import BY_CODE
from trace.scan import people
from trace.scan.page import Verdict
from trace.scan.posted import Posted
from trace.scan.sight import Sight
from trace.scan.verdict import verdict

LET = "let"  # who lets a refusal pass, with the reason, while the act is still being put together: signed
LET_FOR = 15 * 60  # seconds
REFUSED = "refused_scan"  # what was refused and may be overridden: it stands there until somebody has, or scans on


def let_pass(request: HttpRequest, person: str, passed: dict[str, str], slot: str, code: str) -> str:
    """What the form carries of a refusal let pass before the act was whole: signed, so that nobody writes it there."""
    return signing.dumps([person, passed, slot, code, device_of(request).id], salt="trace.let")


def passed_by(request: HttpRequest, sight: Sight) -> tuple[dict[str, str], str]:
    """(rules with their reasons, who lets them pass): for the code it was given for, while that person is signed on
    here; empty otherwise."""
    token = sight.text(LET)
    try:
        person, passed, slot, code, device = signing.loads(token, salt="trace.let", max_age=LET_FOR)
    except (signing.BadSignature, ValueError, TypeError):
        return {}, ""
    same = device == device_of(request).id and code in sight.codes(slot)
    return (dict(passed), str(person)) if same and people.here(request, str(person)) else ({}, "")


def still_refused(request: HttpRequest, sight: Sight) -> Verdict | None:
    """The refusal that the form carries, as whoever works here now may let it pass; it is read, not judged again."""
    try:
        kept = json.loads(sight.held.get(REFUSED, ""))
        scan, judged, passed = kept["scan"], dict(kept["judged"]), dict(kept["passed"])
        answer = lookup.answer_to(device_of(request).id, UUID(scan))
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    if answer is None or answer.outcome != "refused":
        return None
    one = people.here(request, people.person_here(request))
    shown = verdict([answer], roles=one.roles if one else frozenset(), judged=judged, passed=passed)
    return replace(shown, replayed=False)


def may_let_pass(request: HttpRequest, sight: Sight, came: Posted) -> tuple[str, str] | str:
    """(who lets it pass, who stands beside), or the sentence why nobody does."""
    badge = came.badge
    if not badge:
        return sight.person, ""
    found = sight.found.get(badge)
    if found is None or found.thing is None or found.thing.kind != "person" or found.dead:
        return _("This is no badge: scan the badge of the one who allows it.")
    one = people.here(request, found.thing.key)
    if one is None:
        return _(
            "That person is not signed on here: scan the badge under “Scan or type a code” and type the PIN."
            " This refusal waits meanwhile."
        )
    rule = BY_CODE.get(came.rule)
    if rule is not None and not one.roles & set(rule.override):
        who = _(" or ").join(role_words(role) for role in rule.override)
        return _("%(name)s may not allow this: scan the badge of the %(who)s.") % {"name": one.name, "who": who}
    return found.thing.key, sight.person
