"""The facts every rule may ask: what the codes are, who scans, and when."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from trace.codes import printable, printed
from trace.readmodels.plantdata import Directory
from trace.recording.commands import Command, Facts
from trace.recording.floor.sources import given_back_with
from trace.recording.floor.standing import Floor, Found
from trace.recording.floor.words import clock
from trace.recording.floor.words import person as person_name
from trace.recording.rules.table import TABLE

PAPER_MINUTES = timedelta(minutes=10)  # by which a time written by hand may be off (common practice)
QUOTED = 24  # characters of a strange code that a sentence repeats: a foreign square holds hundreds
KIND_WORDS = {
    "drop_box": "drop box",
    "works_order": "works order",
    "sales_order": "sales order",
    "container": "container",
    "roll": "graphic pack",
}
NAMES = {name for rule in TABLE for name in rule.reads} | {
    "hold", "correction", "close", "reprint", "cut", "moulding",
}  # fmt: skip


def base_facts(command: Command, floor: Floor) -> Facts:
    facts: Facts = {name: {} for name in NAMES}
    facts["codes"] = _codes(command, floor)
    facts["person"] = _person(command, floor)
    # floor.happened is never later than now; what the device said is.
    ahead = ((floor.by.happened or floor.now) - floor.now).total_seconds()
    facts["time"] = {"ahead_s": int(ahead), "ahead": _span(ahead), **_before_made(command, floor)}
    return facts


def _before_made(command: Command, floor: Floor) -> dict[str, Any]:
    """The first hull or pack scanned that was not there yet when this happened. Of one that was booked as made before
    the records nobody knows when that was."""
    then = floor.happened + PAPER_MINUTES + timedelta(milliseconds=floor.by.unsure_ms)
    for _, code, _ in command.codes():
        found = floor[code]
        unit = found.hull or found.unit
        if unit and unit.kind in ("hull", "pack") and unit.made > then and unit.status != "made before records":
            return {"before_made": True, "what": found.name, "made": clock(unit.made)}
    return {"before_made": False, "what": "", "made": ""}


OF_CODES = (
    "trouble", "unknown", "unknown_now", "wrong", "is_a", "wanted", "asked", "dead", "replaced_by", "given_back",
)  # fmt: skip


def _codes(command: Command, floor: Floor) -> dict[str, Any]:
    """What the rules about codes read: of each kind of trouble the first that a code is in, "" where none is."""
    said = dict.fromkeys(OF_CODES, "")
    for _, code, kinds in command.codes():
        found = floor[code]
        if command.OFF_PAPERS and found.hull is not None:
            found = replace(found, dead=False)
        for name, words in _trouble_with(found, code, kinds, floor.plant).items():
            said[name] = said[name] or words
    return said


def _given_back(found: Found, plant: Directory) -> dict[str, str]:
    """To whom a container went back that is scanned all the same."""
    if found.unit is None or found.unit.status != "given back":
        return {}
    supplier, note_no, when = given_back_with(found.unit.id)
    name = plant.body("supplier", supplier).get("name") or supplier or "its supplier"
    on = f" on {clock(when)}" if when else ""
    return {"given_back": f"{found.name} went back to {name} with note {note_no}{on}"}


def _trouble_with(found: Found, code: str, kinds: tuple[str, ...], plant: Directory) -> dict[str, str]:
    """What is wrong with one code where one of these kinds is asked for; empty when nothing is."""
    if found.trouble:
        return {"trouble": found.trouble}
    if not code.strip():
        return {"unknown": _one(kinds).capitalize(), "unknown_now": _where_known(kinds)}
    if not found.kinds:
        return {"unknown": printable(found.name or code, QUOTED), "unknown_now": _where_known(kinds)}
    if found.dead:
        return {"dead": found.name, "replaced_by": printed(found.replaced_by or "another label")}
    if found.kinds & set(kinds):
        return _given_back(found, plant)
    return {
        # A key was typed, or stands on the label beside the code: it is what people call the thing.
        "wrong": printable(found.key or found.name, QUOTED),
        "is_a": _one(tuple(sorted(found.kinds))),
        "asked": _one(kinds),
        # A long list is not said twice.
        "wanted": _say(kinds) if len(kinds) <= 3 else "right one",
    }


def _where_known(kinds: tuple[str, ...]) -> str:
    """What to do where no thing of these kinds is known by a code."""
    if set(kinds) <= {"plate", "hull"}:
        return "Scan the plate again; if it reads so, no such plate is out: the lead checks its batch out at Plates"
    return "Scan the plant's own label. If there is none, book the thing at goods-in first"


def _say(kinds: tuple[str, ...]) -> str:
    words = [KIND_WORDS.get(k, k.replace("_", " ")) for k in kinds]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _one(kinds: tuple[str, ...]) -> str:
    words = _say(kinds)
    return f"{'an' if words[0] in 'aeiou' else 'a'} {words}"


def _person(command: Command, floor: Floor) -> dict[str, Any]:
    task = command.TASK
    able = task is None or any(_trained(floor, key, task) for key in (floor.by.person, floor.by.helper) if key)
    return {"name": person_name(floor.by.person), "task": task or "anything", "untrained": not able}


def _trained(floor: Floor, key: str, task: str) -> bool:
    body = floor.plant.body("person", key)
    until = body.get("trained", {}).get(task)
    live = bool(until) and date.fromisoformat(str(until)[:10]) >= floor.day
    return live and all(_may_run(body.get("only_on"), one.body, one.key) for one in floor.found.values() if one.thing)


def _may_run(only_on: Any, body: dict[str, Any], key: str) -> bool:
    """Whether sign-offs that name machines hold for this thing: an arm by itself or by the oven it goes into."""
    return not only_on or body.get("kind") not in ("oven", "arm") or key in only_on or body.get("oven") in only_on


def _span(seconds: float) -> str:
    minutes = int(seconds // 60)
    return (
        f"{minutes} minutes"
        if minutes < 120
        else f"{minutes // 60} hours"
        if minutes < 2880
        else f"{minutes // 1440} days"
    )
