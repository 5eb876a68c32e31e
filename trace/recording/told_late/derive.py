"""Works out, from all that happened to some carriers, what they held and what went where: in the order of happening.

Nothing here reads or writes the database, and nothing depends on the order in which it was told. What is recorded
already is compared with what comes out (replay.py).
"""

from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from trace.recording.floor.changes import ALL, GONE_AS, Changes, Counted, Emptied, Put, Stood, Took
from trace.recording.told_late.contents import (
    Goes,
    Run,
    Step,
    Tolerance,
    Way,
    as_took,
    mixed_about,
    said_again,
    steps_in_order,
    worse,
)
from trace.recording.told_late.history import COUNTED, DRAWN, OUT, Content, History, is_may, usable_as

FILL, NOT_FOUND = "fill difference", "not found when emptied"


@dataclass
class Derived:
    """What comes out: the carriers with their contents, every way from one unit into another with the records that say
    so by now, and what a person has to look at, as (kind, unit)."""

    carriers: dict[str, Goes]
    changes: Changes
    tolerance: Tolerance
    # The rows that the late act itself makes, by part.
    made: dict[str, list[dict[str, Any]]]
    edges: list[dict[str, Any]] = field(default_factory=list)
    mays: list[dict[str, Any]] = field(default_factory=list)
    ways: list[Way] = field(default_factory=list)
    heels: list[Way] = field(default_factory=list)
    open_ways: list[tuple[Took, Run | str, Run]] = field(default_factory=list)
    looks: list[tuple[str, Run | str]] = field(default_factory=list)
    # What the rules would have held, had it been told in order: (code, what went in).
    held: list[tuple[str, Way]] = field(default_factory=list)
    home: dict[str, Goes] = field(default_factory=dict)
    later: dict[str, Content] = field(default_factory=dict)
    runs: dict[str, Run] = field(default_factory=dict)


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
            _let_waiting_out(d, other)
    for carrier in carriers.values():
        _let_waiting_out(d, carrier, at_last=True)
    _leave_open(d)
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
        part=_weighed_as(base) == "part weighed",
    )  # fmt: skip
    if base.status in GONE_AS.values() and not run.left:
        run.gone = base.status or ""
    before = [x for x in base.differences if x["at"] <= history.start]
    run.found = sum(x["amount"] for x in before if x["cause"] == FILL)
    run.counted = bool(before) and max(before, key=lambda x: x["at"])["cause"] == COUNTED
    d.runs[base.uid] = run
    return run


def _weighed_as(content: Content) -> str:
    return next((s for _, s, _ in content.statuses if s in ("part weighed", "weighed")), "weighed")


def _left_unknown(d: Derived) -> None:
    """What was withdrawn with nothing in its place: nobody knows where it came from."""
    for edge in d.changes.withdrawn:
        instead = any(_way(asdict(t)) == _way(edge) and t.child == edge["child"] for t in d.changes.took)
        if edge["child"] not in d.later and not instead:
            d.ways.append(Way(as_took(None, edge), edge["child"], None, edge["amount"]))
    for took in d.changes.took:
        if took.carrier is None and took.parent is None and took.child not in d.later:
            d.ways.append(Way(took, took.child, None, took.amount))


def _way(edge: dict[str, Any]) -> tuple[Any, ...]:
    """What names one draw however often it is said again; of which layer a tub was is what may change, and whether it
    was all that was left."""
    if edge["role"] in ("charge", *OUT):
        return edge["of"], edge["role"]
    return edge["of"], edge["role"], edge["layer"], edge["position"]


def _step(d: Derived, carrier: Goes, step: Step) -> None:
    if step.content is not None:
        _enter(d, carrier, step.content, step.at)
    elif step.put is not None:
        _put(d, carrier, step.put)
    elif step.stood is not None:
        _stand(d, carrier, step.stood)
    elif step.emptied is not None:
        _empty(d, carrier, step.emptied)
    elif step.counted is not None:
        _count(d, carrier, step.counted)
    elif step.way is not None:
        _take(d, carrier, step.way)
    elif carrier.now is not None and step.of_lot in (None, carrier.now.about.get("lot") or step.of_lot):
        # What was released is a lot: not what is known by now to be of another.
        carrier.now.status = step.decided


