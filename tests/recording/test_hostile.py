"""Whatever stands in a field, a scan is answered: refused in a sentence, or recorded; nothing breaks."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from django.db import transaction

from tests.cast import LEAD, Cast
from tests.recording.test_statements import day
from trace.chain import canonical
from trace.readmodels.rebuild import differences
from trace.recording.answers import Answer

TEXTS = {
    "nothing": "",
    "blank": " ",
    "a zero byte": "A\x00B",
    "half a character": "\ud800",
    "no number": "NaN",
    "no end": "Infinity",
    "a power": "1e9",
    "below zero": "-5",
    "too many digits": "9" * 40,
    "far too long": "Z" * 9000,
    "braces": "{box[name]} {0} %s %(x)s",
    "a place for a name": "⟦person:P-01⟧",
    "markup": "<script>alert(1)</script>",
    "right to left": "\u202e2288-V",
}


def hostile(command: Any, name: str, text: str) -> Any:
    """The command with this text in one field, whatever kind of field it is."""
    value = getattr(command, name)
    if isinstance(value, str):
        return dataclasses.replace(command, **{name: text})
    if isinstance(value, tuple) and (not value or isinstance(value[0], str)):
        return dataclasses.replace(command, **{name: (text, *value[1:], text)})
    if isinstance(value, dict):
        return dataclasses.replace(command, **{name: {text: text}})
    return None


def attempts(command: Any) -> list[tuple[str, Any]]:
    found = []
    for n, spec in enumerate(dataclasses.fields(command)):
        # Another third of the texts in each field; over all commands each text is in every kind of field.
        for what, text in list(TEXTS.items())[n % 3 :: 3]:
            other = hostile(command, spec.name, text)
            if other is not None:
                found.append((f"{type(command).__name__}.{spec.name}: {what}", other))
    return found


@pytest.mark.parametrize("mode", ["asks", "tells"])
def test_no_text_breaks_a_scan(cast: Cast, mode: str) -> None:
    """Hostile texts in every field of every command, at the moment at which that command is in order."""
    broken: dict[str, str] = {}
    for command, person in day(cast):
        for what, other in attempts(command):
            try:
                with transaction.atomic():
                    answer = record_it(cast, other, person, mode)
                    assert answer.outcome in {"accepted", "warned", "flagged", "refused"}
                    assert mode == "asks" or other.DECISION or answer.outcome != "refused"
                    transaction.set_rollback(True)
            except Exception as error:
                broken[what] = f"{type(error).__name__}: {str(error)[:90]}"
        # Opening stock takes two persons; to everything else a second one does no harm.
        cast.scan(command, person=person, helper=LEAD)
    assert not broken, "\n".join(f"{k} -> {v}" for k, v in broken.items())
    assert differences() == []


def record_it(cast: Cast, command: Any, person: str, mode: str) -> Answer:
    from trace.recording.commands import By
    from trace.recording.record import record

    now = cast.clock.now
    answer = record(command, By(person=person, device="t1", mode=mode, recorded=now, happened=now))
    canonical({"text": answer.text()})
    return answer
