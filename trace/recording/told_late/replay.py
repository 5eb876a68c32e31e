"""Replays the logs of carriers from a moment on, when a late fact or a correction changes what was in them.

Everything that entered and left is gone through again in the order in which it happened. A content that comes out
otherwise is made anew: its edges and the draws they touch are withdrawn and added again, all in the rows of the
late event, so that walk, balance and holds agree and no false "cannot" is left. What a carrier held after it was
proved empty, or a charge weighed into an empty tub, does not depend on what was before and stays as it is.
"""

from dataclasses import asdict, replace
from datetime import datetime
from typing import Any

from trace.readmodels.rows import Rows, stamp
from trace.recording.floor.changes import Changes, Counted, Emptied, Put, Stood, Took
from trace.recording.floor.sources import status_before, status_before_used_up
from trace.recording.told_late.contents import (
    LASTING,
    Goes,
    Run,
    Step,
    Tolerance,
    as_it_was,
    as_took,
    is_missed,
    mixed_about,
    status_of,
    steps_in_order,
    worse,
)
from trace.recording.told_late.history import AUTOMATIC, COUNTED, DRAWN, PASSED, Content, history_of, is_may

MADE_ANEW = "made anew by a late record"


def replay(rows: Rows, changes: Changes, tolerance: Tolerance, recorded: datetime) -> None:
    """Fill `rows` with all that `changes` make different. `tolerance(about, amount)`: what a content may hold more."""
    _Replay(rows, changes, tolerance, stamp(recorded)).run()


def _way(edge: dict[str, Any]) -> tuple[Any, ...]:
    """What names one draw however often it is said again."""
    return edge["of"], edge["role"], edge["layer"], edge["position"]


def _which(edge: dict[str, Any]) -> Any:
    """What of its child it went into: the name of the gap that it leaves."""
    return edge["layer"] or edge["position"] or edge["role"]


