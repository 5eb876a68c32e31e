"""The end of a shift: its lead hands over what is open on the floor, the next lead accepts it.

Neither does anything to what is listed: who weighed, loaded, cooked or demoulds it stays with each act.
"""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, words
from trace.recording.floor import words as say
from trace.recording.floor.shift_end import SORTS, Handed, handed
from trace.recording.floor.standing import Floor

SORT_WORDS = {
    "tubs": noop("Tubs weighed and not tipped"), "loaded": noop("Moulds loaded"),
    "cooking": noop("Cooking or cooling"), "waiting": noop("To be demoulded or bound"),
    "holds": noop("Holds that concern the floor"), "questions": noop("Open questions"),
}  # fmt: skip


# No floor has so many of one sort.
MOST = 1_000_000


@dataclass(frozen=True, kw_only=True)
class HandOver(Command):
    """What the shift leaves, by uid, each sort at most as far as the page lists it; `counts` says how many there are.

    shift, day: which one, "" where none is planned; due: ISO time by which the next lead is to have accepted it.
    """

    KIND = "shift_handed_over"
    NAME = noop("hand a shift over")
    DECISION = True

    shift: str
    day: str
    due: str
    tubs: tuple[str, ...] = ()
    loaded: tuple[str, ...] = ()
    cooking: tuple[str, ...] = ()
    waiting: tuple[str, ...] = ()
    holds: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()
    counts: tuple[int, ...] = ()
    remark: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Shift handed over: %(shift)s, %(day)s") % {"shift": e.says["shift"] or "?", "day": e.says["day"]}


def hand_over_facts(c: HandOver, floor: Floor) -> Facts:
    counted = len(c.counts) in (0, len(SORTS)) and all(isinstance(n, int) and 0 <= n < MOST for n in c.counts)
    return {"typed": {"trouble": "" if counted else "How many things are open could not be read."}}


@handles(HandOver, hand_over_facts)
def hand_over(c: HandOver, floor: Floor, rows: Rows) -> str:
    open_ = sum(c.counts)
    return f"shift {c.shift or 'without a name'} handed over, {open_} things open" if open_ else "shift handed over"


@dataclass(frozen=True, kw_only=True)
class AcceptShift(Command):
    """The next lead has read what was handed over. handover: the uid of the record that did it."""

    KIND = "shift_accepted"
    NAME = noop("accept a shift")
    DECISION = True

    handover: str
    giver: str = ""

    @staticmethod
    def told(e: Told) -> str:
        return _("Shift accepted from %(who)s") % {"who": e.name_of("person", str(e.says["giver"]))}


def accept_facts(c: AcceptShift, floor: Floor) -> Facts:
    given: Handed | None = next(iter(handed(c.handover)), None) if c.handover else None
    return {
        "shift": {
            "unknown": given is None or given.person != c.giver,
            "accepted": bool(given and given.accepted),
            "own": bool(given and given.person == floor.by.person),
            "who": say.person(given.by) if given and given.by else "nobody",
            "when": say.clock(given.accepted) if given and given.accepted else "never",
        }
    }


@handles(AcceptShift, accept_facts)
def accept(c: AcceptShift, floor: Floor, rows: Rows) -> str:
    return f"shift accepted from {say.person(c.giver)}"


def counted(says: dict[str, list[int]]) -> dict[str, int]:
    """How many things of each sort were handed over."""
    return dict(zip(SORTS, says.get("counts", []), strict=False))
