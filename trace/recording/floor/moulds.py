"""A mould as it stands: its state for the read model, and the facts the rules ask of it."""

from datetime import timedelta
from typing import Any

from trace.readmodels.apply import MOULD_COUNTERS
from trace.recording.commands import Facts
from trace.recording.floor.standing import Floor, Found

# Two devices' clocks may differ by so much without anybody being told.
CLOCKS_APART = timedelta(seconds=120)
DONE = {"service": "since_service", "vent": "since_vent", "release coat": "since_release"}
# The only order in which a mould goes through them.
STAGES = ("empty", "open", "closed", "in oven", "cooling", "to demould")
# A load into which nothing was put.
GIVEN_UP = "given up"


def mould_row(found: Found, **change: Any) -> dict[str, Any]:
    """The mould's whole state with these changes, for Rows.mould."""
    state = found.mould or {}
    row: dict[str, Any] = {
        "stage": state.get("stage", "empty"),
        "load": found.load.uid if found.load else None,
        "cycle": state.get("cycle_uid"),
        "arm": state.get("arm"),
        "order": state.get("order"),
        **{name: state.get(name, 0) for name in MOULD_COUNTERS},
    }
    return {**row, **change}


def moves_on(found: Found, stage: str) -> bool:
    """Whether this stage lies ahead of the load in the mould: what is told of one it has passed moves nothing back."""
    now = (found.mould or {}).get("stage", "empty")
    return found.load is not None and not found.late and STAGES.index(now) < STAGES.index(stage)


def nothing_in(found: Found) -> bool:
    """True for a mould that is open and of which nothing is recorded that was put in, nor that was not found."""
    load = found.load
    return (found.mould or {}).get("stage") == "open" and load is not None and not (load.inside or load.gaps)


# What is to be done with a mould that is loaded already, by its stage.
NOW = {
    "open": "Go on loading it; if what is in it is not wanted, give up its load",
    "closed": "It goes to the oven next; scan another mould",
    "in oven": "End its cook first, or scan another mould",
    "cooling": "End its cooling first, or scan another mould",
    "to demould": "Demould it first, or scan another mould",
}


def mould_facts(found: Found, floor: Floor) -> Facts:
    state, body = found.mould or {}, found.body

    def due(name: str, count: str) -> bool:
        limit = body.get(name)
        return limit is not None and int(state.get(count, 0)) >= int(limit)

    return {
        "key": found.key,
        "later": found.displaced or used_since(found, floor),
        "none": found.load is None,
        "stage": state.get("stage", "empty"),
        "open": state.get("stage") == "open",
        # What is told may be told out of turn: what was put in could still be on its way.
        "blank": nothing_in(found) and floor.by.mode == "asks",
        "now": NOW.get(str(state.get("stage")), "Scan another mould"),
        "order": state.get("order") or "no order",
        "state": body.get("state", "unknown"),
        "service_due": due("service_every", "since_service"),
        "vent_due": due("vent_every", "since_vent"),
        "release_due": due("release_every", "since_release"),
        "shots": int(state.get("shots", 0)),
        "products": list(body.get("products", [])),
        "arms": list(body.get("arms", [])),
        "logger": body.get("logger", "none"),
    }


def arm_facts(found: Found) -> Facts:
    return {"key": found.key, "locked": found.body.get("state") == "locked out"}


def used_since(found: Found, floor: Floor) -> bool:
    """True when the load now in the mould was begun only after the act: it is about another, earlier one."""
    return found.load is not None and found.load.made - floor.happened > allowed_apart(floor)


def allowed_apart(floor: Floor) -> timedelta:
    """How far this act's time may be off another device's."""
    return CLOCKS_APART + timedelta(milliseconds=floor.by.unsure_ms)


def shots_after(found: Found) -> dict[str, int]:
    """The shot counts after one more moulding."""
    state = found.mould or {}
    return {name: int(state.get(name, 0)) + 1 for name in MOULD_COUNTERS}