# -- what comes in ----------------------------------------------------------------------------------------------------


def _enter(d: Derived, carrier: Goes, content: Content, at: datetime) -> None:
    """A content of the records, on what is in the carrier now."""
    heels = [e for e in d.edges if e["child"] == content.uid and e["role"] == "heel"]
    ways = _ways_into(d, content)
    amount = None if content.amount is None else content.amount + _more(d, content)
    put_in = None if amount is None else amount - sum(e["amount"] or 0 for e in heels)
    put_in = _poured(d, ways, put_in)
    about, lot_no, status = _of_put(d, content, ways, heels)
    if content.kind == "charge":
        run = _charge(d, carrier, content, put_in, heels, about, lot_no)
    else:
        run = _mixed(d, carrier, put_in, content.uom, about, lot_no, status, heels, at)
        run.uid, run.old, run.place = content.uid, content, content.place
        if content.about.get("opened"):
            run.about = {**run.about, "opened": content.about["opened"]}
    _put_right_by_hand(run, content)
    d.runs[content.uid] = run
    for way in ways:
        _come_in(d, run, way)
    carrier.begin(run, at)


def _poured(d: Derived, ways: list[Way], put_in: int | None) -> int | None:
    """What was put in; of a tub that was tipped back whole, what was in that then."""
    for way in ways:
        source = d.carriers.get(way.took.carrier or "")
        if way.took.position == ALL and way.parent is None and not way.before and source is not None:
            return source.now.left or None if source.now is not None else None
    return put_in


def _put_right_by_hand(run: Run, content: Content) -> None:
    """Differences that a person booked stay in the book; all others come out anew."""
    for other in content.differences:
        if other["cause"] not in (FILL, NOT_FOUND, COUNTED, "made anew by a late record") and run.balance is not None:
            run.balance += other["amount"]


def _come_in(d: Derived, run: Run, way: Way) -> None:
    """What went into a content comes out of what its source holds now, where that is gone through as well."""
    way.child = run
    source = d.carriers.get(way.took.carrier or "")
    if way.parent is not None or way.before or source is None:
        d.ways.append(way)
    else:
        _take(d, source, way)


def _more(d: Derived, content: Content) -> int:
    """By how much a correction says that more went in. Withdrawn and nothing in its place: what went in stays."""
    added = [t for t in d.changes.took if t.child == content.uid]
    gone = [e for e in d.changes.withdrawn if e["child"] == content.uid]
    return sum(t.amount or 0 for t in added) - sum(e["amount"] or 0 for e in gone) if added else 0


def _ways_into(d: Derived, content: Content) -> list[Way]:
    """What was put into a content, apart from the heel: with its parent where that is not gone through itself."""
    return [*_recorded_into(d, content), *_corrected_into(d, content), *_missed_into(d, content)]


def _recorded_into(d: Derived, content: Content) -> list[Way]:
    """What the edges say was put into a content."""
    ways = []
    for edge in d.edges:
        if edge["child"] == content.uid and edge["role"] != "heel":
            home = d.home.get(edge["parent"])
            home = home if home is not None and home.begun(edge) else None
            parent = None if home else edge["parent"]
            ways.append(Way(as_took(home.uid if home else None, edge), "", parent, edge["amount"], edge=edge))
    return ways


def _corrected_into(d: Derived, content: Content) -> list[Way]:
    """What this act says was put into a content, or what it withdraws with nothing in its place."""
    added = [t for t in d.changes.took if t.child == content.uid]
    if added:
        return [Way(t, "", t.parent, t.amount) for t in added]
    gone = [e for e in d.changes.withdrawn if e["child"] == content.uid]
    return [Way(as_took(None, e), "", None, e["amount"]) for e in gone]


def _missed_into(d: Derived, content: Content) -> list[Way]:
    """What was put into a content out of a carrier that was empty by the book, each draw once."""
    ways = []
    righted = said_again(d.changes)
    missed = {
        _way(m): m
        for c in d.carriers.values()
        for m in c.history.missed
        if m["child"] == content.uid and (m["child"], m["of"]) not in righted
    }
    for m in missed.values():
        source = d.carriers.get(m["carrier"] or "")
        before = source is None or m["at"] <= source.history.start
        ways.append(Way(as_took(m["carrier"], m), "", None, m["amount"], missed=m, before=before))
    return ways


