"""What a walk, a recall or a drill is asked for by its address: a hold, or the words of a cause as known on a day."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode
from uuid import UUID

from django.db import connection
from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext as _

from plant.errors import NotThere, NotUnderstood
from trace.genealogy.cause_said import said_of
from trace.genealogy.causes import CauseError, read_cause
from trace.genealogy.containment import Looked, looked_for, under_hold
from trace.genealogy.live import held_name
from trace.genealogy.sharing import shared_by
from trace.pages.asked import as_known_on
from trace.readmodels.rows import stamp
from trace.recording.acts import hold_words
from trace.speech import speak

HOLD = f"""
SELECT h.rule, {held_name("u")}, e.why, e.happened, e.person,
  EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id AND (r.unit IS NULL OR r.unit = h.unit))
  FROM hold h JOIN unit u ON u.id = h.unit JOIN event e ON e.id = h.event WHERE h.uid = %s
"""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is sought. `title` follows on “hulls”: “under the hold on …”, “that hold something of …”. `over`: the hold
    has ended. `known_on` is the moment at which a question was answered, as it is kept; `why` the reason of each hull
    by its uid, where one was asked for by its cause."""

    hold: str
    words: tuple[str, ...]
    known_on: str
    title: str
    hulls: tuple[Looked, ...]
    why: Mapping[str, str]
    over: bool = False

    @property
    def certain(self) -> tuple[str, ...]:
        return tuple(one.node.uid for one in self.hulls if not one.may)

    @property
    def may(self) -> tuple[str, ...]:
        return tuple(one.node.uid for one in self.hulls if one.may)


def asked_for(request: HttpRequest) -> Asked | None:
    """What the address (or the form sent to it) names, None where it names nothing. Raises NotThere, NotUnderstood."""
    sent = request.POST if request.method == "POST" else request.GET
    hold = sent.get("hold", "").strip()
    words = tuple(word for word in sent.getlist("q") if word.strip())
    known = as_known_on(request)
    if hold:
        return of_hold(hold, known)
    return of_question(words, known) if words else None


def of_hold(hold: str, known: datetime | None = None) -> Asked:
    """The hulls that a hold is on, as known then. Raises NotThere where there is no such hold."""
    title, over = hold_said(hold)
    units = [unit for unit, kind in under_hold(hold, known).items() if kind == "hull"]
    return Asked(hold, (), "", title, looked_for(units, (), known), {}, over)


def hold_said(hold: str) -> tuple[str, bool]:
    """(a hold as people say it, after “hulls”; whether it has ended). Raises NotThere."""
    with connection.cursor() as cursor:
        cursor.execute(HOLD, [uid_of(hold)])
        row = cursor.fetchone()
    if row is None:
        raise NotThere(what=_("There is no such hold."), why=_("A hold is named by the link at it."))
    rule, of, why, _when, _person, over = row
    reason = speak(hold_words.reason({"why": why, "rule": rule}))
    return _("under the hold on %(of)s: %(why)s") % {"of": of, "why": reason}, over


def of_question(words: Sequence[str], known: datetime | None = None) -> Asked:
    """The hulls that share a cause, certain and may. Raises NotUnderstood and NotThere, each of one sentence."""
    try:
        cause = read_cause(words)
        answer = shared_by(cause, known)
    except CauseError as error:
        raise NotUnderstood(what=str(error), why=_("The list is asked for by a cause."), now="") from None
    except LookupError as nothing:
        raise NotThere(what=str(nothing), why=_("A list is asked for by things that the records hold.")) from None
    sharing = [line for line in answer.lines if line.verdict != "cannot"]
    answer.look_up(sharing)
    may = {line.node.uid for line in sharing if line.verdict == "may"}
    why = {line.node.uid: line.why for line in sharing}
    units = looked_for([line.node.id for line in sharing], may, answer.as_known_on)
    return Asked("", tuple(words), stamp(answer.as_known_on), said(words), units, why)


def said(words: Sequence[str]) -> str:
    """A question that was asked before, after “hulls”: as people say it, in its own words where it cannot be read."""
    try:
        return _("that %(what)s") % {"what": said_of(read_cause(words))}
    except CauseError:
        return " ".join(words)


def uid_of(text: str) -> str:
    """A uid as it is kept. Raises NotThere for a text that is none."""
    try:
        return str(UUID(text.strip()))
    except ValueError:
        raise NotThere(what=_("That is no number of a record.")) from None


def address(name: str, *, hold: str = "", words: Sequence[str] = (), **more: str) -> str:
    """The address of one of these pages for a hold or a cause."""
    pairs = [("hold", hold)] if hold else [("q", word) for word in words]
    return f"{reverse(name)}?{urlencode([*pairs, *more.items()])}"
