"""Rules met where hulls come back: all of them are recorded, and none is refused."""

from collections.abc import Iterator

from tests.scan.browser import Page, Screen
from tests.scan.cast import LEAD, WAREHOUSE, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule, scans
from tests.scan.rules.leaving import old, packs
from trace.recording.acts.complaints import TakeComplaint
from trace.recording.acts.packing import Dispatch


def gone(plant: Plant, n: int) -> str:
    """A hull that left to a dealer; its plate."""
    serial = old(plant, n)
    plant.shift.scan(
        Dispatch(order="SO-220", packs=tuple(packs(plant, serial)), consignee="WHARFE", vehicle="PA 12"),
        person=WAREHOUSE,
    )
    return serial


def comes_back(screen: Screen, plant: Plant, serial: str, **more: str) -> Page:
    scans(screen, serial, plant["R4-2"])
    return screen.press("back", consignee="WHARFE", **more)


@rule("RETURN-TO-LOOK-AT", "flagged")
def back_from_a_dealer(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, screen = gone(plant, 1), at("returns")
    yield lambda: comes_back(screen, plant, serial)
    yield lambda: [screen.open("rack"), scans(screen, plant["R5-1"], serial)][-1]


@rule("RETURN-NOT-SENT", "flagged")
def back_and_never_gone(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, screen = old(plant, 1), at("returns")
    packs(plant, serial)
    yield lambda: comes_back(screen, plant, serial)
    yield lambda: [screen.open("rack"), scans(screen, plant["R5-1"], serial)][-1]


@rule("RETURN-UNKNOWN", "warned")
def nobody_knows_it(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen, other = at("returns"), gone(plant, 2)

    def unknown() -> Page:
        screen.scan(plant["R4-2"])
        screen.press("unknown")
        return screen.fill(plate="GHM-T4?0-00")

    yield unknown
    yield lambda: [screen.open("rack"), scans(screen, plant["R5-1"], old(plant, 3))][-1]
    assert other


@rule("RETURN-OTHER-COMPLAINT", "flagged")
def for_the_complaint_of_another(plant: Plant, at: Opens) -> Iterator[Scan]:
    one, other, screen = gone(plant, 1), gone(plant, 2), at("returns")
    plant.shift.scan(TakeComplaint(hull=other, symptom="crack"), person=LEAD)
    scans(screen, one, plant["R4-2"])
    yield lambda: screen.press("back", consignee="WHARFE", complaint="1")
    yield lambda: [screen.open("rack"), scans(screen, plant["R5-1"], one)][-1]
