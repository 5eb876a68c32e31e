"""Rules met where a shift is handed over."""

from collections.abc import Iterator

from tests.scan.browser import Screen
from tests.scan.cast import PIN, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule
from tests.scan.rules.weighing import define

NEXT = "P-02"


def next_lead(plant: Plant) -> None:
    define(plant, "person", NEXT, roles=["operator", "lead"])


def handed(open_: Opens) -> Screen:
    """The page after its lead has handed the shift over."""
    screen = open_("handover")
    screen.press("hand over", remark="the vent of T430-02 whistles")
    return screen


@rule("HANDOVER-OWN")
def by_the_same_lead(plant: Plant, at: Opens) -> Iterator[Scan]:
    next_lead(plant)
    screen = handed(at)
    yield lambda: screen.press("accept")
    screen.sign_on(plant[NEXT], PIN)
    screen.open("handover")
    yield lambda: screen.press("accept")


@rule("HANDOVER-ACCEPTED")
def accepted_before(plant: Plant, at: Opens) -> Iterator[Scan]:
    next_lead(plant)
    screen = handed(at)
    screen.sign_on(plant[NEXT], PIN)
    screen.open("handover")
    late = at("handover", NEXT)
    screen.scan(plant[NEXT])
    yield lambda: late.press("accept")
    yield lambda: late.press("hand over", remark="")


@rule("HANDOVER-UNKNOWN")
def nothing_handed_over(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("handover")
    yield lambda: screen.send(screen.page.form, {}, ("do", "accept"))  # type: ignore[union-attr]
    yield lambda: screen.press("hand over", remark="")
