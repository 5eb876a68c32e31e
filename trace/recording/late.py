"""The floor as it was when a late act happened: what its carriers held then, and how much was left."""

from dataclasses import replace
from datetime import datetime, timedelta

from trace.recording.changes import BEFORE
from trace.recording.commands import Command
from trace.recording.floor import Floor, Found
from trace.recording.moulds import GIVEN_UP, used_since
from trace.recording.story import story_of, taken_since
from trace.recording.then import load_in, released_at, shut_at
from trace.recording.units import read_units

# States a content left behind when it was filled up or used; when the act happened it was in none of them.
PASSED = ("topped up", "used up", "made anew", "tipped")


class RunAloneError(Exception):
    """This scan rewrites what others may be about to use: it has to run again with no other beside it."""


def late_codes(command: Command, floor: Floor) -> list[str]:
    """The scanned texts whose carriers were filled, emptied or counted since the act happened, or taken from since
    they were filled by it."""
    found = []
    unsure = timedelta(milliseconds=floor.by.unsure_ms)
    for name in command.AS_IT_WAS:
        text = str(getattr(command, name)).strip()
        changed = floor[text].changed
        carrier = floor[text].carrier
        filled = name in command.FILLS and carrier is not None
        # Within what its time may be off, a draw counts as out of what is there now, and of what was there before.
        late = changed is not None and floor.happened < (changed if filled else changed - unsure)
        # What left before a count was gone when it was counted.
        counted = floor[text].counted
        late = late or (counted is not None and floor.happened < counted)
        if late or (filled and taken_since(str(carrier), floor.happened)):
            found.append(text)
    return found


def in_doubt(command: Command, floor: Floor) -> None:
    """Where the carrier was filled or emptied within what the act's time may be off, remember what it held before."""
    unsure = timedelta(milliseconds=floor.by.unsure_ms)
    for name in command.AS_IT_WAS:
        found = floor[str(getattr(command, name))]
        if found.carrier is None or found.changed is None or abs(floor.happened - found.changed) > unsure:
            continue
        base = story_of(found.carrier, found.changed - BEFORE).base
        if base is not None and not found.late:
            floor.found[found.text] = replace(found, before=base.uid)


def as_it_was(floor: Floor, codes: list[str]) -> None:
    """Let these codes stand for what was in their carriers when the act happened."""
    for text in codes:
        floor.found[text] = _then(floor.found[text], floor.happened)


def load_then(command: Command, floor: Floor) -> bool:
    """Let the command's mould stand for the load that was in it when the act happened; True when that is not an open
    load in it now."""
    moulds = [found for found in floor.found.values() if found.mould is not None]
    found = moulds[0] if len(moulds) == 1 else None
    if found is None:
        return False
    since = used_since(found, floor)
    if not (since or (command.INTO_LOAD and (found.mould or {}).get("stage") != "open")):
        return False
    load = found.load
    if since or load is None:
        uid = load_in(found.key, floor.happened)
        load = read_units([uid])[uid] if uid else None
    if load is None and not since:
        return False
    stage = str(load.status) if load else "empty"
    # What went into a load given up as empty is in the mould with the next one, or beside it: somebody looks.
    if load and command.INTO_LOAD and load.status != GIVEN_UP:
        shut = shut_at(load.id)
        stage = "open" if shut is None or floor.happened < shut else stage
    displaced = since and not (load and command.INTO_LOAD)
    mould = {**(found.mould or {}), "stage": stage, "order": load.about.get("order") if load else None}
    floor.found[found.text] = replace(found, load=load, mould=mould, displaced=displaced)
    return True


def as_released(command: Command, floor: Floor) -> None:
    """What was released only after the act was in quarantine when it was used."""
    for name in command.AS_IT_WAS:
        found = floor[str(getattr(command, name))]
        if found.unit is None or found.unit.kind == "charge":
            continue
        when = released_at(found.unit.id)
        if when is not None and floor.happened < when:
            floor.found[found.text] = replace(found, unit=replace(found.unit, status="quarantine"))


def _then(found: Found, when: datetime) -> Found:
    assert found.carrier is not None  # noqa: S101 - only carriers have a time of change
    story = story_of(found.carrier, when)
    if story.base is None:
        return replace(found, unit=None, order=None, layer=None, late=True)
    unit = read_units([story.base.uid])[story.base.uid]
    status = unit.status
    if status in PASSED:
        before = "made before records" if unit.about.get("origin") else "released"
        status = "weighed" if unit.kind == "charge" else before
    unit = replace(unit, balance=story.left, status=status, gone_into=[])
    return replace(found, unit=unit, order=unit.about.get("order"), layer=unit.about.get("layer"), late=True)
