"""Rules met at the dart: too warm, another dart, off the staircase, too few drops, a test that fails."""

from collections.abc import Iterator

from tests.scan.browser import Page, Screen
from tests.scan.cast import QUALITY, SERIALS, Plant, hull
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule
from tests.scan.rules.weighing import define
from trace.demo.plant import IMPACT, products
from trace.recording.acts.impact import DropDart, EndImpact
from trace.recording.acts.setup import Define

COLD = {"height": "1.05", "cold": "40"}


def at_the_dart(plant: Plant, at: Opens) -> Screen:
    hull(plant)
    screen = at("impact")
    screen.scan(SERIALS[0])
    return screen


def drops(plant: Plant, *said: str) -> None:
    for one in said:
        height, result = one.split()
        plant.shift.scan(
            DropDart(unit=SERIALS[0], height=height, result=result, temperature="-40"), person=QUALITY
        )


@rule("IMPACT-WARM")
def thawed(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at_the_dart(plant, at)
    yield lambda: screen.press("pass", height="1.05", cold="31")
    yield lambda: screen.press("pass", **COLD)


@rule("IMPACT-DART")
def another_dart(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at_the_dart(plant, at)
    yield lambda: screen.press("pass", **COLD, dart="30 lb")
    yield lambda: screen.press("pass", **COLD, dart="10 lb")


@rule("IMPACT-STEP", "warned")
def off_the_staircase(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at_the_dart(plant, at)
    drops(plant, "1.05 pass")
    yield lambda: screen.press("pass", height="1.35", cold="40")
    yield lambda: screen.press("ductile", height="1.50", cold="40")


@rule("IMPACT-FEW")
def two_drops(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at_the_dart(plant, at)
    drops(plant, "1.05 pass", "1.20 ductile")

    def enough() -> Page:
        drops(plant, *("1.05 pass", "1.20 ductile") * 4)
        return screen.press("end")

    yield lambda: screen.press("end")
    yield enough


@rule("IMPACT-NO-PLAN")
def nothing_asked(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at_the_dart(plant, at)
    drops(plant, *("1.05 pass", "1.20 ductile") * 5)
    body = products()["T430"]
    bare = {name: value for name, value in body.items() if name != "impact"}
    plant.shift.scan(Define(kind="product", key="T430", body=bare), person="P-09")
    yield lambda: screen.press("end")

    def with_a_plan() -> Page:
        define(plant, "product", "T430", impact=IMPACT)
        return screen.press("end")

    yield with_a_plan


@rule("IMPACT-FAILS", "warned")
def too_low(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at_the_dart(plant, at)
    # What it brings into doubt is held since the test before.
    drops(plant, *("0.45 pass", "0.60 brittle") * 5)
    plant.shift.scan(EndImpact(unit=SERIALS[0]), person=QUALITY)
    drops(plant, *("0.45 pass", "0.60 brittle") * 5)
    yield lambda: screen.press("end")
    yield lambda: screen.press("pass", height="0.60", cold="40")
