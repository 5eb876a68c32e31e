"""Replays the logs of carriers from a moment on, when a late fact or a correction changes what was in them.

What is recorded of them since, and what is told now, is gone through in the order in which it happened (derive.py);
what comes out otherwise than it is recorded stands in the rows of the late event: contents made anew, draws withdrawn
and added again, differences of the same name, so that walk, balance and holds agree whatever was told first. What a
carrier held after it was proved empty, or a charge weighed into an empty tub, does not depend on what was before and
stays as it is.
"""

from collections import Counter
from dataclasses import replace
from datetime import datetime
from typing import Any

from trace.readmodels.rows import Rows, stamp
from trace.recording.floor.changes import BEFORE, Changes, Took, content_of
from trace.recording.floor.units import UnitFacts, labels_of, read_units
from trace.recording.told_late.contents import Goes, Run, Tolerance, Way, as_took, gap_of, nth_empty, said_again
from trace.recording.told_late.derive import derive
from trace.recording.told_late.derived import FILL, NOT_FOUND, Derived
from trace.recording.told_late.history import COUNTED, PASSED, Content, history_of, usable_as

MADE_ANEW = "made anew by a late record"
BY_THE_BOOK = (FILL, NOT_FOUND, COUNTED)
# What a content may be while it waits or is used; of other statuses (scrapped) a replay knows nothing.
LASTING = (
    "quarantine", "released", "conditionally released", "made before records", "part weighed", "weighed", "unknown",
)  # fmt: skip


def replay(rows: Rows, changes: Changes, tolerance: Tolerance, recorded: datetime) -> None:
    """Fill `rows` with all that `changes` make different. `tolerance(about, amount)`: what a content may hold more."""
    starts = changes.starts()
    histories = {uid: history_of(uid, at) for uid, at in starts.items()}
    while True:
        derived = derive(histories, changes, tolerance, rows.parts)
        more = _further(derived)
        if not more:
            break
        histories |= {uid: history_of(uid, at) for uid, at in more.items()}
    _Writing(rows, changes, derived, stamp(recorded)).write()


def _further(derived: Derived) -> dict[str, datetime]:
    """Carriers not gone through so far, or not from so early on, that were filled out of what is another content now:
    the moments before."""
    filled = {way.child for way in derived.ways if isinstance(way.child, str) and _otherwise(way)}
    found: dict[str, datetime] = {}
    for carrier, since in content_of({str(child) for child in filled}).values():
        goes = derived.carriers.get(carrier)
        if goes is None or since <= goes.history.start:
            found[carrier] = min(since - BEFORE, found.get(carrier, since))
    return found


def _otherwise(way: Way) -> bool:
    """Whether what was topped up with is not what the records say that it was."""
    if way.took.role != "topup" or isinstance(way.parent, str):
        return False
    if way.edge is None:
        return way.parent is not None
    if way.parent is None or not way.parent.same() or way.parent.uid != way.edge["parent"]:
        return True
    return usable_as(way.edge["parent_statuses"], way.edge["at"]) != way.parent.status


