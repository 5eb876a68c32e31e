"""Rules met where a place is counted by scanning."""

from collections.abc import Iterator

from tests.scan.browser import Screen
from tests.scan.cast import STORES, Plant, passed
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule
from trace.recording.acts.packing import Rack
from trace.recording.acts.stock_counts import BeginStockCount, EndStockCount
from trace.recording.floor.stock_counts import stock_counts

PLACE = "R4-2"


def begun(plant: Plant, open_: Opens) -> Screen:
    """The page of an open count of the rack."""
    plant.shift.scan(BeginStockCount(place=PLACE), person=STORES)
    screen = open_("stock-count")
    screen.scan(plant[PLACE])
    return screen


def racked(plant: Plant, n: int = 0) -> str:
    """A hull that stands in the rack."""
    serial = passed(plant, n)
    plant.shift.scan(Rack(place=PLACE, units=(serial,)), person="P-07")
    return serial


@rule("STOCK-COUNT-OPEN")
def counted_already(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("stock-count")
    screen.scan(plant[PLACE])
    plant.shift.scan(BeginStockCount(place=PLACE), person=STORES)
    yield lambda: screen.send(screen.page.form, {}, ("do", "begin"))  # type: ignore[union-attr]
    yield lambda: [screen.scan(plant["R5-1"]), screen.press("begin")][-1]


@rule("STOCK-COUNT-UNKNOWN")
def never_begun(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("stock-count")
    screen.scan(plant[PLACE])
    yield lambda: screen.send(screen.page.form, {}, ("do", "end"))  # type: ignore[union-attr]
    yield lambda: screen.press("begin")


@rule("STOCK-COUNT-OVER")
def over_meanwhile(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = begun(plant, at)
    [one] = stock_counts(most=1)
    plant.shift.scan(EndStockCount(count=one.uid), person=STORES)
    yield lambda: screen.press("end", known="")
    yield lambda: screen.press("begin")


@rule("STOCK-EMPTY")
def nothing_in_it(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = begun(plant, at)
    yield lambda: screen.scan(plant["vessel"])
    yield lambda: screen.scan(plant["red"])


@rule("STOCK-ELSEWHERE", "warned")
def not_expected_there(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial = racked(plant)
    screen = begun(plant, at)
    yield lambda: screen.scan(plant["red"])
    yield lambda: screen.scan(serial)


@rule("STOCK-NO-REASON")
def not_found_and_nothing_said(plant: Plant, at: Opens) -> Iterator[Scan]:
    racked(plant)
    screen = begun(plant, at)
    yield lambda: screen.press("end", known="")
    yield lambda: screen.press("end", known="it may be at the repair bench")
