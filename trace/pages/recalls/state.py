"""How far a recall is: who was sent what, who has answered, and how much of it is put right, as known on a day."""

import csv
import io
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from urllib.parse import urlencode

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.codes import printed
from trace.codes.formulas import percent_of
from trace.genealogy.containment import Looked, listed, looked_for
from trace.genealogy.owners import first_purchaser, owners
from trace.genealogy.places import came_back
from trace.genealogy.recall import (
    OUTCOMES,
    RECALLED,
    Answered,
    Recall,
    Reply,
    Sent,
    by_consignee,
    replies,
    sent,
)
from trace.pages.recalls.contract import Effect, HullSent, ToConsignee
from trace.sheets.addresses import hull_url
from trace.sheets.facts.known import Known, known_of
from trace.sheets.facts.notes import notes

NOBODY = "unknown"


def outcome_words() -> dict[str, str]:
    return {
        "found": _("found, set aside"), "corrected": _("corrected"), "destroyed": _("destroyed"),
        "not found": _("not found"),
    }  # fmt: skip


@dataclass(frozen=True, slots=True)
class State:
    """A recall as known on a day: its hulls, how each left, the replies, and which have come back since it began."""

    hulls: tuple[Looked, ...]
    left: Mapping[int, Sent]
    said: Sequence[Reply]
    registered: frozenset[int]
    words: Known
    as_known_on: datetime | None
    back: frozenset[int] = frozenset()

    @property
    def gone(self) -> dict[str, list[Looked]]:
        """Consignee's key -> the hulls that went there; those nobody recorded last."""
        found: dict[str, list[Looked]] = {}
        for one in sorted((one for one in self.hulls if one.gone), key=lambda one: (one.gone == NOBODY, one.gone)):
            found.setdefault(one.gone, []).append(one)
        return found

    @property
    def answered(self) -> dict[str, Answered]:
        return by_consignee({key: [one.node.code for one in hulls] for key, hulls in self.gone.items()}, self.said)


def state_of(recall: Recall, known: datetime | None = None) -> State:
    """The recall as known then."""
    units = listed(recall.uid, known, RECALLED)
    hulls = looked_for(units, recall.may, known)
    since = {hull for hull, when in came_back(units, known).items() if when >= recall.begun}
    back = frozenset(one.node.id for one in hulls if one.node.id in since and not one.gone)
    return replace(state(hulls, replies(recall, known), known, recall.person), back=back)


def state(
    hulls: tuple[Looked, ...], said: Sequence[Reply] = (), known: datetime | None = None, person: str = ""
) -> State:
    """The same for hulls that nobody has recalled yet."""
    at = {one.last.place for one in hulls if one.last}
    people = {person, *(reply.person for reply in said)} - {""}
    left = sent([one.node.id for one in hulls if one.gone], known)
    told = owners([one.node.id for one in hulls if one.gone], known)
    registered = frozenset(hull for hull, said_of in told.items() if first_purchaser(said_of))
    return State(hulls, left, said, registered, known_of((), (), places=at, people=people, as_known_on=known), known)


def consignees(found: State, recall: Recall | None = None) -> tuple[ToConsignee, ...]:
    """Who was sent what, with what they answered."""
    contacts = notes([reply.contact for reply in found.said if reply.contact])
    answers = found.answered
    lines = []
    for key, hulls in found.gone.items():
        name = _("nobody recorded whom") if key == NOBODY else found.words.place(f"gone: {key}")
        who = dict.fromkeys(contacts.text(reply.contact) for reply in found.said if reply.consignee == key)
        lines.append(ToConsignee(
            key, name, tuple(_hull(one, found, answers[key]) for one in hulls), answers[key],
            letter_url=recall_url(recall.uid, letters="yes", consignee=key) if recall else "",
            reply_url=recall_url(recall.uid, consignee=key) if recall and key != NOBODY else "",
            contacts=tuple(text for text in who if text),
        ))  # fmt: skip
    return tuple(lines)


def _hull(one: Looked, found: State, answer: Answered) -> HullSent:
    left = found.left.get(one.node.id)
    day = ""
    if left:
        day = left.day or f"{timezone.localtime(left.happened):%Y-%m-%d}"
    return HullSent(
        code=one.node.said, url=hull_url(one.node.serial or "", found.as_known_on),
        model=str(one.node.about.get("product") or ""), may=one.may,
        pack=printed(left.pack) if left and left.pack else "",
        order=left.order if left else "", day=day, vehicle=left.vehicle if left else "",
        outcome=answer.named.get(one.node.code, ""), registered=one.node.id in found.registered,
    )  # fmt: skip


def effect(found: State) -> Effect:
    """Units corrected of units affected: those that had gone to somebody, also where they have come back since; what
    was here is stopped by its hold."""
    answers = found.answered.values()
    outcomes = Counter({outcome: sum(one.of(outcome) for one in answers) for outcome in OUTCOMES})
    back = len(found.back)
    gone = sum(one.sent for one in answers) + back
    corrected, ended = outcomes["corrected"], outcomes["corrected"] + outcomes["destroyed"] + back
    return Effect(
        listed=len(found.hulls), here=len(found.hulls) - gone, gone=gone, back=back, outcomes=dict(outcomes),
        open=sum(one.open for one in answers),
        corrected_percent=percent_of(corrected, gone) if gone else None,
        ended_percent=percent_of(ended, gone) if gone else None,
    )  # fmt: skip


def gaps(found: State, asked: Iterable[ToConsignee] = ()) -> Iterable[str]:
    """What the records cannot say of who has these hulls now. `asked`: who was sent a notice, once one was."""
    lost = len(found.gone.get(NOBODY, ()))
    if lost:
        yield ngettext(
            "Of %(n)d hull nobody recorded to whom it went.", "Of %(n)d hulls nobody recorded to whom they went.", lost
        ) % {"n": lost}
    if found.gone:
        gone = sum(len(hulls) for hulls in found.gone.values())
        yield _(
            "First purchasers are registered of %(known)d of the %(gone)d that have gone: each letter asks to pass it"
            " on and name who."
        ) % {"gone": gone, "known": len(found.registered)}
    unreached = [one.name for one in asked if one.unreached]
    if unreached:
        yield _("Not heard of yet: %(names)s.") % {"names": ", ".join(unreached)}


def recall_url(recall: str, **more: str) -> str:
    return f"{reverse('recall')}?{urlencode({'recall': recall, **more})}"


def as_file(known: Collection[ToConsignee]) -> HttpResponse:
    """A row a hull that has gone: to whom by key, never by name, since a file cannot be erased."""
    out = io.StringIO()
    rows = csv.writer(out)
    rows.writerow(["consignee", "hull", "model", "verdict", "pack", "order", "dispatched", "vehicle", "answer",
        "first purchaser",
    ])  # fmt: skip
    for to in known:
        for hull in to.hulls:
            rows.writerow([
                to.key, hull.code, hull.model, "may" if hull.may else "listed", hull.pack, hull.order, hull.day,
                hull.vehicle, hull.outcome, "registered" if hull.registered else "not registered",
            ])  # fmt: skip
    response = HttpResponse(out.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="recall.csv"'
    return response

