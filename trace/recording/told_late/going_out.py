"""What goes out of a carrier while its history is gone through, and what was found in it."""

from dataclasses import replace

from trace.recording.floor.changes import ALL, GONE_AS, Counted, Emptied
from trace.recording.told_late.contents import Goes, Run, Way
from trace.recording.told_late.derived import FILL, NOT_FOUND, Derived
from trace.recording.told_late.history import COUNTED, DRAWN


def take(d: Derived, carrier: Goes, way: Way) -> None:
    """Something is taken out of what the carrier holds now, or waits until something is in it."""
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


def let_waiting_out(d: Derived, carrier: Goes, *, at_last: bool = False) -> None:
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


def empty(d: Derived, carrier: Goes, emptied: Emptied) -> None:
    """The carrier is emptied: where somebody looked into it, what the book says is left was not found."""
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


def count(d: Derived, carrier: Goes, counted: Counted) -> None:
    """From here on the book says what was counted, whatever it said before."""
    run = carrier.now
    if run is None:
        if counted in d.changes.counted and carrier.runs:
            d.looks.append(("counted after it was emptied", carrier.runs[-1]))
    elif run.balance is not None:
        run.differs(COUNTED, counted.at, counted.left - run.balance, counted.left)
        run.gone = ""