class _Replay:
    def __init__(self, rows: Rows, changes: Changes, tolerance: Tolerance, recorded: str) -> None:
        self.rows, self.changes, self.tolerance, self.recorded = rows, changes, tolerance, recorded
        self.carriers = {uid: Goes(uid, history_of(uid, at)) for uid, at in changes.starts().items()}
        gone = {(e["event"], e["n"]) for e in (*changes.withdrawn, *rows.parts.get("voids", []))}
        every = {(e["event"], e["n"]): e for c in self.carriers.values() for e in c.history.edges}
        live = [e for key, e in every.items() if key not in gone]
        self.edges = [e for e in live if not is_may(e)]
        self.mays = [e for e in live if is_may(e)]
        self.home = {x.uid: c for c in self.carriers.values() for x in c.history.contents}
        self.later = {x.uid: x for c in self.carriers.values() for x in c.history.later}
        # What was made anew, by what it was; draws gone through, with the content that each is out of now.
        self.anew: dict[str, str] = {}
        self.draws: list[tuple[Goes, Took, str | None]] = []

    def run(self) -> None:
        for edge in self.changes.withdrawn:
            instead = any(t.child == edge["child"] and t.carrier is not None for t in self.changes.took)
            if edge["n"] is not None:
                self.rows.void(edge["event"], edge["n"])
            if edge["child"] not in self.later:
                self._settle(edge["child"], edge, known=instead)
        for carrier in self.carriers.values():
            base = carrier.history.base
            if base is not None:
                carrier.begin(as_it_was(base, carrier.history.left), base.since)
        for step in steps_in_order(self.carriers, self.changes, self.edges, set(self.later)):
            self._step(self.carriers[step.carrier], step)
            for other in self.carriers.values():
                self._let_waiting_out(other)
        for carrier in self.carriers.values():
            self._let_waiting_out(carrier, at_last=True)
        self._leave_open()
        for carrier in self.carriers.values():
            self._end(carrier)

    def _step(self, carrier: Goes, step: Step) -> None:
        if step.content is not None:
            self._enter(carrier, step.content)
        elif step.put is not None:
            self._put(carrier, step.put)
        elif step.stood is not None:
            self._stand(carrier, step.stood)
        elif step.emptied is not None:
            self._empty(carrier, step.emptied)
        else:
            self._count_or_let_out(carrier, step)

    def _let_waiting_out(self, carrier: Goes, *, at_last: bool = False) -> None:
        """What was taken while nothing was in it came out of what came in within what its time may be off."""
        if carrier.waiting and (carrier.now is not None or at_last):
            waiting, carrier.waiting = carrier.waiting, []
            since = carrier.entries[-1][1] if carrier.entries else None
            for took, old in waiting:
                in_time = since is not None and since <= took.at + took.unsure
                self._take_from(carrier, carrier.now if in_time else None, took, old)

    def _count_or_let_out(self, carrier: Goes, step: Step) -> None:
        if step.counted is not None:
            self._count(carrier, step.counted)
        elif step.edge is not None:
            self._take(carrier, as_took(carrier.uid, step.edge, step.edge["child"]), step.edge)
        elif step.took is not None and step.missed:
            self._find(carrier, step.took)
        else:
            # Something new, or something withdrawn: from here on the rest of the history is another one.
            carrier.dirty = True
            if step.took is not None:
                self._take(carrier, step.took, None)
            elif carrier.now is not None:
                carrier.now.touched = True

    def _enter(self, carrier: Goes, content: Content) -> None:
        """A content of the records: it stays when nothing before it or into it has changed."""
        into = [e for e in self.edges if e["child"] == content.uid]
        heels = [e for e in into if e["role"] == "heel"]
        added = [t for t in self.changes.took if t.child == content.uid]
        gone = [e for e in self.changes.withdrawn if e["child"] == content.uid]
        discrete = content.kind == "charge" and not heels
        depends = bool(heels) or (carrier.now is not None and not discrete)
        more = sum(t.amount or 0 for t in added) - sum(e["amount"] or 0 for e in gone)
        # Withdrawn and nothing in its place: what went in stays, nobody knows from where.
        more = more if added else 0
        known = any(t.carrier is not None for t in added)
        anew = (carrier.dirty and depends) or more != 0 or (bool(gone) and content.kind == "content")
        if anew:
            run = self._anew(carrier, content, heels, more, discrete=discrete)
        else:
            by_hand = [d["amount"] for d in content.differences if d["cause"] not in (*AUTOMATIC, COUNTED)]
            run = as_it_was(content, content.amount + sum(by_hand))
            if carrier.now is not None:
                carrier.now.end = "topped up"
        if discrete and carrier.dirty and carrier.now is not None and carrier.now.balance > 0:
            # Weighed into a tub that was empty as far as anybody knew: what is known now to have been in it may be in
            # there too, and a person has to look.
            self.rows.edge(run.uid, carrier.now.uid, "heel", layer=run.about.get("layer"))
            self.rows.discrepancy_once("weighed into a tub that was not empty", run.uid)
        for edge in into:
            if edge["role"] != "heel":
                home = self._home(edge)
                took = as_took(home.uid if home else None, edge, run.uid)
                if home is not None:
                    self._take(home, took, edge)
                elif anew:
                    self.rows.void(edge["event"], edge["n"])
                    self._edge(took, edge["parent"])
        for took in added:
            source = self.carriers.get(took.carrier or "")
            if source is not None:
                source.dirty = True
                self._take(source, replace(took, child=run.uid), None)

        for edge in gone:
            self._settle(run.uid, {**edge, "amount": added[0].amount if added else edge["amount"]}, known=known)
        every = {
            (m["of"], str(m["layer"] or m["position"])): m
            for c in self.carriers.values()
            for m in c.history.missed
            if m["child"] == content.uid and is_missed(self.changes, m)
        }
        for missed in every.values():
            self._find_for(self.carriers.get(missed["carrier"] or ""), missed, run, anew)
        carrier.dirty = anew
        carrier.begin(run, content.since)

    def _anew(
        self, carrier: Goes, content: Content, heels: list[dict[str, Any]], more: int, *, discrete: bool
    ) -> Run:
        """The content as it is with what is left in the carrier now under it, and with `more` put in."""
        heel = 0 if discrete else self._heel(carrier, content.uom)
        run = self._make(carrier, content, heel, content.amount - sum(e["amount"] or 0 for e in heels) + more)
        if heel and content.kind == "content":
            run.used_as = worse(self._used_as(run), self._used_as(carrier.now))
        for edge in heels:
            self.rows.void(edge["event"], edge["n"])
        self._leave_heel(carrier, run, heel, discrete)
        self._retire(content, run)
        return run

    def _home(self, edge: dict[str, Any]) -> Goes | None:
        """The carrier, among those gone through, that this edge came out of after its beginning."""
        home = self.home.get(edge["parent"])
        return home if home is not None and home.begun(edge) else None

    def _settle(self, child: str, edge: dict[str, Any], *, known: bool) -> None:
        """The gap of what was withdrawn: opened where nothing stands in its place, closed where now something does."""
        which = _which(edge)
        if known and edge["n"] is None:
            # What is named now may have been empty too: then nobody knows still.
            missed = self.rows.parts.get("missed", [])
            if not any(m["child"] == child and _which(m) == which for m in missed):
                self._close_gap(child, which)
        elif not known:
            self._close_gap(child, which, only_here=True)
            self._missed(as_took(None, edge, child))

    def _close_gap(self, unit: str, which: str, *, only_here: bool = False) -> None:
        gaps = self.rows.parts.get("gaps", [])
        here = [g for g in gaps if (g["unit"], g["what"], g["which"]) == (unit, "source", which)]
        for gap in here:
            gaps.remove(gap)
        if not here and not only_here:
            self.rows.gap_closed(unit, "source", which)

    def _find_for(self, source: Goes | None, missed: dict[str, Any], run: Run, anew: bool) -> None:
        """The same for what went into a content; one made anew takes the gap over where it stays one."""
        took = as_took(missed["carrier"], missed, run.uid)
        if source is not None and source.now is not None and missed["at"] > source.history.start:
            source.dirty = True
            self._take(source, took, None)
            self._close_gap(run.uid, took.layer or took.position or took.role)
        elif anew:
            self._close_gap(run.uid, took.layer or took.position or took.role, only_here=True)
            self._missed(took)

    def _missed(self, took: Took) -> None:
        gap = {"unit": took.child, "what": "source", "which": took.layer or took.position or took.role}
        closed = self.rows.parts.get("gaps_closed", [])
        if gap in closed:
            closed.remove(gap)
        self.rows.missed(
            took.carrier, took.child, took.role, amount=took.amount, uom=took.uom, layer=took.layer,
            position=took.position, at=took.at, of=took.of,
        )  # fmt: skip

    def _find(self, carrier: Goes, took: Took) -> None:
        """What came out of a carrier that was empty by the book came out of what is known now to have been in it."""
        if carrier.now is not None:
            carrier.dirty = True
            self._take(carrier, took, None)
            self.rows.gap_closed(took.child, "source", took.layer or took.position or took.role)

    def _used_as(self, run: Run | None) -> str | None:
        """What a content may be used as, or might when it was not yet used up or filled up."""
        if run is None or run.used_as or run.old is None:
            return run.used_as if run is not None else None
        status = run.old.status
        return status if status in LASTING else status_before(run.old.uid, PASSED)

    def _heel(self, carrier: Goes, uom: str) -> int:
        now = carrier.now
        return max(now.balance, 0) if now is not None and now.uom == uom else 0

    def _make(self, carrier: Goes, content: Content, heel: int, put_in: int) -> Run:
        now = carrier.now
        about, lot_no = content.about, content.lot_no
        if content.kind == "content":
            put_about, put_lot = self._of_put(content)
            mix = mixed_about((now.about, now.lot_no) if now and heel else None, put_about, put_lot)
            about, lot_no = mix["about"], mix["lot_no"]
            if content.about.get("opened"):
                about = {**about, "opened": content.about["opened"]}
        elif content.kind == "charge":
            put_about, put_lot = self._of_put(content)
            same = now is None or not heel or now.about.get("lot") == put_about.get("lot")
            about = {**about, "material": put_about.get("material"), "lot": put_about.get("lot") if same else None}
            lot_no = put_lot if same else None
        uid = self.rows.unit(
            content.kind, amount=heel + put_in, uom=content.uom, carrier=carrier.uid, lot_no=lot_no, about=about,
            place=content.place,
        )  # fmt: skip
        self.rows.remade.add(uid)
        self.anew[content.uid] = uid
        return Run(uid, content.kind, content.uom, heel + put_in, about, lot_no, heel + put_in, old=content, made=True)

    def _of_put(self, content: Content) -> tuple[dict[str, Any], str | None]:
        """What was put in, apart from the heel: what its source is now, else what the content was made as."""
        for took in self.changes.took:
            source = self.carriers.get(took.carrier or "")
            if took.child == content.uid and source is not None and source.now is not None:
                return source.now.about, source.now.lot_no
        for edge in self.edges:
            if edge["child"] == content.uid and edge["role"] != "heel":
                home = self._home(edge)
                if home is not None and home.now is not None:
                    return home.now.about, home.now.lot_no
                return {**edge["parent_about"], "lot": edge["parent_lot"]}, edge["parent_lot_no"]
        return content.about, content.lot_no

    def _leave_heel(self, carrier: Goes, run: Run, heel: int, discrete: bool) -> None:
        if carrier.now is None or discrete:
            return
        # Nothing left by the book is not proved empty: an edge without an amount keeps it a "may".
        self.rows.edge(run.uid, carrier.now.uid, "heel", amount=heel or None, uom=run.uom)
        carrier.now.balance -= heel
        carrier.now.end = "topped up"
        carrier.now.touched = True

    def _put(self, carrier: Goes, put: Put) -> None:
        heel, now = self._heel(carrier, put.uom), carrier.now
        mix = mixed_about((now.about, now.lot_no) if now and heel else None, put.about, put.lot_no)
        uid = self.rows.unit(
            "content", amount=heel + put.amount, uom=put.uom, carrier=carrier.uid,
            place=now.old.place if now and now.old else None, **mix,
        )  # fmt: skip
        run = Run(uid, "content", put.uom, heel + put.amount, mix["about"], mix["lot_no"], heel + put.amount, made=True)
        run.used_as = worse(put.status, self._used_as(carrier.now)) if heel else put.status
        self._leave_heel(carrier, run, heel, discrete=False)
        source = self.carriers.get(put.source or "")
        took = Took(put.source, put.at, uid, put.amount, put.uom, "topup", unsure=put.unsure)
        if source is None:
            self.rows.gap(uid, "source", "topup")
        else:
            source.dirty = True
            self._take(source, took, None)
        carrier.dirty = True
        carrier.begin(run, put.at)

    def _stand(self, carrier: Goes, stood: Stood) -> None:
        if any(c.since > stood.at for c in carrier.history.later):
            self.rows.discrepancy("late charge: the tub was used since", stood.charge)
        made = next(u for u in self.rows.parts["units"] if u["uid"] == stood.charge)
        run = Run(stood.charge, "charge", "mg", made["amount"], made["about"], made["lot_no"], made["amount"])
        run.end = "as made"
        if carrier.now is not None:
            # The bag before it in the same tub: the weighing itself says how much of that is in it.
            heels = [e for e in self.rows.parts["edges"] if (e["child"], e["role"]) == (stood.charge, "heel")]
            carrier.now.balance -= sum(e["amount"] or 0 for e in heels)
            carrier.now.end, carrier.now.touched = "topped up", True
        carrier.dirty = True
        carrier.begin(run, stood.at)

    def _empty(self, carrier: Goes, emptied: Emptied) -> None:
        late = emptied in self.changes.emptied
        now = carrier.now
        if now is not None:
            proved = emptied.proved if late else emptied.at in carrier.history.proved
            if proved and now.balance and (carrier.dirty or late):
                within = abs(now.balance) <= self.tolerance(now.about, now.amount)
                if not within:
                    self.rows.discrepancy("not found when emptied", now.uid)
            if proved and now.balance:
                now.automatic[emptied.at] = now.automatic.get(emptied.at, 0) - now.balance
                now.balance = 0
            if proved and (late or now.made):
                self.rows.touch(now.uid, "proved empty")
            now.touched = now.touched or carrier.dirty or late
            now.end = "used up" if proved else now.end
        carrier.dirty = late
        carrier.begin(None, emptied.at)

    def _count(self, carrier: Goes, counted: Counted) -> None:
        """From here on the book says what was counted, whatever it said before."""
        late, run = counted in self.changes.counted, carrier.now
        if run is None:
            if carrier.runs:
                self.rows.discrepancy_once("counted after it was emptied", carrier.runs[-1].uid)
            return
        if late and counted.left and run.old is not None and run.old.status == "used up":
            run.end = status_before_used_up(run.uid)
        run.counts[counted.at] = (counted.left, counted.left - run.balance)
        run.balance = counted.left
        run.touched = run.touched or carrier.dirty or late
        carrier.dirty = late or (carrier.dirty and run.made)

    def _take(self, carrier: Goes, took: Took, old: dict[str, Any] | None) -> None:
        if carrier.now is None and took.unsure:
            carrier.waiting.append((took, old))
        else:
            self._take_from(carrier, carrier.now, took, old)

    def _take_from(self, carrier: Goes, run: Run | None, took: Took, old: dict[str, Any] | None) -> None:
        """Let it out of what the carrier held; an edge of the records stays where nothing about it changes."""
        self.draws.append((carrier, took, run.uid if run is not None else None))
        if run is None:
            # By what is known now it was empty: nobody knows where this came from.
            if old is not None:
                self.rows.void(old["event"], old["n"])
                self.rows.discrepancy_once("taken after it was emptied", took.child)
            self._missed(took)
            return
        amount = (run.balance if run.balance > 0 else None) if took.role == "charge" else took.amount
        if old is None or (old["child"], old["parent"], old["amount"]) != (took.child, run.uid, amount):
            if old is not None:
                self.rows.void(old["event"], old["n"])
            self._edge(took, run.uid, amount)
        run.end = "tipped" if took.role == "charge" else run.end
        run.touched = run.touched or carrier.dirty
        left = run.balance - (amount or 0)
        if left < 0:
            gained = sum(v for v in run.automatic.values() if v > 0)
            short = min(-left, amount or 0)
            if -left + gained <= self.tolerance(run.about, run.amount):
                run.automatic[took.at] = run.automatic.get(took.at, 0) + short
                left += short
            elif run.balance >= 0 and run.touched:
                self.rows.discrepancy_once("overdrawn", run.uid)
        run.balance = left

    def _leave_open(self) -> None:
        """Whatever else was in the carrier within what the time of a draw may be off may have been it: an edge without
        an amount for each."""
        said = {_way(asdict(took)) for _, took, _ in self.draws}
        for carrier in self.carriers.values():
            # What was taken before the beginning, though its time may be off so far that it was after it.
            before = [e for e in self.edges if e["carrier"] == carrier.uid]
            before += [m for m in carrier.history.missed if m["carrier"] == carrier.uid and is_missed(self.changes, m)]
            for edge in before:
                if _way(edge) not in said:
                    child = self.anew.get(edge["child"], edge["child"])
                    self.draws.append((carrier, as_took(carrier.uid, edge, child), edge.get("parent")))
        wanted = {}
        for carrier, took, parent in self.draws:
            if took.role in DRAWN and took.unsure:
                for uid in carrier.held(took.at - took.unsure, took.at + took.unsure):
                    if uid != parent:
                        wanted[took.child, uid, _way(asdict(took))] = took
        for edge in self.mays:
            child, parent = edge["child"], edge["parent"]
            if wanted.pop((child, parent, _way(edge)), None) is None and (parent in self.home or child in self.anew):
                self.rows.void(edge["event"], edge["n"])
                if parent not in self.home:
                    self._edge(as_took(None, edge, self.anew[child]), parent)
        for (_, parent, _), took in wanted.items():
            self._edge(replace(took, amount=None), parent)

    def _edge(self, took: Took, parent: str, amount: int | None = None) -> None:
        amount = took.amount if amount is None and took.role != "charge" else amount
        self.rows.edge(
            took.child, parent, took.role, amount=amount, uom=took.uom, layer=took.layer, position=took.position,
            at=took.at,
            of=took.of,
        )  # fmt: skip

    def _retire(self, content: Content, run: Run) -> None:
        """A content made anew stands empty; what a person laid on or counted in it goes over to the new one."""
        left = content.amount + sum(d["amount"] for d in content.differences)
        if left:
            self.rows.difference(content.uid, -left, content.uom, MADE_ANEW)
        for found in content.differences:
            if found["cause"] not in (*AUTOMATIC, COUNTED, MADE_ANEW):
                self.rows.difference(run.uid, found["amount"], content.uom, found["cause"], at=found["at"])
                run.balance += found["amount"]
        self.rows.status(content.uid, "made anew", at=self.recorded)
        for rule in content.holds:
            self.rows.hold(run.uid, rule)
        for what, which in content.gaps:
            self.rows.gap(run.uid, what, which)
            self.rows.gap_closed(content.uid, what, which)

    def _book(self, carrier: Goes, run: Run) -> None:
        """The differences of a content, less those that the records have of it already."""
        before: dict[datetime, int] = {}
        counted: dict[datetime, tuple[int, int]] = {}
        for d in run.old.differences if run.old is not None and not run.made else []:
            if run.old is carrier.history.base and d["at"] <= carrier.history.start:
                continue
            if d["cause"] in AUTOMATIC:
                before[d["at"]] = before.get(d["at"], 0) + d["amount"]
            elif d["cause"] == COUNTED:
                counted[d["at"]] = (d["left"], counted.get(d["at"], (0, 0))[1] + d["amount"])
        for at in sorted(before.keys() | run.automatic.keys()):
            change = run.automatic.get(at, 0) - before.get(at, 0)
            if change:
                self.rows.difference(run.uid, change, run.uom, AUTOMATIC[0], at=at)
        for at in sorted(counted.keys() | run.counts.keys()):
            left, off = run.counts.get(at) or (counted[at][0], 0)
            change = off - counted.get(at, (left, 0))[1]
            if change or run.made:
                self.rows.difference(run.uid, change, run.uom, COUNTED, at=at, left=left)

    def _end(self, carrier: Goes) -> None:
        for run in carrier.runs:
            if run.made or run.touched:
                self._book(carrier, run)
                status = status_of(run, now=run is carrier.now)
                if status is not None:
                    self.rows.status(run.uid, status, at=self.recorded)
        if carrier.entries:
            last = carrier.now
            about = last.about if last is not None and last.kind == "charge" else {}
            self.rows.refill(
                carrier.uid, carrier.entries[0][1], carrier.entries,
                order=about.get("order"), layer=about.get("layer"),
            )  # fmt: skip
