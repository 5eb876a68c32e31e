"""What was known at a moment is answered the same for ever, whatever is recorded afterwards.

Random histories: answers are stored as they were given at moments on the way; later facts, corrections, holds,
exchanged plates, new plant data and switched rules must not change what is answered about those moments.
"""

import json
import os
import random
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

import pytest

from tests.pages.story import Plant, Told
from trace.demo import plant as invented
from trace.demo.floor import RefusedError
from trace.genealogy.answer import genealogy
from trace.genealogy.documents import as_text
from trace.models import Event, HoldRelease
from trace.models import Hold as HoldRow
from trace.pages.units.unit import unit_sheet
from trace.recording.acts.demould import SwapPlates
from trace.recording.acts.holds import ReleaseHold
from trace.recording.acts.setup import Define
from trace.sheets.hulls.gathered import gather
from trace.sheets.hulls.sheet import hull_sheet
from trace.sheets.lots.gathered import gather_lot
from trace.sheets.lots.sheet import lot_sheet

LONG = bool(os.environ.get("LONG_TESTS"))
LOTS = ("D-77", "V-2301", "F-118", "F-121", "N-0417", "V-2288")


def plain(sheet: Any) -> str:
    return json.dumps(asdict(sheet), default=str, sort_keys=True, ensure_ascii=False)


def answers(hulls: list[str], lots: Sequence[str], packs: list[str], at: datetime) -> dict[str, str]:
    """Everything the plant would have shown at that moment, as text."""
    found = {}
    for serial in hulls:
        found[f"hull {serial}"] = plain(hull_sheet(gather(serial, at)))
        found[f"back {serial}"] = as_text(genealogy(serial, "back", at))
    for lot in lots:
        found[f"lot {lot}"] = plain(lot_sheet(gather_lot(lot, at)))
        found[f"forward {lot}"] = as_text(genealogy(lot, "forward", at))
    for pack in packs:
        found[f"pack {pack}"] = plain(unit_sheet(pack, at))
    return found


