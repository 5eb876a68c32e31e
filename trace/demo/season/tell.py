"""Tells a script through record(), step by step, with the labels that each step gives out known to those after it."""

from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from typing import Any

from django.db import connection

from trace.demo.floor import RefusedError
from trace.demo.season.script import Step
from trace.recording.answers import Answer
from trace.recording.commands import By, Command
from trace.recording.record import record

EVENT = "SELECT uid::text FROM event ORDER BY id DESC LIMIT 1"


def tell(steps: Sequence[Step], progress: Callable[[int, int, Step], None]) -> None:
    """Record every step; RefusedError where the plant refuses what the script does not expect it to, or the other way
    round. progress(done, total, step) after each."""
    names: dict[str, Any] = {}
    for n, step in enumerate(steps, 1):
        for hold in names[step.each] if step.each else [""]:
            command = _named(step.command, {**names, step.each: hold} if step.each else names)
            _keep(step, _recorded(step, command), names)
        progress(n, len(steps), step)


def _recorded(step: Step, command: Command) -> Answer:
    by = By(
        person=step.person, station=step.station, device="season", happened=step.happened or step.at, recorded=step.at,
        mode="tells" if step.happened else "asks", overrides=step.overrides, helper=step.helper,
    )  # fmt: skip
    answer = record(command, by)
    if (answer.code if answer.outcome == "refused" else "") != step.refused:
        said = f"{answer.code}: {answer.what} {answer.why} {answer.now}"
        raise RefusedError(f"{step.at:%Y-%m-%d %H:%M} {command}: {said}")
    return answer


def _keep(step: Step, answer: Answer, names: dict[str, Any]) -> None:
    """What this step gave out, under the names by which later ones ask for it."""
    if step.codes:
        names.update(zip(step.codes, answer.made["codes"], strict=True))
    if step.holds:
        names.setdefault(step.holds, []).extend(answer.made["holds"])
    if step.unit:
        names[step.unit] = answer.made["units"][0]["lot_no"]
    if step.event:
        with connection.cursor() as cursor:
            cursor.execute(EVENT)
            (names[step.event],) = cursor.fetchone()


def _named(command: Command, names: dict[str, Any]) -> Command:
    """The command with the labels in it that stand behind its names."""
    changed = {}
    for spec in fields(command):
        value = getattr(command, spec.name)
        if isinstance(value, str) and value.startswith("@"):
            changed[spec.name] = names[value]
        elif isinstance(value, tuple) and any(isinstance(v, str) and v.startswith("@") for v in value):
            changed[spec.name] = tuple(names.get(v, v) for v in value)
    return replace(command, **changed) if changed else command
