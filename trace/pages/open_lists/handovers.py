"""Shifts handed over: those that nobody accepted in time wait; all are listed."""

from collections.abc import Sequence

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.genealogy.live import person_name
from trace.pages.open_lists.listed import Line, OpenList
from trace.pages.open_lists.picking import keys_of
from trace.recording.acts.shift_end import SORT_WORDS, counted
from trace.recording.floor import words as say
from trace.recording.floor.shift_end import Handed, handed
from trace.speech import names_of

# One that was never accepted is asked about for so many days, then it is past: common practice, no source.
DAYS = 7
ACCEPTED = """EXISTS (SELECT FROM event y WHERE y.kind = 'shift_accepted' AND y.id > e.id
  AND y.body::jsonb #>> '{says,handover}' = e.uid::text)"""
LATE = f"""FROM event e WHERE e.kind = 'shift_handed_over' AND e.happened > now() - interval '{DAYS} days'
  AND (e.body::jsonb #>> '{{says,due}}')::timestamptz < now() AND NOT {ACCEPTED}"""
COUNT = f"SELECT count(*), min(e.happened) {LATE}"
# The whole list, and that part of it which waits.
ROWS = f"""
SELECT e.uid::text AS key, e.happened AS since, CASE WHEN {ACCEPTED} THEN 'accepted' ELSE 'open' END AS kind,
  concat_ws(' ', e.body::jsonb #>> '{{says,shift}}', e.body::jsonb #>> '{{says,day}}',
    {person_name("e.person")}) AS words
"""
PICKS = f"{ROWS} FROM event e WHERE e.kind = 'shift_handed_over'"


def lines(skipped: int, most: int) -> list[Line]:
    """Those not accepted in time, oldest first."""
    return of(keys_of(f"{ROWS} {LATE}", skipped, most))


def of(keys: Sequence[str]) -> list[Line]:
    """The handovers of these uids, in their order."""
    found = [one for key in keys for one in handed(key)]
    names = names_of({who for one in found for who in (one.person, one.by) if who})
    return [_line(one, names) for one in found]


def _line(one: Handed, names: dict[str, str]) -> Line:
    taken = _("accepted by %(who)s, %(when)s") % {
        "who": names.get(one.by, one.by), "when": say.clock(one.accepted),
    } if one.accepted else _("not accepted; due by %(when)s") % {"when": say.clock(str(one.says["due"]))}  # fmt: skip
    said = [f"{_(SORT_WORDS[sort])}: {n}" for sort, n in counted(one.says).items() if n]
    return Line(
        what=_("Shift %(shift)s, %(day)s") % {"shift": one.says["shift"] or "?", "day": one.says["day"]},
        since=one.when,
        detail="; ".join((taken, *said)),
        who=names.get(one.person, one.person),
        do="" if one.accepted else _("Accept it"),
        do_url="" if one.accepted else reverse("station", args=["handover"]),
        key=one.uid,
    )


def kind_words(kind: str) -> str:
    return _("accepted") if kind == "accepted" else _("not accepted")


HANDOVERS = OpenList(
    "handovers", gettext_lazy("Shifts not accepted"), gettext_lazy("Handed over, and no lead accepted it in time"),
    gettext_lazy("Every shift that was handed over is accepted."), gettext_lazy("oldest first"), COUNT, lines, PICKS,
    of, kind_words, where="moulding",
)  # fmt: skip
