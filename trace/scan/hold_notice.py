"""What a station page says of the holds in force, and what a screen says of the list it has.

Each page carries the number of its list and when it was made; the next request of that screen says so again, and with
that it has arrived. What is new stands on the very next answer, at whatever station; what concerns the work here stands
until the person has pressed “read”, once in a sign-on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from plant.sign_on import device_of
from trace.genealogy.cause_said import said_of
from trace.genealogy.causes import read_cause
from trace.recording.acts import hold_words
from trace.recording.acts.hold_reading import ReadHolds
from trace.recording.commands import By
from trace.recording.floor import hold_list
from trace.recording.floor import words as say
from trace.recording.floor.hold_list import Held
from trace.recording.record import record
from trace.scan.cautions import whose
from trace.scan.page import HoldNotice
from trace.scan.posted import Posted
from trace.scan.sight import Sight, Station
from trace.speech import spoken

LISTED = "holds_listed"  # what the form carries of the list of holds that its page had
READ = "holds-read"
SESSION = "holds_read"
KEPT_EVERY = timedelta(minutes=1)  # that a screen still has the same list is not written more often
NAMED = 2  # so many holds are named on a page, the newest first


@dataclass(frozen=True, slots=True)
class Listed:
    """The list that a page has: its number, when it was made, and when it was last written down that the screen has it
    (None: not yet)."""

    number: int
    made: datetime
    kept: datetime | None = None

    def __str__(self) -> str:
        return f"{self.number}.{_millis(self.made)}.{_millis(self.kept) if self.kept else 0}"


def _millis(when: datetime) -> int:
    return round(when.timestamp() * 1000)


def listed(text: str) -> Listed | None:
    """As a form carries it; None where it carries none, or one from tomorrow."""
    parts = text.split(".")
    if len(parts) != 3 or not all(part.isascii() and part.isdecimal() and len(part) < 16 for part in parts):
        return None
    number, made, kept = map(int, parts)
    try:
        found = Listed(number, _moment(made), _moment(kept) if kept else None)
    except (ValueError, OverflowError):
        return None
    return found if found.made <= timezone.now() else None


def _moment(millis: int) -> datetime:
    return datetime.fromtimestamp(millis / 1000, UTC)


def hear(request: HttpRequest, place: Station, sight: Sight, came: Posted) -> Listed | None:
    """What the form says of the list that this screen has; written down when that is news, or a minute old."""
    text = came.held.pop(LISTED, "")
    has = listed(text)
    sight.listed = (has.number, has.made.isoformat(), text) if has else (0, "unknown", "")
    if has is None or (has.kept and sight.now - has.kept < KEPT_EVERY):
        return has
    hold_list.keep_heard(
        hold_list.Screen(device_of(request).id, has.number, has.made, place.slug, sight.person, sight.now)
    )
    return Listed(has.number, has.made, sight.now)


def keep_read(request: HttpRequest, place: Station, sight: Sight, came: Posted, has: Listed | None) -> str:
    """“Read” was pressed: recorded once however often it is sent, and one line from now on. What the page says then."""
    if has is None or not sight.person:
        return _("Nothing was recorded: look at the holds below, then press again.")
    by = By(person=sight.person, station=place.slug, device=device_of(request).id, scan_id=came.scan_id)
    record(ReadHolds(number=has.number), by)
    request.session[SESSION] = dict(request.session.get(SESSION, {})) | {whose(request): has.number}
    return _("That you have read the holds is recorded.")


def notice(request: HttpRequest, place: Station, sight: Sight, has: Listed | None) -> HoldNotice:
    """What this answer says of the holds in force; `has`: what the screen had before."""
    number = sight.number
    every = hold_list.in_force(number)
    done = int(request.session.get(SESSION, {}).get(whose(request), 0)) if sight.person else 0
    unread = [held for held in every if held.record > done and held.kind in place.stops and sight.person]
    new = [held for held in every if has and held.record > has.number]
    shown = [held for held in every if held in unread or held in new]
    token = Listed(number, sight.now, has.kept if has and has.number == number else None)
    more = len(shown) - NAMED
    here = sum(held.kind in place.stops for held in every)
    return HoldNotice(
        carried=str(token),
        head=_head(shown),
        lines=tuple(spoken([sentence(held) for held in shown[:NAMED]])),
        more=ngettext("%(n)d more", "%(n)d more", more) % {"n": more} if more > 0 else "",
        new=bool(new),
        read=READ if unread else "",
        line=ngettext("%(n)d hold matters at this station", "%(n)d holds matter at this station", here) % {"n": here},
    )  # fmt: skip


def _head(shown: Sequence[Held]) -> str:
    if not shown:
        return ""
    words = ngettext("%(n)d new hold: %(on)s", "%(n)d new holds: %(on)s", len(shown))
    return words % {"n": len(shown), "on": "; ".join(name_of(held) for held in shown[:NAMED])}


def name_of(held: Held) -> str:
    """What a hold is on, in words also where it is on a cause."""
    if held.kind != "scope":
        return held.name
    try:
        return _("all hulls that %(cause)s") % {"cause": said_of(read_cause(held.name.split(" ")))}
    except ValueError:
        return _("all that share %(cause)s") % {"cause": held.name}


def sentence(held: Held) -> str:
    """One hold on one line: what it is on, why, who laid it and when."""
    facts: dict[str, Any] = {"why": held.why, "rule": held.rule}
    return _("%(name)s: %(why)s, %(who)s, %(when)s") % {
        "name": name_of(held), "why": hold_words.reason(facts),
        "who": say.person(held.person), "when": say.clock(held.laid),
    }  # fmt: skip
