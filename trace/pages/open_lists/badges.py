"""Badges that were at two screens at a time, in words that accuse nobody, with the form that says what it was."""

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.stations import ENTRIES, RECORDS, title_of
from trace.pages.forms import Act, Form, Sent, reason_of, reasons
from trace.pages.open_lists.listed import Counted, Line, OpenList
from trace.quality.badges import USUAL, Twice, twice
from trace.readmodels.plantdata import newest
from trace.recording.acts.badge_seen import LookAtBadge
from trace.recording.commands import Command
from trace.sheets.addresses import unit_url
from trace.speech import names_of

LOOKS = frozenset({"lead", "quality", "deputy"})
BETWEEN = " + "  # of badge and both records in a key


def _found() -> list[Twice]:
    """What is recorded at a desk, or wherever a telephone is, says nothing of where somebody was."""
    places = {slug: str(one.group) for slug, one in ENTRIES.items() if one.group != RECORDS}
    return twice(places, int(newest().setting("badge minutes", USUAL)), timezone.now())


def count() -> Counted:
    found = _found()
    return len(found), min((one.second_when for one in found), default=None)


def lines(skipped: int, most: int) -> list[Line]:
    """Newest first."""
    found = _found()[skipped : skipped + most]
    names = names_of({one.badge for one in found})
    return [
        Line(
            what=_said(one),
            since=one.second_when,
            codes=((one.badge, unit_url(one.badge)),),
            detail=_("a day badge") if newest().body("person", one.badge).get("day_badge") else "",
            who=names.get(one.badge, one.badge),
            key=BETWEEN.join((one.badge, one.first, one.second)),
        )
        for one in found
    ]


def _said(one: Twice) -> str:
    if one.began and _near(one):
        seconds = round((one.second_when - one.began).total_seconds())
        return _("One badge to and fro between two screens, at %(first)s and %(second)s, within %(n)d seconds") % {
            "first": title_of(one.first_at), "second": title_of(one.second_at), "n": seconds,
        }  # fmt: skip
    seconds = round((one.second_when - one.first_when).total_seconds())
    return _("One badge at %(first)s and, %(n)d seconds later, at another screen at %(second)s") % {
        "first": title_of(one.first_at), "second": title_of(one.second_at), "n": seconds,
    }  # fmt: skip


def _near(one: Twice) -> bool:
    return ENTRIES[one.first_at].group == ENTRIES[one.second_at].group


def form(key: str, _person: str) -> Form | None:
    one = next((one for one in _found() if key == BETWEEN.join((one.badge, one.first, one.second))), None)
    if one is None:
        return None
    return Form(
        "look", _("What was it?"), _("It was looked at"),
        reasons([
            ("lent", _("Somebody else worked with it")), ("left signed on", _("A screen was left signed on")),
            ("near", _("The two screens are near each other")), ("clock", _("A clock was off")),
            ("other", _("Something else")),
        ]),
        about=f"{names_of({one.badge}).get(one.badge, one.badge)}: {_said(one)}",
        hint=_("Both records stay as they are. What somebody else did with it is put right at the station Correct."),
        key=key,
    )  # fmt: skip


def looked(key: str, sent: Sent) -> Command:
    badge, first, second = key.split(BETWEEN)
    return LookAtBadge(badge=badge, first=first, second=second, reason=reason_of(sent))


BADGES = OpenList(
    "badges", gettext_lazy("Badges at two places"),
    gettext_lazy("One badge at two screens sooner than one can walk, or work"),
    gettext_lazy("No badge was at two places at a time in the last two weeks."), gettext_lazy("newest first"),
    count, lines, acts=(Act("look", "plant data", gettext_lazy("say what it was"), form, looked, roles=LOOKS),),
    where="moulding",
)  # fmt: skip
