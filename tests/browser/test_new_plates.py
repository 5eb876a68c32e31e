"""On a telephone: a plate is replaced by two people, and a hull is moulded anew in place of another."""

import os
from pathlib import Path
from typing import Any

from tests.browser.phone import Phone, answered, drawn_anew, outcome, scan
from tests.scan.cast import LEAD, SERIALS, Plant, hull
from trace.recording.acts.opening import OldHull

# Where pictures of the pages are put, for people who look at them.
PICTURES = os.environ.get("PICTURES", "")


def picture(page: Any, name: str) -> None:
    if PICTURES:
        page.screenshot(path=Path(PICTURES) / f"{name}.png", full_page=True)


def test_a_plate_is_replaced_by_two_and_a_hull_stands_for_another(
    plant: Plant, floor_server: str, chromium: Any
) -> None:
    hull(plant)
    plant.shift.scan(OldHull(serial="GHM-T430-000009", product="T430", place="STORE"), person="P-09")
    phone = Phone(chromium, floor_server, plant)
    page = phone.at("plates", LEAD)
    with drawn_anew(page):
        page.click("label:has([name=task][value=replace])")
    phone.look(page, "replace, empty")
    picture(page, "replace-empty")
    scan(page, SERIALS[0])
    answered(page)
    scan(page, SERIALS[7])
    answered(page)
    phone.look(page, "replace, both read")
    picture(page, "replace-filled")
    page.check("[name=why][value=burnt]", force=True)
    with drawn_anew(page):
        page.click("button[value=replace]:not(.first)")
    assert outcome(page) == "refused"
    assert "A plate is replaced by two people" in page.inner_text("main")
    phone.look(page, "replace, alone")
    picture(page, "replace-refused")
    page = phone.at("plates", LEAD)
    with drawn_anew(page):
        page.click("label:has([name=task][value=remould])")
    scan(page, "GHM-T430-000009")
    answered(page)
    scan(page, SERIALS[0])
    answered(page)
    phone.look(page, "remould, both read")
    picture(page, "remould-filled")
    page.check("[name=plate_destroyed]", force=True)
    with drawn_anew(page):
        page.click("button[value=remould]:not(.first)")
    assert outcome(page) in ("accepted", "warned"), page.inner_text("main")
    phone.look(page, "remould, done")
    picture(page, "remould-done")
    for width in (412, 1280):
        page.set_viewport_size({"width": width, "height": 900})
        page.goto(f"{floor_server}/hull/{SERIALS[0]}/")
        picture(page, f"hull-{width}")
        assert "GHM-T430-000009" in page.inner_text("main")
    assert phone.found == []
