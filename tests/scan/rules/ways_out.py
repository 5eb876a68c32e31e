"""Rules met where something leaves the containers for good."""

from collections.abc import Iterator

from tests.scan.browser import Screen
from tests.scan.cast import Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule
from tests.scan.rules.desk import held


def scrapping(open_: Opens, code: str) -> Screen:
    screen = open_("scrap")
    screen.scan(code)
    return screen


@rule("OUT-NOTHING-LEFT")
def all_of_nothing(plant: Plant, at: Opens) -> Iterator[Scan]:
    scrapping(at, plant["red2"]).press("all", why="old", why_words="")
    screen = scrapping(at, plant["red2"])
    yield lambda: screen.press("all", why="old", why_words="")
    yield lambda: [screen.scan(plant["red"]), screen.press("all", why="old", why_words="")][-1]


@rule("SCRAP-CAUSE")
def no_reason_of_ones_own(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = scrapping(at, plant["red"])
    yield lambda: screen.fill(amount="2.5", why="other", why_words="")
    yield lambda: screen.fill(amount="2.5", why="other", why_words="a screw fell in")


@rule("SCRAP-HELD")
def on_hold(plant: Plant, at: Opens) -> Iterator[Scan]:
    held(plant)
    screen = at("scrap")
    yield lambda: screen.scan(plant["red"])
    yield lambda: [screen.scan(plant["red2"]), screen.fill(amount="2.5", why="spilt", why_words="")][-1]
