"""What a carrier holds while its history is gone through, the steps of that history, and what a mix is called."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import chain, count
from typing import Any

from trace.genealogy.mixes import materials_of, said_of
from trace.recording.floor.changes import BEFORE, Changes, Counted, Emptied, Put, Stood, Took
from trace.recording.told_late.history import COUNTED, Content, History, first_given

# The worst first: of what is mixed the worse of the two stands.
USED_AS = ("quarantine", "conditionally released", "released")

Tolerance = Callable[[dict[str, Any], int], int]


@dataclass(eq=False)
class Run:
    """One content as it comes out of the history. Amounts in `uom`, None where nobody knows how much there is.

    uid: "" for one that is not recorded so yet. old: the record of what this one is. fixed: it stays that record,
    however the book goes on. status: what it may be used as while it is not used or filled up. end: what became of it.
    differences: what the book is off by, and what a person counted, by cause and time.
    """

    uid: str
    kind: str
    uom: str
    amount: int | None
    about: dict[str, Any]
    lot_no: str | None
    balance: int | None
    status: str | None
    old: Content | None = None
    fixed: bool = False
    part: bool = False
    end: str = ""
    found: int = 0
    # The last difference is what a person counted.
    counted: bool = False
    place: str | None = None
    # What it is when it is empty, if not used up.
    gone: str = ""
    # What it could be used as when it came in.
    first: str | None = None
    differences: dict[tuple[str, datetime], tuple[int, int | None]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.first = self.status

    @property
    def left(self) -> int:
        return max(self.balance or 0, 0)

    @property
    def holds(self) -> bool:
        """Something is in it, as far as anybody knows; an amount that nobody recorded is not nothing."""
        return self.balance is None or self.balance > 0

    def differs(self, cause: str, at: datetime, by: int, left: int | None = None) -> None:
        if by or left is not None:
            self.counted = cause == COUNTED
            before = self.differences.get((cause, at), (0, None))[0]
            self.differences[cause, at] = before + by, left
        if self.balance is not None:
            self.balance += by

    def same(self) -> bool:
        """Whether what is recorded of it is what comes out now."""
        if self.fixed or self.old is None:
            return self.uid != ""
        if self.amount != self.old.amount:
            return False
        # Of a charge the record says what it was weighed as; its lots are read from what went into it.
        return self.kind == "charge" or (
            named(self.about) == named(self.old.about)
            and (self.lot_no or None) == (self.old.lot_no or None)
            and self.first in (first_given(self.old.statuses), None)
        )


@dataclass(eq=False)
class Way:
    """Something went from `parent` into `child`, or (parent None) nobody knows out of what. edge, missed: the record
    that says so already."""

    took: Took
    child: Run | str
    parent: Run | str | None
    amount: int | None
    edge: dict[str, Any] | None = None
    missed: dict[str, Any] | None = None
    # It left a carrier before what is gone through of that begins.
    before: bool = False


@dataclass(eq=False)
class Goes:
    """A carrier while it is gone through."""

    uid: str
    history: History
    now: Run | None = None
    runs: list[Run] = field(default_factory=list)
    entries: list[tuple[Run | None, datetime]] = field(default_factory=list)
    # What was taken from it while it was empty, but may have been a little later.
    waiting: list[Way] = field(default_factory=list)

    def begin(self, run: Run | None, at: datetime) -> None:
        # What began in the same moment began in the order in which it is told: no two of them share a time.
        if self.entries and at <= self.entries[-1][1]:
            at = self.entries[-1][1] + BEFORE
        if run is not None:
            self.runs.append(run)
        self.entries.append((run, at))
        self.now = run

    def begun(self, edge: dict[str, Any]) -> bool:
        """True when what left it is gone through: it left after the beginning, or what came in after that."""
        return edge["at"] > self.history.start or any(edge["parent"] == x.uid for x in self.history.later)

    def held(self, first: datetime, last: datetime) -> list[Run]:
        """What was in it at any moment from `first` to `last`."""
        ends = [since for _, since in self.entries[1:]] + [None]
        times = zip(self.entries, ends, strict=True)
        return [u for (u, since), end in times if u and since <= last and (end is None or end >= first)]


@dataclass(frozen=True)
class Step:
    at: datetime
    order: int
    carrier: str
    content: Content | None = None
    way: Way | None = None
    put: Put | None = None
    stood: Stood | None = None
    emptied: Emptied | None = None
    counted: Counted | None = None
    decided: str = ""
    of_lot: str | None = None


def named(about: dict[str, Any]) -> dict[str, Any]:
    """What of a content's words depends on what was mixed in it."""
    words = ("material", "materials", "supplier", "origin", "lot", "expires")
    return {k: about[k] for k in words if about.get(k) is not None}


def mixed_about(
    heel: tuple[dict[str, Any], str | None] | None, about: dict[str, Any], lot_no: str | None
) -> dict[str, Any]:
    """`lot_no` and `about` of a content made of a heel and an addition: the lot only where both are of one lot, and
    the materials of both."""
    same = heel is None or heel[0].get("lot") == about.get("lot")
    # Of one lot both are from one supplier, though a charge does not say which.
    one = heel[0] if heel is not None and same else {}
    keep = {k: about.get(k) or one.get(k) for k in ("supplier", "origin")}
    keep |= said_of([*materials_of(about), *(materials_of(heel[0]) if heel else [])])
    dates = [str(a["expires"]) for a in ([heel[0]] if heel else []) + [about] if a.get("expires")]
    if same:
        keep["lot"] = about.get("lot")
    elif heel is not None and heel[0].get("origin"):
        keep["origin"] = heel[0]["origin"]
    return {"lot_no": lot_no if same else None, "about": {**keep, "expires": min(dates, default=None)}}


