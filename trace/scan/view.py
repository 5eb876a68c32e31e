"""The one view of all stations: a form comes, its scan is answered, the page is ready again.

Nothing is kept between two requests but the form itself: several tabs and several people do not meet.
"""

from dataclasses import replace
from datetime import timedelta

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.errors import NotThere
from plant.sign_on import device_of, keep_device
from trace.codes import uuid7
from trace.recording.floor.hold_list import plant_and_number
from trace.scan import begun, cautions, hold_notice, just_refused, people, posted
from trace.scan.answering import HAPPENED, LATE, Answering, Shows, see
from trace.scan.asked import asked_now, said_so_far, wanting
from trace.scan.asked import caution as caution_words
from trace.scan.letting_pass import still_refused
from trace.scan.page import FIGURES, Action, Choice, Field, StationPage
from trace.scan.sight import Sight, Station
from trace.scan.stations import STATIONS
from trace.scan.stations.parts import ANEW, DEFERRAL, off, press

# The script of a station page has the page: it asks by this header for what a scan changes of it, and gets that alone.
WANTS = "X-Wants"
PART, WHOLE = "scan/answer.html", "scan/station.html"


def station(request: HttpRequest, slug: str) -> HttpResponse:
    """Context: page (trace.scan.page.StationPage). Posted: see there. Raises NotThere for an unknown station."""
    place = STATIONS.get(slug)
    if place is None:
        raise NotThere
    now = timezone.now()
    plant, number = plant_and_number()
    sight = Sight(plant, now, person=people.person_here(request), number=number)
    answer, has = _posted(request, place, sight) if request.method == "POST" else (_opened(request, place, sight), None)
    response: HttpResponse
    if isinstance(answer, str):
        response = HttpResponseRedirect(answer)
    else:
        template = PART if request.headers.get(WANTS) == "main" else WHOLE
        response = render(request, template, {"page": _page(request, place, sight, answer, has)})
    keep_device(request, response)
    return response


def _posted(request: HttpRequest, place: Station, sight: Sight) -> tuple[Shows | str, hold_notice.Listed | None]:
    """What the form is answered, and the list of holds that its page had."""
    came = posted.read(request)
    has = hold_notice.hear(request, place, sight, came)
    refused = just_refused.carried(request, came.held)
    sight.aside = {just_refused.CARRIED: just_refused.token(request, refused)} if refused else {}
    before = dict(came.held)
    answer = Answering(request, place, sight, came).answer()
    if came.do == hold_notice.READ and isinstance(answer, Shows):
        answer.said = hold_notice.keep_read(request, place, sight, came, has)
    begun.keep(place, sight, before)
    if isinstance(answer, Shows):
        answer.refused = just_refused.follow(came, sight, refused, before, answer.verdict)
    return answer, has


def _opened(request: HttpRequest, place: Station, sight: Sight) -> Shows:
    """The page as it is opened: with what its address names, and what was left here."""
    sight.held = posted.held_in(request.GET, device_of(request).id)
    refused = just_refused.carried(request, sight.held)
    if people.came_beside(request, sight.held):
        sight.person = people.person_here(request)
    left = begun.left_by(place, sight.person) if set(sight.held) <= {LATE} else {}
    thing = sight.held.get(place.thing, "")
    sight.held = left | (begun.left_of(place, thing) if thing else {}) | sight.held
    see(place, sight)
    said = _("You left this here; go on with it.") if left else ""
    return Shows(still_refused(request, sight), said, refused=refused)


