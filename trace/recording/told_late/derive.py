"""Works out, from all that happened to some carriers, what they held and what went where: in the order of happening.

Nothing here reads or writes the database, and nothing depends on the order in which it was told. What is recorded
already is compared with what comes out (replay.py).
"""

from dataclasses import asdict
from typing import Any

from trace.recording.floor.changes import GONE_AS, Changes
from trace.recording.told_late.coming_in import enter, put_on, stand
from trace.recording.told_late.contents import Goes, Run, Step, Tolerance, Way, as_took, steps_in_order
from trace.recording.told_late.derived import FILL, Derived, way_name, weighed_as
from trace.recording.told_late.going_out import count, empty, let_waiting_out, take
from trace.recording.told_late.history import COUNTED, History, is_may, usable_as
from trace.recording.told_late.open_ways import leave_open


def derive(
    histories: dict[str, History], changes: Changes, tolerance: Tolerance, made: dict[str, list[dict[str, Any]]]
) -> Derived:
    """Go through these carriers from the beginning of each history, with what `changes` add and take away."""
    carriers = {uid: Goes(uid, history) for uid, history in histories.items()}
    d = Derived(carriers, changes, tolerance, made)
    live = _live_edges(histories, changes, made)
    d.edges = [e for e in live if not is_may(e)]
    d.mays = [e for e in live if is_may(e)]
    d.home = {x.uid: c for c in carriers.values() for x in c.history.contents}
    d.later = {x.uid: x for c in carriers.values() for x in c.history.later}
    for carrier in carriers.values():
        _begin(d, carrier)
    _left_unknown(d)
    for step in steps_in_order(carriers, changes, d.edges, set(d.later)):
        _step(d, carriers[step.carrier], step)
        for other in carriers.values():
            let_waiting_out(d, other)
    for carrier in carriers.values():
        let_waiting_out(d, carrier, at_last=True)
    leave_open(d)
    return d


def _live_edges(
    histories: dict[str, History], changes: Changes, made: dict[str, list[dict[str, Any]]]
) -> list[dict[str, Any]]:
    """The edges of all these histories, each once, that the act does not withdraw."""
    gone = {(e["event"], e["n"]) for e in (*changes.withdrawn, *made.get("voids", []))}
    every = {(e["event"], e["n"]): e for history in histories.values() for e in history.edges}
    return [e for key, e in every.items() if key not in gone]


def _begin(d: Derived, carrier: Goes) -> None:
    """A carrier begins with what was in it at the start of its history, where there was anything."""
    base = carrier.history.base
    if base is not None:
        carrier.begin(_base(d, carrier.history), base.since)


def _base(d: Derived, history: History) -> Run:
    base = history.base
    assert base is not None  # noqa: S101 - asked for where there is one
    run = Run(
        base.uid, base.kind, base.uom, base.amount, base.about, base.lot_no, history.left,
        usable_as(base.statuses, history.start), old=base, fixed=True, place=base.place,
        part=weighed_as(base) == "part weighed",
    )  # fmt: skip
    if base.status in GONE_AS.values() and not run.left:
        run.gone = base.status or ""
    before = [x for x in base.differences if x["at"] <= history.start]
    run.found = sum(x["amount"] for x in before if x["cause"] == FILL)
    run.counted = bool(before) and max(before, key=lambda x: x["at"])["cause"] == COUNTED
    d.runs[base.uid] = run
    return run


def _left_unknown(d: Derived) -> None:
    """What was withdrawn with nothing in its place: nobody knows where it came from."""
    for edge in d.changes.withdrawn:
        instead = any(way_name(asdict(t)) == way_name(edge) and t.child == edge["child"] for t in d.changes.took)
        if edge["child"] not in d.later and not instead:
            d.ways.append(Way(as_took(None, edge), edge["child"], None, edge["amount"]))
    for took in d.changes.took:
        if took.carrier is None and took.parent is None and took.child not in d.later:
            d.ways.append(Way(took, took.child, None, took.amount))


def _step(d: Derived, carrier: Goes, step: Step) -> None:
    if step.content is not None:
        enter(d, carrier, step.content, step.at)
    elif step.put is not None:
        put_on(d, carrier, step.put)
    elif step.stood is not None:
        stand(d, carrier, step.stood)
    elif step.emptied is not None:
        empty(d, carrier, step.emptied)
    elif step.counted is not None:
        count(d, carrier, step.counted)
    elif step.way is not None:
        take(d, carrier, step.way)
    elif carrier.now is not None and step.of_lot in (None, carrier.now.about.get("lot") or step.of_lot):
        # What was released is a lot: not what is known by now to be of another.
        carrier.now.status = step.decided