class _Writing:
    """Writes what comes out of a history otherwise than it is recorded."""

    def __init__(self, rows: Rows, changes: Changes, derived: Derived, recorded: str) -> None:
        self.rows, self.changes, self.derived, self.recorded = rows, changes, derived, recorded
        # What each content is called from now on.
        self.uids: dict[int, str] = {}
        self.loads: dict[str, UnitFacts] = {}

    def write(self) -> None:
        for edge in self.changes.withdrawn:
            if edge["n"] is not None:
                self.rows.void(edge["event"], edge["n"])
        for carrier in self.derived.carriers.values():
            for run in carrier.runs:
                self._unit(carrier, run)
        self._name_empty_tubs()
        self._edges()
        self._layers()
        self._gaps()
        self._mays()
        for carrier in self.derived.carriers.values():
            for run in carrier.runs:
                self._retire(run)
                self._differences(carrier, run)
                self._status(carrier, run)
            self._log(carrier)
        self._looks()
        self._holds()

    def _uid(self, unit: Run | str) -> str:
        return unit if isinstance(unit, str) else self.uids.get(id(unit), unit.uid)

    def _unit(self, carrier: Goes, run: Run) -> None:
        if run.same():
            return
        uid = self.rows.unit(
            run.kind, amount=run.amount, uom=run.uom, carrier=carrier.uid, lot_no=run.lot_no, about=run.about,
            place=run.place, status=run.first or "released",
        )  # fmt: skip
        if run.old is not None:
            self.rows.remade[uid] = run.old.uid
        self.uids[id(run)] = uid

    def _load(self, uid: str) -> UnitFacts:
        """A load as it stands before this is written."""
        if uid not in self.loads:
            self.loads |= read_units([uid])
        return self.loads[uid]

    def _anew(self, run: Run) -> bool:
        """Whether it stands in the place of a record."""
        return run.old is not None and id(run) in self.uids

    # -- edges --------------------------------------------------------------------------------------------------------

    def _edges(self) -> None:
        """What went into each content in the order in which they came to be: a parent has its own before its child."""
        into: dict[int, list[Way]] = {}
        for way in self.derived.ways:
            # The charge that the act itself weighs is named by its uid.
            child = self.derived.runs.get(way.child) if isinstance(way.child, str) else way.child
            into.setdefault(id(child) if child is not None else 0, []).append(way)
        heels = {id(way.child): way for way in self.derived.heels}
        every = [(since, n, run) for c in self.derived.carriers.values() for n, (run, since) in enumerate(c.entries)]
        for _, _, run in sorted(every, key=lambda x: x[:2]):
            if id(run) in heels:
                self._heel(heels[id(run)])
            for way in into.pop(id(run), []):
                self._way(way)
        for ways in into.values():
            for way in ways:
                self._way(way)
        self._no_heels()

    def _no_heels(self) -> None:
        wanted = {id(way.edge) for way in self.derived.heels if way.edge is not None}
        for edge in self.derived.edges:
            # One that is in nothing any more.
            if edge["role"] == "heel" and edge["child"] in self.derived.later and id(edge) not in wanted:
                self.rows.void(edge["event"], edge["n"])

    def _heel(self, way: Way) -> None:
        child, parent, edge = self._uid(way.child), self._uid(way.parent or ""), way.edge
        if edge is not None and (edge["child"], edge["parent"], edge["amount"]) == (child, parent, way.amount):
            return
        if edge is not None:
            self.rows.void(edge["event"], edge["n"])
        self.rows.edge(child, parent, "heel", amount=way.amount, uom=way.took.uom, layer=way.took.layer)

    def _way(self, way: Way) -> None:
        """An edge of the records stays where nothing about it changes."""
        if way.parent is None:
            if way.edge is not None:
                self.rows.void(way.edge["event"], way.edge["n"])
            return
        child, parent = self._uid(way.child), self._uid(way.parent)
        if way.edge is not None:
            said = tuple(way.edge[name] for name in ("child", "parent", "amount", "layer"))
            if said == (child, parent, way.amount, way.took.layer):
                return
            self.rows.void(way.edge["event"], way.edge["n"])
        if way.amount != 0:
            self._edge(way.took, child, parent, way.amount)
        if way.took.role == "charge" and ("layer", way.took.layer) in self._load(child).gaps:
            # A tub in which nothing was by the book, or that is told of late, or of which another layer was said.
            self.rows.gap_closed(child, "layer", str(way.took.layer))

    def _edge(self, took: Took, child: str, parent: str, amount: int | None) -> None:
        self.rows.edge(
            child, parent, took.role, amount=amount, uom=took.uom, layer=took.layer, position=took.position,
            at=took.at, of=took.of,
        )  # fmt: skip

    def _layers(self) -> None:
        """What was tipped may prove to be of another layer than was said. The one that is missing then is a gap of a
        load that is closed already."""
        for uid, other in sorted(self._of_another_layer().items()):
            load = self._load(uid)
            for layer in _no_more_in(load, other):
                if load.status != "open":
                    self.rows.gap(uid, "layer", layer)
            if any(proved is not None for _, proved in other):
                self.rows.discrepancy_once("another layer was tipped than was said", uid)

    def _of_another_layer(self) -> dict[str, list[tuple[str, str | None]]]:
        """Load -> the layers said and proved (None: of an empty tub), of each tip into it where the two differ."""
        tipped = [e for e in (*self.derived.edges, *self.changes.withdrawn) if e["role"] == "charge" and e["layer"]]
        said = {(e["of"], e["child"]): e["layer"] for e in tipped}
        proved = {(w.took.of, self._uid(w.child)): w.took.layer for w in self.derived.ways if w.took.role == "charge"}
        found: dict[str, list[tuple[str, str | None]]] = {}
        for key, layer in proved.items():
            if said.get(key, layer) != layer:
                found.setdefault(key[1], []).append((said[key], layer))
        return found


    def _name_empty_tubs(self) -> None:
        """What was tipped out of a tub with nothing left in it is named as if it had been told so: by the tub."""
        empty = [w for w in self.derived.ways if w.parent is None and gap_of(w.took)[0] == "charge"]
        unnamed = [w for w in empty if w.took.position is None]
        codes = labels_of({w.took.carrier for w in unnamed if w.took.carrier})
        for way in unnamed:
            child = self._uid(way.child)
            named = [gap_of(w.took) for w in empty if self._uid(w.child) == child and w.took.position is not None]
            tub = codes.get(way.took.carrier or "", "tub")
            way.took = replace(way.took, position=nth_empty(tub, [*self._load(child).gaps, *named]))

    def _gaps(self) -> None:
        """What nobody knows the source of: a gap while it is so, closed when it is known."""
        wanted = {(self._uid(w.child), *gap_of(w.took)) for w in self.derived.ways if w.parent is None}
        closed = {(m["child"], *gap_of(as_took(None, m))) for m in self._missed_so_far()}
        for child, what, which in sorted(closed - wanted):
            self.rows.gap_closed(child, what, which)
        for way in self.derived.ways:
            if way.parent is not None:
                continue
            took, child, missed = way.took, self._uid(way.child), way.missed
            if missed is not None and (missed["child"], missed["carrier"]) == (child, took.carrier):
                continue
            self.rows.missed(
                took.carrier, child, took.role, amount=way.amount, uom=took.uom, layer=took.layer,
                position=took.position, at=took.at, of=took.of,
            )  # fmt: skip

    def _missed_so_far(self) -> list[dict[str, Any]]:
        """The records of missing sources that are gone through here."""
        gone_through = [w.missed for w in self.derived.ways if w.missed is not None]
        righted = said_again(self.changes)
        every = [m for c in self.derived.carriers.values() for m in c.history.missed]
        gone_through += [e for e in self.changes.withdrawn if e["n"] is None]
        return gone_through + [m for m in every if (m["child"], m["of"]) in righted]

    def _mays(self) -> None:
        """Whatever else it may have been has an edge without an amount."""
        d = self.derived
        wanted: dict[tuple[Any, ...], Took] = {}
        for took, child, run in d.open_ways:
            wanted[self._uid(child), self._uid(run), took.of, took.role, took.layer, took.position] = took
        for edge in d.mays:
            child, parent = edge["child"], edge["parent"]
            way = edge["of"], edge["role"], edge["layer"], edge["position"]
            now = self._uid(d.runs.get(child, child))
            if wanted.pop((child, parent, *way), None) is None and (parent in d.home or now != child):
                self.rows.void(edge["event"], edge["n"])
                if parent not in d.home:
                    self._edge(as_took(None, edge), now, parent, None)
        for (child, parent, *_), took in wanted.items():
            self._edge(took, child, parent, None)

    # -- what stands of each content ----------------------------------------------------------------------------------

    def _retire(self, run: Run) -> None:
        """A content made anew stands empty; what a person laid on or booked in it goes over to the new one."""
        if not self._anew(run):
            return
        content, uid = run.old, self._uid(run)
        assert content is not None  # noqa: S101 - anew is what was recorded
        left = (content.amount or 0) + sum(d["amount"] for d in content.differences)
        if left and content.amount is not None:
            self.rows.difference(content.uid, -left, content.uom, MADE_ANEW)
        for found in content.differences:
            if found["cause"] not in (*BY_THE_BOOK, MADE_ANEW):
                self.rows.difference(uid, found["amount"], content.uom, found["cause"], at=found["at"])
        self.rows.status(content.uid, "made anew", at=self.recorded)
        for hold, rule in content.holds:
            # The same hold, on what stands in its place: ended on the one it is ended for the other.
            self.rows.release_hold(hold, None)
            self.rows.hold(uid, rule)
        for hold in content.freed:
            self.rows.release_hold(hold, uid)
        for event, n, kind in content.judged:
            # A hold names the first rule alone: what the others said has to be seen where the hold is.
            self.rows.close_discrepancy(event, n)
            self.rows.discrepancy_once(kind, uid)
        known = ("source", "charge", *(["lot number"] if run.lot_no else []))
        for what, which in content.gaps:
            if what not in known:
                self.rows.gap(uid, what, which)
            self.rows.gap_closed(content.uid, what, which)

    def _differences(self, carrier: Goes, run: Run) -> None:
        """The differences of a content, less those that the records have of it already, each by its own name."""
        before: dict[tuple[str, datetime], int] = {}
        left: dict[tuple[str, datetime], int | None] = {}
        for d in run.old.differences if run.old is not None and not self._anew(run) else []:
            if d["cause"] not in BY_THE_BOOK or (run.fixed and d["at"] <= carrier.history.start):
                continue
            key = d["cause"], d["at"]
            before[key] = before.get(key, 0) + d["amount"]
            left[key] = d["left"]
        for key in sorted(before.keys() | run.differences.keys()):
            (cause, at), (amount, counted) = key, run.differences.get(key, (0, None))
            change = amount - before.get(key, 0)
            if change or (counted is not None and key not in before):
                counted = counted if counted is not None else left.get(key)
                self.rows.difference(self._uid(run), change, run.uom, cause, at=at, left=counted)

    def _status(self, carrier: Goes, run: Run) -> None:
        was = run.old.status if run.old is not None and not self._anew(run) else run.first or "released"
        if was is not None and was not in (*LASTING, *PASSED):
            return
        status = _status_of(run, now=run is carrier.now)
        if status != was:
            self.rows.status(self._uid(run), status, at=self.recorded)
        if run.end == "used up" and (run.old is None or run.old.status != "used up"):
            self.rows.touch(self._uid(run), "proved empty")

    def _log(self, carrier: Goes) -> None:
        if carrier.entries:
            about = carrier.now.about if carrier.now is not None and carrier.now.kind == "charge" else {}
            entries = [(None if run is None else self._uid(run), since) for run, since in carrier.entries]
            # What began it may have been moved to a later time: what stood before that goes too.
            base = carrier.history.base
            start = base.since if base is not None else carrier.history.start
            self.rows.refill(carrier.uid, start, entries, order=about.get("order"), layer=about.get("layer"))

    def _looks(self) -> None:
        """What a person has to look at, unless it was brought to somebody already."""
        for kind, unit in self.derived.looks:
            known = unit.old.looked_at if isinstance(unit, Run) and unit.old is not None else self._looked_at(unit)
            if kind not in known:
                self.rows.discrepancy_once(kind, self._uid(unit))

    def _holds(self) -> None:
        """What a rule would have held, had all this been told in order, waits for a person; once, though that person
        ended it. What the late act itself makes is judged by its own rules."""
        own = {unit["uid"] for unit in self.rows.parts.get("units", [])} - self.rows.remade.keys()
        for rule, way in self.derived.held:
            child, known = self._uid(way.child), way.edge["child_rules"] if way.edge is not None else None
            if way.missed is None and child not in own and not {"SOURCE-USED-UP", rule} & set(known or []):
                self.rows.hold(child, rule)

    def _looked_at(self, unit: Run | str) -> list[str]:
        return next((e["looked_at"] or [] for e in self.derived.edges if e["child"] == unit), [])


def _no_more_in(load: UnitFacts, other: list[tuple[str, str | None]]) -> list[str]:
    """The layers said that are not in a load any more; other: said and proved, of each tip where they differ."""
    inside = Counter(e["layer"] for e in load.inside if e["role"] == "charge")
    inside.subtract(said for said, _ in other)
    inside.update(proved for _, proved in other if proved is not None)
    return sorted({said for said, _ in other if inside[said] <= 0})


def _status_of(run: Run, *, now: bool) -> str:
    """The status a content comes out with."""
    if run.end and not (now and run.end == "topped up"):
        return run.end
    empty = run.balance is not None and run.balance <= 0
    return run.gone or "used up" if empty else run.status or "released"


__all__ = ["Content", "replay"]