def _page(
    request: HttpRequest, place: Station, sight: Sight, shows: Shows, has: hold_notice.Listed | None
) -> StationPage:
    holds = hold_notice.notice(request, place, sight, has)
    refused = just_refused.token(request, shows.refused) if shows.refused else ""
    fields = _filled(place, sight, shows.errors or {})
    caution, _more = caution_words(str(place.caution))
    asked = asked_now(
        place,
        sight,
        fields,
        unread=cautions.unread(request, str(place.caution)),
        again=_again(place, fields, sight, shows),
    )
    shown = {name for f in fields for name in (f.name, f"{f.name}_how", f"{f.name}_words")}
    below = tuple(action for action in place.actions(sight) if action not in asked.actions)
    return StationPage(
        slug=place.slug,
        title=str(place.title),
        asked=asked,
        scan_id=str(uuid7()),
        place=place.place(sight),
        person=sight.person,
        people=people.names_here(request, people.helper_of(request, sight.text(people.HELPER))),
        caution=caution,
        caution_whole=str(place.caution),
        deferral=str(DEFERRAL) if place.caution else "",
        drawing=place.drawing(sight),
        rows=place.rows(sight) or said_so_far(place, sight, fields),
        verdict=just_refused.along(shows.verdict, refused),
        before=just_refused.notice(shows.refused, shows.verdict),
        said=shows.said or _helper_wanted(sight),
        fields=tuple(field for field in fields if field.name != asked.name),
        actions=(*below, *_last_off(place, sight), *_anew(place, sight)),
        again=sight.scanned is not None and place.again(sight, sight.scanned),
        carried={name: value for name, value in sight.held.items() if name not in shown}
        | {hold_notice.LISTED: holds.carried}
        | ({just_refused.CARRIED: refused} if refused else {}),
        holds=holds,
        takes_code=place.takes_code,
        takes_photo=place.takes_code,
    )


def _anew(place: Station, sight: Sight) -> tuple[Action, ...]:
    """What is put together can be put aside; nothing is recorded by it."""
    left = set(sight.held) - set(place.keeps) if place.half_done else set()
    return (press(ANEW, _("Begin anew"), "plain", below=True),) if left else ()


def _last_off(place: Station, sight: Sight) -> tuple[Action, ...]:
    """What was scanned last into a slot that gathers several can be taken out again."""
    shown = {action.value for action in place.actions(sight)}
    last = [off(sight.codes(slot.name)[-1]) for slot in place.slots(sight) if slot.many and sight.codes(slot.name)]
    return tuple(action for action in last if action.value not in shown)


def _again(place: Station, fields: tuple[Field, ...], sight: Sight, shows: Shows) -> str:
    """The figure that was refused: it is typed anew, over what stands there."""
    refused = shows.verdict is not None and shows.verdict.outcome == "refused"
    if not refused or sight.do not in ("send", ""):
        return ""
    if wanting(place, sight, fields) is not None:
        return ""
    return next((f.name for f in fields if f.kind in FIGURES and f.required and f.value), "")


def _helper_wanted(sight: Sight) -> str:
    if sight.text(people.WANTS_HELPER):
        return _("A second person can scan their badge now, a trained one for work that is to be witnessed.")
    return ""


def _ago(sight: Sight) -> tuple[Choice, ...]:
    """Moments gone by as they would be typed: the same one however often the form is sent."""
    words = {10: _("10 minutes ago"), 30: _("30 minutes ago"), 60: _("60 minutes ago")}
    then = ((timezone.localtime(sight.now - timedelta(minutes=m)), word) for m, word in words.items())
    return tuple(Choice(f"{at:%Y-%m-%dT%H:%M}", word) for at, word in then)


def _filled(place: Station, sight: Sight, errors: dict[str, str]) -> tuple[Field, ...]:
    fields = place.fields(sight)
    if sight.text(LATE):
        fields = (
            *fields,
            Field(
                HAPPENED,
                _("When it was done"),
                "when",
                required=True,
                choices=_ago(sight),
                ask=_("When was it done?"),
                hint=_("or the date and time that stand on the paper"),
            ),
        )
    return tuple(
        replace(
            one,
            value=sight.held.get(one.name, one.value),
            words=sight.held.get(f"{one.name}_words", one.words),
            error=errors.get(one.name, one.error),
        )
        for one in fields
    )
