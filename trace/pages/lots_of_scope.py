"""The holds of their own on lots that a scope names: they stay in force when the hold on the scope ends."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from django.urls import reverse
from django.utils.http import urlencode

from plant.access import allowed
from plant.sign_on import SignedOn
from trace.genealogy.cause_words import WORDS, Certified
from trace.genealogy.causes import All, Cause, CauseError, Holds, Not, Simple, Some, Supplied, Within
from trace.genealogy.certificates import certificates, lots_within
from trace.genealogy.find import find_unit
from trace.genealogy.live import id_array
from trace.genealogy.prepared import fetch_rows
from trace.pages.open_lists.holds import IN_FORCE
from trace.recording.acts import hold_words
from trace.recording.acts.holds import ReleaseHold
from trace.recording.commands import By
from trace.recording.floor import words as say
from trace.recording.record import record
from trace.sheets.addresses import lot_url
from trace.speech import speak, spoken

OF_LOTS = f"""
SELECT h.uid::text, l.uid::text, COALESCE(l.lot_no, l.uid::text), h.rule, COALESCE(e.why, ''), COALESCE(e.person, ''),
  e.happened
  FROM hold h JOIN unit l ON l.id = h.unit AND l.kind = 'lot' JOIN event e ON e.id = h.event
 WHERE (l.id = ANY (%(lots)s::bigint[]) OR l.about->>'supplier' = ANY (%(suppliers)s::text[])) AND {IN_FORCE}
 ORDER BY h.id
"""


@dataclass(frozen=True, slots=True)
class LotHold:
    """One hold of a lot in force. `end_url`: the form that ends it, "" for those who may not."""

    uid: str
    lot: str
    url: str
    why: str
    who: str
    when: datetime
    end_url: str


def named_lots(cause: Cause) -> tuple[list[int], list[str]]:
    """The lots that the cause names, also by what their certificates say, and the suppliers; none of what it rules out,
    or of what is known no more."""
    parts = _not_ruled_out(cause)
    lots = []
    for part in parts:
        if isinstance(part, Holds):
            try:
                lots.append(find_unit(part.code))
            except (CauseError, LookupError):
                continue
        elif isinstance(part, Within) and isinstance(WORDS[part.word], Certified):
            lots += lots_within(part, certificates(part.of))
    return lots, [part.supplier for part in parts if isinstance(part, Supplied)]


def _not_ruled_out(cause: Cause) -> list[Simple]:
    if isinstance(cause, All | Some):
        return [one for part in cause.parts for one in _not_ruled_out(part)]
    return [] if isinstance(cause, Not) else [cause]


def holds_of_lots(cause: Cause, person: SignedOn | None) -> tuple[LotHold, ...]:
    """Those in force on the lots that the cause names, by number or supplier, the oldest first."""
    lots, suppliers = named_lots(cause)
    if not lots and not suppliers:
        return ()
    rows: list[Any] = fetch_rows(OF_LOTS, {"lots": id_array(lots), "suppliers": suppliers})
    may = may_end(person)
    words = spoken([
        text for row in rows for text in (
            hold_words.reason({"why": row[4], "rule": row[3]}), say.person(row[5]) if row[5] else ""
        )
    ])  # fmt: skip
    return tuple(
        LotHold(
            uid, number, lot_url(lot), words[2 * n], words[2 * n + 1], happened,
            f"{reverse('open_list', args=['holds'])}?{urlencode({'act': 'end', 'of': uid})}#form" if may else "",
        )
        for n, (uid, lot, number, _rule, _why, _person, happened) in enumerate(rows)
    )  # fmt: skip


def may_end(person: SignedOn | None) -> bool:
    """Whoever may end any other hold."""
    return person is not None and allowed(person.roles, "station", "POST", {"slug": "release-hold"}, person.tasks)


def end_each(
    ticked: Sequence[str], holds: Sequence[LotHold], person: SignedOn, reason: str, form: UUID
) -> list[str]:
    """End those of these holds that were ticked, each under its own rules; why one was not, in a sentence each. The
    ids follow from the form's, so that twice is as once."""
    refused = []
    for hold in holds:
        if hold.uid in ticked and hold.end_url:
            by = By(person=person.person, station="release-hold", scan_id=uuid5(form, f"end {hold.uid}"))
            answer = record(ReleaseHold(hold=hold.uid, reason=reason), by)
            if answer.outcome == "refused":
                refused.append(speak(f"{hold.lot}: {answer.what} {answer.why} {answer.now}"))
    return refused