def _of_put(
    d: Derived, content: Content, ways: list[Way], heels: list[dict[str, Any]]
) -> tuple[dict[str, Any], str | None, str | None]:
    """What was put in, apart from the heel, as (about, lot number, status): what its source was then."""
    first = usable_as(content.statuses, content.since)
    booked = d.changes.booked.get(content.uid)
    if booked is not None:
        return booked.about, booked.lot_no, booked.status
    if not ways or (not heels and ways[0].took.role == "receive"):
        return content.about, content.lot_no, first
    way = ways[0]
    if way.parent is None:
        return _of_source(d, content, way)
    if way.edge is None:
        return content.about, content.lot_no, first
    edge = way.edge
    about = {**edge["parent_about"], "lot": edge["parent_lot"]}
    return about, edge["parent_lot_no"], usable_as(edge["parent_statuses"], edge["at"]) or first


def _of_source(d: Derived, content: Content, way: Way) -> tuple[dict[str, Any], str | None, str | None]:
    """(about, lot number, status) of what came out of a carrier that is gone through, as it stands now; of what came
    out of nobody knows what, the material alone."""
    source = None if way.before else d.carriers.get(way.took.carrier or "")
    if source is not None and source.now is not None:
        # What a charge is says nothing of what the powder may be used as.
        return source.now.about, source.now.lot_no, None if source.now.kind == "charge" else source.now.status
    if way.took.carrier is None:
        return {k: content.about[k] for k in ("material", "materials") if k in content.about}, None, "unknown"
    return {}, None, "unknown"


def _mixed(
    d: Derived,
    carrier: Goes,
    amount: int | None,
    uom: str,
    about: dict[str, Any],
    lot_no: str | None,
    status: str | None,
    heels: list[dict[str, Any]],
    at: datetime,
) -> Run:
    """What a filling makes of what is in the carrier."""
    now = carrier.now
    heel = now.left if now is not None and now.uom == uom else 0
    mix = mixed_about((now.about, now.lot_no) if now and heel else None, about, lot_no)
    if now is not None and now.holds:
        status = worse(status, now.status) or status
    total = None if amount is None else heel + amount
    run = Run("", "content", uom, total, mix["about"], mix["lot_no"], total, status)
    _leave_heel(d, carrier, run, heel or None, heels, at)
    return run


def _goes_on(now: Run, content: Content) -> bool:
    """Whether a charge is that which is in the tub, with another bag on it or for another order."""
    if content.about.get("from_order"):
        return bool(now.about.get("order") == content.about["from_order"])
    return now.part and all(now.about.get(k) == content.about.get(k) for k in ("order", "layer"))


def _charge(
    d: Derived,
    carrier: Goes,
    content: Content,
    put_in: int | None,
    heels: list[dict[str, Any]],
    about: dict[str, Any],
    lot_no: str | None,
) -> Run:
    """A charge weighed into a tub: on top of the part of it that is there already, else beside whatever is in there."""
    now = carrier.now
    goes_on = now is not None and _goes_on(now, content)
    heel = now.left if now is not None and goes_on else 0
    same = now is None or not heel or now.about.get("lot") == about.get("lot")
    own = {**content.about, "material": about.get("material"), "lot": about.get("lot") if same else None}
    status = _weighed_as(content)
    amount = None if put_in is None else heel + put_in
    run = Run(
        content.uid, "charge", content.uom, amount, own, lot_no if same else None, amount, status, old=content,
        part=status == "part weighed", place=content.place,
    )  # fmt: skip
    if now is not None and goes_on and not heel:
        now.end = "topped up"
    elif now is not None and (heel or now.holds):
        if not goes_on:
            d.looks.append(("weighed into a tub that was not empty", run))
        _leave_heel(d, carrier, run, heel or None, heels, content.since, ends=goes_on)
    return run


def _leave_heel(
    d: Derived,
    carrier: Goes,
    run: Run,
    heel: int | None,
    heels: list[dict[str, Any]],
    at: datetime,
    *,
    ends: bool = True,
) -> None:
    """Nothing left by the book is not proved empty: a heel without an amount keeps it a "may"."""
    now = carrier.now
    if now is None:
        return
    layer = run.about.get("layer") if run.kind == "charge" else None
    took = Took(carrier.uid, at, "", heel, run.uom, "heel", layer)
    d.heels.append(Way(took, run, now, heel, edge=heels[0] if heels else None))
    if now.balance is not None:
        now.balance -= heel or 0
    if ends:
        now.end = "topped up"


