"""The floor as it was when a late act happened: what its carriers held then, and how much was left."""

from dataclasses import replace
from datetime import datetime, timedelta

from trace.recording.commands import Command
from trace.recording.floor.changes import BEFORE
from trace.recording.floor.moulds import GIVEN_UP, allowed_apart, used_since
from trace.recording.floor.sources import status_before
from trace.recording.floor.standing import Floor, Found
from trace.recording.floor.units import UnitFacts, read_units
from trace.recording.told_late.at_that_time import load_in, released_at, stage_at
from trace.recording.told_late.history import PASSED, History, held_between, history_of, taken_since


class RunAloneError(Exception):
    """This scan rewrites what others may be about to use: it has to run again with no other beside it."""


def late_codes(command: Command, floor: Floor) -> list[str]:
    """The scanned texts whose carriers were filled, emptied or counted since the act happened, or taken from since
    they were filled by it."""
    found = []
    for name in command.AS_IT_WAS:
        text = str(getattr(command, name)).strip()
        changed = floor[text].changed
        carrier = floor[text].carrier
        filled = name in (*command.FILLS, command.INTO_EMPTY) and carrier is not None
        late = changed is not None and floor.happened < changed
        # What left before a count was gone when it was counted.
        counted = floor[text].counted
        late = late or (counted is not None and floor.happened < counted)
        if late or (filled and taken_since(str(carrier), floor.happened)):
            found.append(text)
    return found


def in_doubt(command: Command, floor: Floor) -> None:
    """Remember what else a carrier held within what the act's time may be off."""
    first, last = floor.happened - floor.unsure, floor.happened + floor.unsure
    for name in command.AS_IT_WAS:
        found = floor[str(getattr(command, name))]
        if found.carrier is not None and found.changed is not None and first <= found.changed:
            held = held_between(found.carrier, first, last)
            others = tuple(uid for uid in held if found.unit is None or uid != found.unit.uid)
            floor.found[found.text] = replace(found, others=others)


def as_it_was(command: Command, floor: Floor, codes: list[str]) -> None:
    """Let these codes stand for what was in their carriers when the act happened."""
    tub = str(getattr(command, command.INTO_EMPTY)).strip() if command.INTO_EMPTY else ""
    for text in codes:
        floor.found[text] = _then(floor.found[text], floor, into_empty=text == tub)


def load_then(command: Command, floor: Floor) -> bool:
    """Let each of the command's moulds stand for the load that was in it when the act happened; True where one of
    them is not as it stands now."""
    changed = [_load_then(command, floor, found) for found in list(floor.found.values()) if found.mould is not None]
    return any(changed)


def _load_then(command: Command, floor: Floor, found: Found) -> bool:
    since, stage = used_since(found, floor), (found.mould or {}).get("stage")
    shut, out = command.INTO_LOAD and stage != "open", command.OF_LOAD and found.load is None
    if not (since or shut or out):
        return False
    load = _then_in(command, floor, found) if since or found.load is None else found.load
    if load is None and not since:
        return False
    placed = load is not None and (command.INTO_LOAD or (command.OF_LOAD and not since))
    stage = _stage_then(load, floor, placed=placed)
    mould = {**(found.mould or {}), "stage": stage, "order": load.about.get("order") if load else None}
    floor.found[found.text] = replace(found, load=load, mould=mould, late=True, displaced=since and not placed)
    return True


def _then_in(command: Command, floor: Floor, found: Found) -> UnitFacts | None:
    """The load that was in a mould when the act happened."""
    # A cook's record made while its mould is opened is not of the load that comes next.
    leeway = allowed_apart(floor) if command.OF_LOAD else timedelta(0)
    uid = load_in(found.key, floor.happened, leeway)
    return read_units([uid])[uid] if uid else None


def _stage_then(load: UnitFacts | None, floor: Floor, *, placed: bool) -> str:
    """The stage of a mould when the act happened; placed: the act is of the load that was in it then."""
    # What went into a load given up as empty is in the mould with the next one, or beside it: somebody looks.
    if load and placed and load.status != GIVEN_UP:
        return stage_at(load.id, floor.happened)
    return str(load.status) if load else "empty"


def as_released(command: Command, floor: Floor) -> None:
    """What was released only after the act was in quarantine when it was used."""
    for name in command.AS_IT_WAS:
        found = floor[str(getattr(command, name))]
        if found.unit is None or found.unit.kind == "charge":
            continue
        when = released_at(found.unit.id)
        if when is not None and floor.happened < when:
            floor.found[found.text] = replace(found, unit=replace(found.unit, status="quarantine"))


def _then(found: Found, floor: Floor, *, into_empty: bool) -> Found:
    assert found.carrier is not None  # noqa: S101 - only carriers have a time of change
    history = history_of(found.carrier, floor.happened)
    when = _could_be(history, floor, into_empty=into_empty)
    if when != floor.happened:
        history = history_of(found.carrier, when)
    if history.base is None:
        return replace(found, unit=None, order=None, layer=None, late=True, then=when)
    unit = read_units([history.base.uid])[history.base.uid]
    status = unit.status
    if status in PASSED:
        status = status_before(unit.uid, PASSED) or ("weighed" if unit.kind == "charge" else "released")
    unit = replace(unit, balance=history.left, status=status, gone_into=[])
    return replace(found, unit=unit, order=unit.about.get("order"), layer=unit.about.get("layer"), late=True, then=when)


def _could_be(history: History, floor: Floor, *, into_empty: bool) -> datetime:
    """When it happened: within what its time may be off, the first moment at which it could be done. Nothing is taken
    from what is empty, and no charge is weighed into a full tub."""
    if into_empty:
        possible = [] if history.base is None else [at + BEFORE for at in history.emptied]
    else:
        possible = [] if history.base is not None else [content.since for content in history.later]
    return min((at for at in possible if at <= floor.happened + floor.unsure), default=floor.happened)
