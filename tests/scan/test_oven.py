"""The oven's page where an arm carries several moulds, or a stage is seen otherwise than the recipe has it."""

from tests.scan.browser import Screen
from tests.scan.cast import Plant, load
from tests.scan.conftest import Opens
from tests.scan.rules.cases import scans
from trace.models import EventResource


def pair(plant: Plant, at: Opens, *loggers: str) -> Screen:
    """Two kayaks closed on one arm, each with a logger of its own."""
    load(plant, 0, "T430-01", "S1")
    load(plant, 1, "T430-02", "S1")
    screen = at("oven")
    scans(screen, plant["S1"], plant["T430-01"], plant["T430-02"], plant["OVEN-2"], *(plant[key] for key in loggers))
    return screen


def test_an_arm_takes_every_mould_s_own_logger_and_says_which_is_wanted(plant: Plant, at: Opens) -> None:
    screen = pair(plant, at, "LG-2")
    assert "Scan logger LG-1" in screen.page.next  # type: ignore[union-attr]
    said = screen.page.said("main")  # type: ignore[union-attr]
    assert "Logger LG-1 T430-01" in said
    assert "Logger LG-2 T430-02" in said
    page = screen.scan(plant["LG-1"])
    assert "Scan logger" not in page.next
    assert screen.press("start").outcome == "accepted"
    assert EventResource.objects.filter(role="logger").count() == 2