def _put(d: Derived, carrier: Goes, put: Put) -> None:
    source = d.carriers.get(put.source or "")
    about, lot_no, status = put.about, put.lot_no, put.status
    if source is not None and source.now is not None:
        own = None if source.now.kind == "charge" else source.now.status
        about, lot_no, status = source.now.about, source.now.lot_no, own or status
    elif source is not None:
        about, lot_no, status = {}, None, "unknown"
    took = Took(put.source, put.at, "", put.amount, put.uom, "topup", position=put.position, unsure=put.unsure)
    way = Way(took, "", None, put.amount)
    amount = _poured(d, [way], put.amount)
    run = _mixed(d, carrier, amount, put.uom, about, lot_no, worse(status, put.status), [], put.at)
    run.place = carrier.now.place if carrier.now else None
    way.child = run
    if source is None:
        d.ways.append(way)
    else:
        _take(d, source, way)
    carrier.begin(run, put.at)


def _stand(d: Derived, carrier: Goes, stood: Stood) -> None:
    if any(c.since > stood.at for c in carrier.history.later):
        d.looks.append(("late charge: the tub was used since", stood.charge))
    made = next(u for u in d.made["units"] if u["uid"] == stood.charge)
    status = next((s["status"] for s in d.made["statuses"] if s["unit"] == stood.charge), "weighed")
    run = Run(
        stood.charge, "charge", "mg", made["amount"], made["about"], made["lot_no"], made["amount"], status, fixed=True,
        part=status == "part weighed",
    )  # fmt: skip
    d.runs[stood.charge] = run
    if carrier.now is not None:
        _weighed_on_top(d, carrier.now, stood.charge)
    carrier.begin(run, stood.at)


def _weighed_on_top(d: Derived, before: Run, charge: str) -> None:
    """The bag before it in the same tub: the weighing itself says how much of that is in it."""
    heels = [e for e in d.made["edges"] if (e["child"], e["role"]) == (charge, "heel")]
    if before.balance is not None:
        before.balance -= sum(e["amount"] or 0 for e in heels)
    before.end = "topped up"


# -- what goes out ----------------------------------------------------------------------------------------------------


def _take(d: Derived, carrier: Goes, way: Way) -> None:
    if carrier.now is None and way.took.unsure:
        carrier.waiting.append(way)
    else:
        _take_from(d, carrier.now, way)
        if carrier.now is not None and (
            (way.took.role == "charge" and (way.missed is not None or way.parent is None))
            or (way.took.position == ALL and carrier.now.kind == "charge")
        ):
            # Tipped while it was empty by the book, or a tub from which all went: it stands empty from then.
            carrier.begin(None, way.took.at)


def _let_waiting_out(d: Derived, carrier: Goes, *, at_last: bool = False) -> None:
    """What was taken while nothing was in it came out of what came in within what its time may be off."""
    if carrier.waiting and (carrier.now is not None or at_last):
        waiting, carrier.waiting = carrier.waiting, []
        since = carrier.entries[-1][1] if carrier.entries else None
        for way in waiting:
            in_time = since is not None and since <= way.took.at + way.took.unsure
            _take_from(d, carrier.now if in_time else None, way)


def _there(run: Run | None, way: Way) -> Run | None:
    """What it is let out of: nothing where nothing was left of that, since nobody knows what it was then."""
    if way.took.position == ALL:
        way.amount = run.left or None if run is not None else None
        return run if way.amount else None
    if way.took.role == "charge" and run is not None and run.balance is not None and not run.left:
        way.amount = None
        return None
    return run


def _take_from(d: Derived, run: Run | None, way: Way) -> None:
    """Let it out of what the carrier held; by what is known now that may have been nothing."""
    d.ways.append(way)
    run = way.parent = _there(run, way)
    if run is None:
        if way.took.role == "charge" and way.missed is None:
            # Nothing says of which layer it was; replay.py names it by its tub.
            way.took = replace(way.took, layer=None)
        if way.edge is not None:
            d.looks.append(("taken after it was emptied", way.child))
        if way.took.role in DRAWN:
            d.held.append(("SOURCE-EMPTY", way))
        return
    if way.took.role == "charge":
        # A tub is tipped whole, and what is in it says of which layer it is, whatever was thought to be in it.
        way.amount = run.left or None
        way.took = replace(way.took, layer=run.about.get("layer") or way.took.layer, position=None)
        run.end = "tipped"
    if run.balance is not None:
        _take_off(d, run, run.balance, way)