def worse(one: str | None, other: str | None) -> str | None:
    """Of the statuses of two that are mixed the one that stands."""
    found = [s for s in USED_AS if s in (one, other)]
    return found[0] if found else one


def as_took(carrier: str | None, edge: dict[str, Any]) -> Took:
    return Took(
        carrier, edge["at"], edge["child"], edge["amount"], edge["uom"] or "mg", edge["role"], edge["layer"],
        edge["position"], edge["of"], timedelta(milliseconds=edge["unsure_ms"] or 0),
    )  # fmt: skip


def gap_of(took: Took) -> tuple[str, str]:
    """The gap that it leaves in its child where nobody knows its source: (what, which), as Rows.missed says it."""
    tipped_empty = took.role == "charge" and took.layer is None
    return "charge" if tipped_empty else "source", took.layer or took.position or took.role


def nth_empty(tub: str, taken: Iterable[tuple[str, str]]) -> str:
    """The name of the gap that a tub leaves which was tipped with nothing in it, beside those `taken` of the same load
    (what, which): the second time another one."""
    names = [which for what, which in taken if what == "charge"]
    return next(name for name in chain([tub], (f"{tub} ({n})" for n in count(2))) if name not in names)


def said_again(changes: Changes) -> set[tuple[str, str]]:
    """The missing sources that this very event puts right: (child, event that first said so)."""
    return {(e["child"], e["of"]) for e in changes.withdrawn if e["n"] is None}


def _told_of(carrier: Goes, changes: Changes) -> list[Step]:
    """What the records say came into a carrier, and what was found when it was emptied, counted or released."""
    uid, history = carrier.uid, carrier.history
    steps = [Step(changes.moved.get(c.uid, c.since), 0, uid, content=c) for c in history.later]
    again = [at for other, at, _ in changes.filled_again if other == uid]
    struck = {of for _, _, of in (*changes.filled_again, *changes.uncounted)}
    proved = {at for at, of in history.proved if of not in struck}
    emptied = [at for at in history.emptied if at in proved or not any(abs(at - x) <= BEFORE for x in again)]
    steps += [Step(at, 2, uid, emptied=Emptied(uid, at, proved=at in proved)) for at in emptied]
    steps += [Step(at, 2, uid, counted=Counted(uid, at, left)) for at, left, of in history.counts if of not in struck]
    steps += [Step(at, 2, uid, decided=status, of_lot=lot) for at, status, lot in history.decided]
    return steps


def _left(carrier: Goes, edges: list[dict[str, Any]], later: set[str]) -> list[Step]:
    """What the edges say went out of a carrier since its beginning, apart from its heels."""
    known = {x.uid for x in carrier.history.contents}
    return [
        Step(e["at"], 1, carrier.uid, way=Way(as_took(carrier.uid, e), e["child"], None, e["amount"], edge=e))
        for e in edges
        if e["parent"] in known and e["role"] != "heel" and e["child"] not in later and carrier.begun(e)
    ]


def _left_while_empty(carrier: Goes, righted: set[tuple[str, str]], later: set[str]) -> list[Step]:
    """What went out of a carrier since its beginning while it was empty by the book, as far as that still stands."""
    uid, history = carrier.uid, carrier.history
    return [
        Step(m["at"], 1, uid, way=Way(as_took(uid, m), m["child"], None, m["amount"], missed=m))
        for m in history.missed
        if m["carrier"] == uid and m["at"] > history.start and m["child"] not in later
        and (m["child"], m["of"]) not in righted
    ]  # fmt: skip


def _new_steps(changes: Changes, later: set[str]) -> list[Step]:
    """What this act itself says happened."""
    steps = [Step(p.at, 0, p.carrier, put=p) for p in changes.put]
    steps += [Step(s.at, 0, s.carrier, stood=s) for s in changes.stood]
    steps += [Step(e.at, 2, e.carrier, emptied=e) for e in changes.emptied]
    steps += [Step(x.at, 2, x.carrier, counted=x) for x in changes.counted]
    steps += [
        Step(t.at, 1, t.carrier, way=Way(t, t.child, None, t.amount))
        for t in changes.took
        if t.carrier is not None and t.child not in later
    ]
    return steps


def steps_in_order(
    carriers: dict[str, Goes], changes: Changes, edges: list[dict[str, Any]], later: set[str]
) -> list[Step]:
    """All that happened to these carriers since their beginnings, and all that is new, in the order of time.

    What went into a content of `later` is no step of its own: it is gone through with that content.
    """
    steps: list[Step] = []
    righted = said_again(changes)
    for carrier in carriers.values():
        steps += _told_of(carrier, changes)
        steps += _left(carrier, edges, later)
        steps += _left_while_empty(carrier, righted, later)
    steps += _new_steps(changes, later)
    return sorted(steps, key=lambda s: (s.at, s.order))
