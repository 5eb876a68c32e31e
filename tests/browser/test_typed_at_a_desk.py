"""Forms of a desk and the containment walk, typed as fast as scanners and people type: what was typed is what is kept,
once. Walked with --long: each speed is typed through all of them, also over a slow line.
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from playwright.sync_api import Page

from plant.models import Account
from tests.browser.phone import HIGH, WIDE, answered, asked, keys, slow_line, until
from tests.browser.test_desk import signed_on
from tests.browser.told_for import PASSWORD, told_for
from tests.cast import rows_of
from tests.pages.story import Told
from trace.recording.acts.containment import BeginContainment
from trace.recording.acts.packing import Rack

QUALITY, WAREHOUSE = "P-06", "P-07"
# ms a key, and how much later than the others Enter comes.
SPEEDS = ((3, 0), (3, 300), (20, 0), (90, 0), (90, 300), (160, 0))
SLOW_LINE = 400

pytestmark = pytest.mark.skipif("LONG_TESTS" not in os.environ, reason="typed with --long: at six speeds, on two lines")


@pytest.fixture
def story(fresh_database: object) -> Iterator[Told]:
    with told_for(QUALITY, WAREHOUSE) as history:
        yield history


@dataclass
class Typist:
    """Somebody at a desk who types at one speed and never looks up."""

    page: Page
    site: str
    delay: float
    late: float

    def at(self, address: str) -> None:
        self.page.goto(f"{self.site}{address}")

    def types(self, box: str, text: str, end: str = "") -> None:
        """Into this box; with Enter pressed twice where that sends it, as a scanner that bounces does."""
        self.page.locator(box).first.focus()
        self.page.locator(box).first.select_text() if self.page.input_value(box) else None
        keys(self.page, text, end=end, delay=self.delay, late=self.late)

    def sends(self, box: str, text: str) -> None:
        with self.page.expect_navigation():
            self.types(box, text, "Enter")


def texts() -> list[str]:
    return [str(text) for (text,) in rows_of("SELECT text FROM note ORDER BY digest")]


def count(kind: str) -> int:
    return int(rows_of(f"SELECT count(*) FROM event WHERE kind = '{kind}'")[0][0])


def desk(typist: Typist, n: int, story: Told) -> None:
    """A hull found, its complaint taken, a case opened, a suspect named, a scope asked and held, a plan, a list."""
    page, no_log = typist.page, story.hulls["no log"]
    typist.at("/search/")
    typist.sends("main [name=q]", no_log)
    assert no_log in page.inner_text("main")

    typist.at("/complaint/take/")
    typist.sends("[name=q]", f"44?{no_log[-1]}")
    page.locator("a.line", has_text=no_log).first.click()
    page.wait_for_load_state()
    taken = count("complained")
    typist.types("[name=hours]", f"6{n}.5", "Tab")
    typist.types("[name=buyer]", f"Wilf Heron {n}", "Tab")
    typist.sends("[name=contact]", f"wilf{n}@example.org")
    assert count("complained") == taken + 1
    assert {f"Wilf Heron {n}", f"wilf{n}@example.org"} <= set(texts())
    assert f"6{n}.5" in page.inner_text("main")

    opened = count("case_opened")
    typist.at("/cases/")
    typist.sends("[name=name]", f"Cracks at the seat, {n}")
    assert count("case_opened") == opened + 1 and f"Cracks at the seat, {n}" in texts()
    typist.types("[name=cause]", "holds=N-0398", "Tab")
    typist.sends("form:has([name=cause]) [name=reason]", f"its thread {n}")
    assert f"its thread {n}" in texts() and "N-0398" in page.inner_text("main")

    typist.at("/scope/")
    typist.sends("main [name=value]", "N-0398")
    assert "N-0398" in page.inner_text("h1")
    held = count("scope_held")
    typist.sends("form[action='/scope/holds/'] [name=reason]", f"cracks {n}")
    assert count("scope_held") == held + 1 and f"cracks {n}" in texts()

    typist.at("/plan/")
    typist.sends("main [name=kg]", f"1{n}")
    assert page.input_value("main [name=kg]") == f"1{n}"
    typist.at("/open/holds/")
    typist.sends(".look-for [name=q]", f"scope {n}")
    assert page.input_value(".look-for [name=q]") == f"scope {n}"


@pytest.mark.parametrize("line", ["full speed", "slow line"])
def test_what_is_typed_at_a_desk_is_kept_once(story: Told, floor_server: str, chromium: Any, line: str) -> None:
    page = signed_on(chromium, floor_server, 1280, "light", QUALITY)
    page.wait_for_load_state()
    if line == "slow line":
        slow_line(page, SLOW_LINE)
    for n, (delay, late) in enumerate(SPEEDS[::2] if line == "slow line" else SPEEDS, 1):
        desk(Typist(page, floor_server, delay, late), n, story)


@pytest.mark.parametrize("line", ["full speed", "slow line"])
def test_hulls_scanned_on_a_walk_are_seen_once_each(
    story: Told, floor_server: str, chromium: Any, line: str
) -> None:
    plant = story.plant
    plates = [story.hulls[name] for name in ("no log", "bag change", "no foam")]
    plant.scan(Rack(place="R5-1", units=tuple(plates)), person=WAREHOUSE)
    plant.scan(BeginContainment(hold=story.hold), person=QUALITY)
    page = chromium.new_context(viewport={"width": WIDE, "height": HIGH}).new_page()
    page.goto(f"{floor_server}/sign-in/desk/")
    page.fill("[name=name]", WAREHOUSE)
    page.fill("[name=password]", PASSWORD)
    page.click("button.main")
    page.goto(f"{floor_server}/scan/containment/")
    if asked(page) == "read":
        page.click(".press")
        until(lambda: asked(page) != "read")
    if line == "slow line":
        slow_line(page, SLOW_LINE)
    page.wait_for_load_state()
    keys(page, "R5-1", delay=3)
    answered(page)
    seen = 0
    for delay, late in SPEEDS:
        for plate in plates:
            keys(page, plate, delay=delay, late=late)
            answered(page)
            seen += 1
            until(lambda: count("containment_seen") == seen, f"{plate} at {delay} ms")  # noqa: B023 - asked at once
    assert count("containment_seen") == seen
    by_hull = rows_of(
        "SELECT t.text, count(DISTINCT e.id) FROM event e JOIN event_unit x ON x.event = e.id"
        " JOIN serial_state t ON t.hull = x.unit WHERE e.kind = 'containment_seen' GROUP BY t.text"
    )
    assert dict(by_hull) == dict.fromkeys(plates, len(SPEEDS))
    assert Account.objects.filter(person=WAREHOUSE).exists()