def _take_off(d: Derived, run: Run, before: int, way: Way) -> None:
    """Take it off the book: more than was in it is a fill difference, or for a person to look at. before: the balance.
    """
    amount = way.amount or 0
    run.balance = before - amount
    short = -run.balance
    if short >= 0:
        run.gone = GONE_AS.get(way.took.role, run.gone)
    if short <= 0 or not amount:
        return
    # Where nothing is in it by a count, nothing more is in it than its label says either.
    if short <= (0 if run.counted and before <= 0 else _room(d, run)):
        run.differs(FILL, way.took.at, min(short, amount))
        run.found += min(short, amount)
    else:
        d.held.append(("OVERDRAW", way))
        if before >= 0:
            d.looks.append(("overdrawn", run))


def _room(d: Derived, run: Run) -> int:
    """What more a container may hold than its label says, as far as it was not found in it already."""
    return max(0, d.tolerance(run.about, run.amount or 0) - run.found)


def _empty(d: Derived, carrier: Goes, emptied: Emptied) -> None:
    now = carrier.now
    if now is None and carrier.entries and not emptied.proved:
        return
    if now is not None and emptied.proved:
        if now.balance:
            within = abs(now.balance) <= _room(d, now)
            now.differs(FILL if within else NOT_FOUND, emptied.at, -now.balance)
            if not within:
                d.looks.append((NOT_FOUND, now))
        now.end = "used up"
    carrier.begin(None, emptied.at)


def _count(d: Derived, carrier: Goes, counted: Counted) -> None:
    """From here on the book says what was counted, whatever it said before."""
    run = carrier.now
    if run is None:
        if counted in d.changes.counted and carrier.runs:
            d.looks.append(("counted after it was emptied", carrier.runs[-1]))
    elif run.balance is not None:
        run.differs(COUNTED, counted.at, counted.left - run.balance, counted.left)
        run.gone = ""


# -- what may have been otherwise -------------------------------------------------------------------------------------


Draw = tuple[Goes, Took, Run | str, Run | str | None]


def _leave_open(d: Derived) -> None:
    """Whatever else was in the carrier within what the time of a draw may be off may have been it."""
    draws = _draws_since(d)
    said = {_way(asdict(took)) for _, took, _, _ in draws}
    for carrier in d.carriers.values():
        draws += _draws_before(d, carrier, said)
    for carrier, took, child, parent in draws:
        if took.role in DRAWN and took.unsure > timedelta(0):
            others = carrier.held(took.at - took.unsure, took.at + took.unsure)
            d.open_ways += [(replace(took, amount=None), child, run) for run in others if run is not parent]


def _draws_since(d: Derived) -> list[Draw]:
    """(carrier, draw, what it went into, what it came out of) of all that was gone through."""
    draws: list[Draw] = []
    for way in d.ways:
        source = d.carriers.get(way.took.carrier or "")
        if source is not None:
            draws.append((source, way.took, way.child, way.parent))
    return draws


def _draws_before(d: Derived, carrier: Goes, said: set[tuple[Any, ...]]) -> list[Draw]:
    """What was taken before the beginning, though its time may be off so far that it was after it; said: those that
    were gone through all the same."""
    draws: list[Draw] = []
    righted = said_again(d.changes)
    missed = [m for m in carrier.history.missed if m["carrier"] == carrier.uid]
    before = [e for e in d.edges if e["carrier"] == carrier.uid]
    before += [m for m in missed if (m["child"], m["of"]) not in righted]
    for edge in before:
        if _way(edge) not in said:
            took, child_uid, parent_uid = as_took(carrier.uid, edge), str(edge["child"]), edge.get("parent")
            ends = d.runs.get(child_uid, child_uid), d.runs.get(str(parent_uid), parent_uid)
            draws.append((carrier, took, *ends))
    return draws
