"""Rules met with a weighed tub that its order does not take."""

from collections.abc import Iterator

from tests.scan.browser import Screen
from tests.scan.cast import QUALITY, STORES, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule
from trace.recording.acts.holds import Hold
from trace.recording.acts.setup import Define
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh

OTHER = "WO-1099"


def other_order(plant: Plant, **change: object) -> str:
    body = {"product": "T430", "colour": "red", "quantity": 3, "purpose": "production", **change}
    plant.shift.scan(Define(kind="works_order", key=OTHER, body=body, new=True), person="P-09")
    return OTHER


def with_tub(plant: Plant, open_: Opens, n: int = 0) -> Screen:
    """The station with a tub that holds a skin for WO-1041, out of the red box."""
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][n])
    screen = open_("tub")
    screen.scan(plant["tubs"][n])
    return screen


@rule("TUB-EMPTY")
def empty(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("tub")
    screen.scan(plant["tubs"][1])
    yield lambda: screen.scan(plant["red"])
    yield lambda: with_tub(plant, at).scan(plant["red"])


@rule("TUB-ON-HOLD")
def on_hold(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = with_tub(plant, at)
    plant.shift.scan(Hold(code=plant["tubs"][0], rule="quality", reason="x"), person=QUALITY)
    yield lambda: screen.scan(plant["red"])
    yield lambda: with_tub(plant, at, 1).scan(plant["red"])


@rule("TIP-BACK-ELSEWHERE")
def elsewhere(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = with_tub(plant, at)
    yield lambda: screen.scan(plant["red2"])
    yield lambda: screen.scan(plant["red"])


@rule("TIP-BACK-CHANGED")
def another_by_now(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = with_tub(plant, at)
    plant.shift.scan(TopUp(source=plant["red2"], into=plant["red"], amount="5", commingle=True), person=STORES)
    yield lambda: screen.scan(plant["red"])
    yield lambda: screen.scan(other_order(plant))


@rule("REASSIGN-PART")
def in_part(plant: Plant, at: Opens) -> Iterator[Scan]:
    said = {"order": "WO-1041", "layer": "skin", "box": plant["red"], "tub": plant["tubs"][0], "scale": "W-3"}
    plant.shift.scan(Weigh(**said, gross="6.00", part=True))
    other_order(plant)
    screen = at("tub")
    screen.scan(plant["tubs"][0])
    yield lambda: screen.scan(OTHER)
    yield lambda: screen.scan(plant["red"])


@rule("REASSIGN-SAME")
def same_order(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = with_tub(plant, at)
    yield lambda: screen.scan("WO-1041")
    yield lambda: screen.scan(other_order(plant))


@rule("REASSIGN-ENDED")
def ended_order(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = with_tub(plant, at)
    other_order(plant, ended=True)
    yield lambda: screen.scan(OTHER)
    yield lambda: [screen.open("tub"), screen.scan(plant["tubs"][0]), screen.scan(plant["red"])][-1]


@rule("REASSIGN-RECIPE")
def other_recipe(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = with_tub(plant, at)
    yield lambda: screen.scan("WO-1044")
    yield lambda: screen.scan(other_order(plant))


@rule("REASSIGN-WEIGHT")
def other_weight(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = with_tub(plant, at)
    yield lambda: screen.scan("WO-1043")
    yield lambda: screen.scan(other_order(plant))
