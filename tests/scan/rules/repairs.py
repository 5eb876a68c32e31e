"""Rules met in the workshop: a hull that is elsewhere, powder for rod, too many repairs, nobody knows of which box."""

from collections.abc import Iterator

from tests.scan.browser import Page, Screen
from tests.scan.cast import SERIALS, Plant, hull
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule
from tests.scan.rules.leaving import old
from tests.scan.rules.returns import gone
from tests.scan.rules.weighing import define


def rods(plant: Plant) -> str:
    return str(plant.shift.stock("VERRIN", "ROD-35", "R-7", ("2.000",))[0])


def mended(screen: Screen, serial: str, box: str, spot: str = "Z3") -> Page:
    """A hull is welded: its plate, where, what, the box, how much."""
    screen.open("repairs")
    screen.scan(serial)
    screen.fill(spot=spot, work="welded")
    screen.scan(box)
    screen.fill(amount="0.045")
    return screen.press("repaired")


@rule("REPAIR-GONE")
def in_the_workshop_and_gone(plant: Plant, at: Opens) -> Iterator[Scan]:
    away, here, box, screen = gone(plant, 1), old(plant, 2), rods(plant), at("repairs")
    yield lambda: mended(screen, away, box)
    yield lambda: mended(screen, here, box)


@rule("REPAIR-OTHER-MATERIAL")
def powder_for_rod(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, box, screen = hull(plant), rods(plant), at("repairs")
    yield lambda: mended(screen, serial, plant["red"])
    yield lambda: mended(screen, serial, box)


@rule("REPAIR-TOO-OFTEN")
def once_is_enough(plant: Plant, at: Opens) -> Iterator[Scan]:
    hull(plant)
    other, box, screen = old(plant, 2), rods(plant), at("repairs")
    define(plant, "setting", "repairs at most", value=1)
    mended(screen, SERIALS[0], box)
    yield lambda: mended(screen, SERIALS[0], box)
    yield lambda: mended(screen, other, box)


@rule("REPAIR-NO-SOURCE", "warned")
def nobody_knows_the_box(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, box, screen = hull(plant), rods(plant), at("repairs")

    def without() -> Page:
        screen.scan(serial)
        screen.fill(spot="Z3", work="welded")
        return screen.press("repaired")

    yield without
    yield lambda: mended(screen, serial, box, "Z4")
