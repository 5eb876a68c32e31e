"""Random check-weights and weighings, told in any order, typed wrongly and put right: what the plain rule holds."""

from __future__ import annotations

import os
import random
from dataclasses import dataclass, replace
from datetime import timedelta

import pytest
from django.db import transaction

from tests.cast import LEAD, QUALITY, WO_RED, Cast, rows_of
from tests.recording.histories import minute, newest
from tests.recording.plain_scale import Read, held_at_last, in_doubt
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.reading_corrections import CorrectReading
from trace.recording.acts.weighing import CheckWeight, Weigh

SEEDS = 400 if os.environ.get("LONG_TESTS") else 40
A_TEST = 10
SCALE, MASS, LIMIT = "W-3", 10_000, 20  # of the invented plant: its check mass and limit, in grams


@dataclass
class Day:
    """What truly was, what was typed of it first, in which order it was told and put right."""

    truth: dict[int, Read]
    said: dict[int, Read]
    telling: list[int]
    righting: list[int]


def day_of(seed: int) -> Day:
    dice = random.Random(seed)
    truth: dict[int, Read] = {}
    for n in range(dice.randint(4, 9)):
        at = minute(n)
        if dice.random() < 0.5:
            truth[n] = Read(at, "check", dice.choice([0, 0, 10, -20, 21, 100, -100]))
        else:
            truth[n] = Read(at, "weigh", tub=f"T{n}")
    said = dict(truth)
    for n, act in truth.items():
        what = dice.random()
        if act.kind == "check" and what < 0.4:
            said[n] = replace(act, off=dice.choice([0, 20, -21, 100]))
        elif act.kind == "weigh" and what < 0.3:
            said[n] = replace(act, at=act.at + timedelta(minutes=dice.choice([-3, -2, -1, 1, 2]), seconds=20))
    telling = sorted(truth, key=lambda n: n + dice.choice([0, 0, 1.5, 4, 20]))
    righting = [n for n in truth if said[n] != truth[n]]
    dice.shuffle(righting)
    return Day(truth, said, telling, righting)


class Clerk:
    """Tells a day to the product."""

    def __init__(self, cast: Cast, day: Day) -> None:
        self.cast, self.day = cast, day
        tubs = cast.shift.carriers("tub", len(day.truth))
        self.tubs = {act.tub: tubs[n] for n, act in day.truth.items() if act.tub}
        self.events: dict[int, str] = {}

    def tell(self, n: int) -> None:
        act = self.day.said[n]
        command: CheckWeight | Weigh
        if act.kind == "check":
            command = CheckWeight(scale=SCALE, shown=shown(act.off), again=shown(act.off))
        else:
            tub = self.tubs[act.tub]
            command = Weigh(order=WO_RED, layer="skin", box=self.cast["red"], tub=tub, scale=SCALE, gross="12.20")
        self.cast.late(command, act.at)
        self.events[n] = newest()

    def right(self, n: int) -> None:
        act, event, box = self.day.truth[n], self.events[n], self.cast["red"]
        if act.kind == "check":
            reading = CorrectReading(of=SCALE, event=event, n=0, value=shown(act.off), reason="read again")
            self.cast.scan(reading, person=QUALITY)
        else:
            right = Correct(event=event, was=box, now=box, at=act.at.isoformat(), reason="another time")
            self.cast.scan(right, person=LEAD)

    def held(self) -> set[str]:
        """The tubs whose charge is held because of the scale."""
        codes = {code: name for name, code in self.tubs.items()}
        found = rows_of(
            """SELECT DISTINCT l.code::text FROM label l JOIN carrier_state c ON c.carrier = l.carrier
                 JOIN unit_hold x ON x.unit = c.content JOIN hold h ON h.id = x.hold
                WHERE l.code = ANY (%s::text[])""",
            list(codes),
        )
        return {codes[code] for (code,) in found}


def shown(off: int) -> str:
    return f"{(MASS + off) / 1000:.3f}"


def check(cast: Cast, seed: int) -> None:
    day = day_of(seed)
    clerk = Clerk(cast, day)
    # The scale was found right in the morning.
    known = {-1: Read(minute(-240), "check")}
    steps = []
    for n in day.telling:
        clerk.tell(n)
        known[n] = day.said[n]
        steps.append(dict(known))
    for n in day.righting:
        clerk.right(n)
        known[n] = day.truth[n]
        steps.append(dict(known))
    held = clerk.held()
    assert held == held_at_last(steps, LIMIT)
    assert in_doubt(known.values(), LIMIT) <= held
    assert differences() == []


@pytest.mark.parametrize("first", range(0, SEEDS, A_TEST))
def test_any_day_at_a_scale(cast: Cast, first: int) -> None:
    failed, now = {}, minute(24 * 60)
    for seed in range(first, first + A_TEST):
        cast.clock.now = now
        try:
            with transaction.atomic():
                check(cast, seed)
                transaction.set_rollback(True)
        except Exception as error:
            failed[seed] = f"{type(error).__name__}: {error}"
    assert not failed, "\n".join(f"{seed}: {why}" for seed, why in failed.items())
