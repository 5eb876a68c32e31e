"""What may have been otherwise: whatever else was in a carrier within what the time of a draw may be off."""

from dataclasses import asdict, replace
from datetime import timedelta
from typing import Any

from trace.recording.floor.changes import Took
from trace.recording.told_late.contents import Goes, Run, as_took, said_again
from trace.recording.told_late.derived import Derived, way_name
from trace.recording.told_late.history import DRAWN

Draw = tuple[Goes, Took, Run | str, Run | str | None]


def leave_open(d: Derived) -> None:
    """Whatever else was in the carrier within what the time of a draw may be off may have been it."""
    draws = _draws_since(d)
    said = {way_name(asdict(took)) for _, took, _, _ in draws}
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
        if way_name(edge) not in said:
            took, child_uid, parent_uid = as_took(carrier.uid, edge), str(edge["child"]), edge.get("parent")
            ends = d.runs.get(child_uid, child_uid), d.runs.get(str(parent_uid), parent_uid)
            draws.append((carrier, took, *ends))
    return draws
