"""Carriers and their contents while a replay goes through them, step by step."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from trace.genealogy.mixes import materials_of, said_of
from trace.recording.floor.changes import Changes, Counted, Emptied, Put, Stood, Took
from trace.recording.told_late.history import Content, History

# States in which a content may still be used or wait; the others it leaves behind when it is filled or used up.
LASTING = (
    "quarantine", "released", "conditionally released", "made before records", "part weighed", "weighed",
)  # fmt: skip

# The worst first: of what is mixed the worse of the two stands.
USED_AS = ("quarantine", "conditionally released", "released")

Tolerance = Callable[[dict[str, Any], int], int]


@dataclass
class Run:
    """One content as it comes out of the replay."""

    uid: str
    kind: str
    uom: str
    amount: int
    about: dict[str, Any]
    lot_no: str | None
    balance: int
    old: Content | None = None
    made: bool = False
    automatic: dict[datetime, int] = field(default_factory=dict)
    # When somebody counted what was in it: what that was, and by how much the book was off.
    counts: dict[datetime, tuple[int, int]] = field(default_factory=dict)
    touched: bool = False
    # What it may be used as while it is not used up or filled up, where that is not what the records say of it.
    used_as: str | None = None
    end: str = ""


@dataclass
class Goes:
    """A carrier while it is gone through. `dirty`: what is in it differs from what the records said so far."""

    uid: str
    history: History
    now: Run | None = None
    dirty: bool = False
    runs: list[Run] = field(default_factory=list)
    entries: list[tuple[str | None, datetime]] = field(default_factory=list)
    # What was taken from it while it was empty, but may have been a little later: with the edge that said so.
    waiting: list[tuple[Took, dict[str, Any] | None]] = field(default_factory=list)

    def begin(self, run: Run | None, at: datetime) -> None:
        if run is None:
            self.entries.append((None, at))
        else:
            self.runs.append(run)
            self.entries.append((run.uid, at))
        self.now = run

    def begun(self, edge: dict[str, Any]) -> bool:
        """True when what left it is gone through: it left after the beginning, or what came in after that."""
        return edge["at"] > self.history.start or any(edge["parent"] == x.uid for x in self.history.later)

    def held(self, first: datetime, last: datetime) -> list[str]:
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
    edge: dict[str, Any] | None = None
    took: Took | None = None
    missed: bool = False
    put: Put | None = None
    stood: Stood | None = None
    emptied: Emptied | None = None
    counted: Counted | None = None


def mixed_about(
    heel: tuple[dict[str, Any], str | None] | None, about: dict[str, Any], lot_no: str | None
) -> dict[str, Any]:
    """`lot_no` and `about` of a content made of a heel and an addition: the lot only where both are of one lot, and
    the materials of both."""
    same = heel is None or heel[0].get("lot") == about.get("lot")
    keep = {k: about.get(k) for k in ("supplier", "origin")}
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


def as_it_was(content: Content, balance: int) -> Run:
    return Run(
        content.uid, content.kind, content.uom, content.amount, content.about, content.lot_no, balance, old=content
    )


def as_took(carrier: str | None, edge: dict[str, Any], child: str) -> Took:
    return Took(
        carrier, edge["at"], child, edge["amount"], edge["uom"] or "mg", edge["role"], edge["layer"],
        edge["position"], edge["of"], timedelta(milliseconds=edge["unsure_ms"] or 0),
    )  # fmt: skip


def is_missed(changes: Changes, missed: dict[str, Any]) -> bool:
    """False for what is put right by this very event."""
    said = {(e["child"], e["of"]) for e in changes.withdrawn if e["n"] is None}
    return (missed["child"], missed["of"]) not in said


def steps_in_order(
    carriers: dict[str, Goes], changes: Changes, edges: list[dict[str, Any]], later: set[str]
) -> list[Step]:
    """All that happened to these carriers since their beginnings, and all that is new, in the order of time.

    What went into a content of `later` is no step of its own: it is gone through with that content.
    """
    steps = []
    for uid, carrier in carriers.items():
        known = {x.uid for x in carrier.history.contents}
        steps += [Step(c.since, 0, uid, content=c) for c in carrier.history.later]
        again = [at for other, at in changes.filled_again if other == uid]
        emptied = [at for at in carrier.history.emptied if at not in again]
        steps += [Step(at, 2, uid, emptied=Emptied(uid, at, proved=False)) for at in emptied]
        steps += [Step(at, 2, uid, counted=Counted(uid, at, left)) for at, left in carrier.history.counts.items()]
        steps += [
            Step(e["at"], 1, uid, edge=e)
            for e in edges
            if e["parent"] in known and e["role"] != "heel" and e["child"] not in later
            and carrier.begun(e)
        ]  # fmt: skip
        steps += [
            Step(m["at"], 1, uid, took=as_took(uid, m, m["child"]), missed=True)
            for m in carrier.history.missed
            if m["carrier"] == uid
            and m["at"] > carrier.history.start
            and m["child"] not in later
            and is_missed(changes, m)
        ]
        # From where something was withdrawn, the rest of the history is another one.
        steps += [Step(e["at"], 1, uid) for e in changes.withdrawn if e["parent"] in known]
    steps += [Step(p.at, 0, p.carrier, put=p) for p in changes.put]
    steps += [Step(s.at, 0, s.carrier, stood=s) for s in changes.stood]
    steps += [Step(e.at, 2, e.carrier, emptied=e) for e in changes.emptied]
    steps += [Step(x.at, 2, x.carrier, counted=x) for x in changes.counted]
    steps += [Step(t.at, 1, t.carrier, took=t) for t in changes.took if t.carrier is not None and t.child not in later]
    return sorted(steps, key=lambda s: (s.at, s.order))


def status_of(run: Run, *, now: bool) -> str | None:
    """The status a content comes out with, None where it keeps the one it has. `now`: it is in its carrier still."""
    was = run.old.status if run.old is not None else None
    if run.end == "as made":
        return None
    status = run.end or run.used_as or (was if was in LASTING else "released")
    if now and run.balance <= 0:
        status = "used up"
    if run.kind == "charge":
        # One whose tip is withdrawn was not tipped, unless all of it went into another; else it stays what it is.
        passed = run.end == "tipped" or (run.end == "topped up" and run.balance <= 0)
        status = run.end if passed else "weighed" if was == "tipped" else was or status
    return status if status != was or run.made else None