class History:
    """Goes on telling the story at random; an act the plant refuses is simply not done."""

    def __init__(self, told: Told, seed: int) -> None:
        self.chance = random.Random(seed)
        self.plant: Plant = told.plant
        self.hulls = list(told.hulls.values())
        self.packs = list(told.packs.values())
        self.done: list[str] = []
        self.plant.go_on()

    def step(self, act: str) -> None:
        self.plant.clock.on(minutes=self.chance.randrange(1, 200))
        self.plant.shift.check_scale()
        try:
            getattr(self, act)()
        except RefusedError as refusal:
            self.done.append(f"{act} refused: {str(refusal)[-160:]}")
        else:
            self.done.append(act)

    def one(self) -> str:
        return self.chance.choice(self.hulls)

    def make(self) -> None:
        foams: list[str | tuple[str, str] | None] = [("foam", "foam 2"), "foam 2", None]
        inserts: list[str | tuple[str, str]] = ["m8", ("m8 2", "m8")]
        made = self.plant.kayak(foam=self.chance.choice(foams), bag=5, inserts=self.chance.choice(inserts))
        self.hulls.append(made)

    def late_top_up(self) -> None:
        """Told days later: the silo had been filled before some of the hulls drew from it."""
        long_ago = self.plant.clock.now - timedelta(days=70)
        self.plant.top_up("inner 2", "5.00", mode="tells", happened=long_ago)

    def late_inspection(self) -> None:
        self.plant.inspect(
            self.one(), {"Z1": "3.9"}, mode="tells", unsure_ms=600_000,
            happened=self.plant.clock.now - timedelta(days=2),
        )  # fmt: skip

    def put_right(self) -> None:
        foams = list(Event.objects.filter(kind="weighed", body__contains='"layer":"foam"').order_by("id"))
        event = self.chance.choice(foams)
        was = json.loads(event.body)["says"]["box"]
        now = self.chance.choice(["", *self.plant.boxes["foam 2"]])
        self.plant.correct(str(event.uid), was, now, "Read again from the paper")

    def hold(self) -> None:
        code = self.chance.choice([self.plant.boxes["foam"][1], self.plant.boxes["inner 2"][0], self.one()])
        self.plant.hold(code, whole_lot=self.chance.random() < 0.5, reason="A question")

    def end_hold(self) -> None:
        open_ones = HoldRow.objects.exclude(pk__in=HoldRelease.objects.values("hold"))
        hold = self.chance.choice(list(open_ones.order_by("pk")))
        code = "" if self.chance.random() < 0.5 else self.one()
        self.plant.scan(ReleaseHold(hold=str(hold.uid), code=code, reason="Looked at"), person="P-10")

    def exchange(self) -> None:
        first, second = self.chance.sample([h for h in self.hulls if "T430" in h], 2)
        self.plant.scan(SwapPlates(first=first, second=second, evidence="Photo of both plates"), person="P-06")

    def recipe(self) -> None:
        """The product, its powder and a person change."""
        body = invented.products()["T430"]
        body["area_m2"] = f"{5 + self.chance.random():.2f}"
        body["inserts"] = dict(list(body["inserts"].items())[:11])
        self.define("product", "T430", body)
        self.define("material", "FM-22", {**invented.MATERIALS["FM-22"], "density": ["180", "260"]})
        self.define("person", "P-01", {"roles": ["operator"], "trained": {}, "until": None}, name="Ines Hartley")

    def define(self, kind: str, key: str, body: dict[str, Any], name: str = "") -> None:
        self.plant.scan(Define(kind=kind, key=key, body=body, name=name), person="P-09")

    def rule(self) -> None:
        code = self.chance.choice(["VENT-DUE", "UNTRAINED", "COOK-NO-LOG"])
        self.define("setting", f"rule:{code}", {"value": self.chance.choice(["warn", "off", "hold"])})

    def pack(self) -> None:
        """A hull nobody holds, made here and inspected."""
        hull = self.hulls[-1]
        self.plant.inspect(hull, {f"Z{n}": "4.0" for n in range(1, 7)})
        self.packs.append(self.plant.pack("SO-220", hull))

    def move(self) -> None:
        self.plant.rack("R5-1", self.one())


ACTS = (
    "make", "late_top_up", "late_inspection", "put_right", "hold", "end_hold", "exchange", "recipe", "rule", "pack",
    "move",
)  # fmt: skip


@pytest.mark.parametrize("seed", [2026, 7])
def test_what_was_known_then_is_answered_so_for_ever(story: Told, seed: int) -> None:
    history, told = History(story, seed), len(story.hulls)
    # Each seed is asked about half of the lots and of the hulls told before, and all it makes; with LONG_TESTS all.
    lots = LOTS if LONG else LOTS[seed % 2 :: 2]
    order = [*ACTS, *history.chance.choices(ACTS[1:], k=5)]
    history.chance.shuffle(order)
    # Something is made before anything is held, and again afterwards.
    order = ["make", "pack", *order]
    kept: list[tuple[datetime, list[str], list[str], dict[str, str]]] = []
    for n, act in enumerate(order):
        if n % 4 == 0:
            at = history.plant.clock.now
            hulls = [hull for n, hull in enumerate(history.hulls) if LONG or n >= told or (n + seed) % 2]
            packs = list(history.packs)
            kept.append((at, hulls, packs, answers(hulls, lots, packs, at)))
        history.step(act)
    assert sum("refused" not in act for act in history.done) >= len(order) // 2, history.done
    newest = answers(kept[0][1], lots, kept[0][2], history.plant.clock.now)
    for at, hulls, packs, before in kept:
        again = answers(hulls, lots, packs, at)
        differing = [key for key, text in before.items() if again[key] != text]
        assert not differing, (at, differing, history.done)
    changed = [key for key, text in kept[0][3].items() if newest.get(key) != text]
    assert len(changed) > len(kept[0][3]) // 2, "What was recorded since must show in what is known now."
