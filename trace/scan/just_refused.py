"""What was refused before the last answer: named on every page that follows, until it is read or taken after all.

People look at the thing in their hands, and the next scan comes before they look up. So a refusal is carried on by the
form, signed, and stands in one line under the answer that took its place.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.core import signing
from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from plant.sign_on import device_of
from trace.codes import printed
from trace.scan.page import JustRefused, Verdict
from trace.scan.posted import LONGEST, Posted
from trace.scan.sight import MANY, Sight

CARRIED = "just_refused"  # what the form carries of them
READ = "refused-read "  # with how many the page named behind it: what came meanwhile is not read by that press
SALT = "trace.just_refused"
MOST = 20  # the newest; so many nobody leaves unread on purpose
HEADLINE = 110  # signs kept of a headline
SPOKEN = 2  # so many are named with their headline, the newest first


@dataclass(frozen=True, slots=True)
class Refused:
    """One code that was refused, and what the page said of it."""

    code: str
    headline: str


def carried(request: HttpRequest, held: dict[str, str]) -> tuple[Refused, ...]:
    """What a form or an address carries of them, taken out of what it holds for the station."""
    try:
        device, pairs = signing.loads(held.pop(CARRIED, ""), salt=SALT)
    except (signing.BadSignature, ValueError, TypeError):
        return ()
    return tuple(Refused(code, headline) for code, headline in pairs) if device == device_of(request).id else ()


def token(request: HttpRequest, refused: tuple[Refused, ...]) -> str:
    """As the form carries them on; where it is too much, the oldest go on by their code alone."""
    kept = [[one.code, one.headline] for one in refused[-MOST:]]
    for at in range(len(kept) + 1):
        text = signing.dumps([device_of(request).id, kept], salt=SALT, compress=True)
        if len(text) < LONGEST:
            return text
        kept[at][1] = ""
    return ""


def follow(
    came: Posted, sight: Sight, older: tuple[Refused, ...], before: Mapping[str, str], verdict: Verdict | None
) -> tuple[Refused, ...]:
    """What is refused and unread after this answer. `before`: what the form held."""
    if came.do.startswith(READ):
        done = came.do.removeprefix(READ)
        return older[int(done):] if done.isascii() and done.isdecimal() else older
    scanned = _scanned(came, sight)
    taken, code = _codes(sight.held.values()), scanned or came.typed.upper()
    if verdict is None:
        return _without(older, taken)
    if verdict.outcome != "refused":
        return _without(older, taken | ({scanned} if scanned else {code} | _codes(before.values())))
    if not code:
        return _without(older, taken)
    return (*_without(older, taken | {code}), Refused(code, verdict.headline[:HEADLINE]))


def _without(older: tuple[Refused, ...], taken: set[str]) -> tuple[Refused, ...]:
    return tuple(one for one in older if one.code not in taken)


def _scanned(came: Posted, sight: Sight) -> str:
    """The code of a thing that came with this form, "" for a badge or a press."""
    found = sight.found.get(came.code)
    if not came.code or (found is not None and found.thing is not None and found.thing.kind == "person"):
        return ""
    return (sight.typed or came.code).upper()


def _codes(values: object) -> set[str]:
    return {code.upper() for value in values for code in str(value).split(MANY) if code}  # type: ignore[attr-defined]


def notice(refused: tuple[Refused, ...], verdict: Verdict | None) -> JustRefused:
    """The line under an answer; what the answer itself says stands there already."""
    now = verdict.headline[:HEADLINE] if verdict is not None and verdict.outcome == "refused" else ""
    shown = [one for one in refused if not now or one.headline != now]
    if not shown:
        return JustRefused()
    said = [one for one in shown if one.headline][-SPOKEN:][::-1]
    others = ", ".join(printed(one.code) for one in shown if one not in said)
    more = ngettext("Also refused: %(codes)s", "Also refused: %(codes)s", len(shown)) % {"codes": others}
    words = (_("Refused just before: %(what)s") % {"what": one.headline} for one in said)
    return JustRefused(tuple(words), more if others else "", f"{READ}{len(shown)}")


def along(verdict: Verdict | None, text: str) -> Verdict | None:
    """The ways out of a refusal send on what was refused before it."""
    if verdict is None or not verdict.judged or not text:
        return verdict
    return replace(verdict, judged={**verdict.judged, CARRIED: text})
