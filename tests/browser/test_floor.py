"""Every station in a telephone's browser, empty and in the middle of a hull that is made by typing codes."""

from typing import Any

import pytest
from playwright.sync_api import Page

from tests.browser.phone import HIGH, WIDE, Phone, asked, drawn_anew, enter, keys, out_of_view, outcome, scan
from tests.scan import cast
from tests.scan.cast import SERIALS, Plant
from tests.scan.rules.containment import walk_begun
from trace.models import Scan
from trace.scan.stations import STATIONS


@pytest.mark.parametrize("address", ["/sign-in/", "/sign-in/desk/"])
def test_the_ways_to_sign_on(plant: Plant, floor_server: str, chromium: Any, address: str) -> None:
    phone = Phone(chromium, floor_server, plant, "light")
    page = chromium.new_context(viewport={"width": WIDE, "height": HIGH}).new_page()
    page.goto(f"{floor_server}{address}")
    phone.look(page, address)
    assert phone.found == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_station_as_it_opens(plant: Plant, floor_server: str, chromium: Any, scheme: str) -> None:
    phone = Phone(chromium, floor_server, plant, scheme)
    for slug in STATIONS:
        phone.look(phone.at(slug), slug)
    assert phone.found == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_hull_made_by_keystrokes(plant: Plant, floor_server: str, chromium: Any, scheme: str) -> None:  # noqa: PLR0915 - one story
    """Weighed, refused once, loaded, cooked, bound, inspected, packed: looked at after every step."""
    phone = Phone(chromium, floor_server, plant, scheme)
    tubs = [plant["tubs"][0], plant["drops"][0], plant["drops"][1]]

    page = phone.at("weigh")
    scan(page, plant["WO-1041"], plant["W-3"], plant["foam2"], tubs[0])
    phone.look(page, "weigh: the wrong box")
    for layer in ("foam", "skin"):
        with drawn_anew(page):
            page.locator(f"label:has([name=layer][value={layer}])").click()
        assert f"for the {layer}" in page.inner_text("#next")
    scan(page, plant["red"], tubs[0])
    phone.look(page, "weigh: box and tub")
    enter(page, gross="12,20")
    assert outcome(page) == "refused"
    phone.look(page, "weigh: a comma")
    enter(page, gross="12.20")
    assert outcome(page) == "accepted", page.inner_text("main")
    for box, tub, gross in (("foam2", tubs[1], "9.15"), ("natural", tubs[2], "7.32")):
        scan(page, plant[box], tub)
        enter(page, gross=gross)
        assert outcome(page) == "accepted", page.inner_text("main")
    phone.look(page, "weigh: all done")

    page = phone.at("load")
    scan(page, plant["T430-01"], plant["WO-1041"], plant["S1"])
    phone.look(page, "load: an open mould")
    scan(page, plant["side"])
    # Read twice in one pull of the trigger: one graphic, and the page says so.
    page.keyboard.type(plant["side"])
    page.keyboard.press("Enter")
    page.wait_for_selector("[data-again]:not([hidden])")
    scan(page, plant["capacity"], plant["side"], plant["m8"])
    scan(page, plant["side_b"])
    phone.look(page, "load: a graphic too many")
    scan(page, plant["m6"], *tubs)
    assert outcome(page) == "accepted", page.inner_text("main")
    phone.look(page, "load: everything in")
    enter(page, counted="12")
    assert outcome(page) == "accepted", page.inner_text("main")

    page = phone.at("oven")
    scan(page, plant["S1"], plant["T430-01"], plant["OVEN-2"])
    phone.look(page, "oven: before the start")
    enter(page, "start", set_c="290")
    for stage in ("heat", "drop foam", "drop inner", "out"):
        page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
        phone.look(page, f"oven: {stage}")
        enter(page, f"stage {stage}")
        assert page.evaluate("scrollY") == 0  # what is asked stands there
    phone.look(page, "oven: all stages")
    enter(page, temperature="199")
    phone.look(page, "oven: the log")
    page.click("label:has([name=log][value=missing])")
    enter(page)
    assert outcome(page) is None  # a bare Enter ends no cook
    enter(page, "end")
    phone.look(page, "oven: no log, too cold")
    assert outcome(page) in {"refused", "warned", "flagged"}

    cast.cook(plant, 1, "T430-02", "S2")
    page = phone.at("demould")
    scan(page, plant["T430-02"])
    phone.look(page, "demould: a moulding without its plate")
    scan(page, SERIALS[1])
    assert outcome(page) == "accepted", page.inner_text("main")
    phone.look(page, "demould: bound")

    page = phone.at("inspect")
    scan(page, SERIALS[1])
    phone.look(page, "inspect: a hull")

    page = phone.at("pack")
    scan(page, plant["SO-220"], SERIALS[1])
    assert outcome(page) == "refused", page.inner_text("main")
    phone.look(page, "pack: not inspected")
    plant.shift.inspect(SERIALS[1])
    scan(page, SERIALS[1])
    phone.look(page, "pack: one in it")

    page = phone.at("hold")
    scan(page, SERIALS[1])
    phone.look(page, "hold: a hull")
    assert phone.found == []


# What is scanned at each station; what is asked besides is answered with the first choice, or with 1.
SCANNED = {
    "goods-in": "", "certificate": "red", "release": "red", "opening": "", "top-up": "vessel red", "count": "red",
    "check-weight": "W-3", "weigh": "WO-1041 W-3 red", "load": "T430-02 WO-1041 S2 side", "oven": "S1 T430-01 OVEN-2",
    "demould": "B60-01", "plates": "", "cut": "", "inspect": "hull", "pack": "SO-220 hull", "rewrap": "", "rack": "",
    "dispatch": "SO-220", "hold": "hull", "release-hold": "hull", "correct": "red", "discrepancies": "", "badges": "",
    "labels": "red", "containment": "STORE", "impact": "hull",
    "scrap": "red", "returns": "hull R4-2", "give-back": "red2", "repairs": "hull", "sample": "red", "tub": "",
    "handover": "", "mould-care": "T430-02", "first-off": "T430-01",
    "mount": "T430-02 S2", "stop": "", "carousel": "OVEN-1", "pre-use": "OVEN-2", "stock-count": "R4-2",
}  # fmt: skip


def answer(page: Page) -> bool:
    """Answer what is asked in the plainest way; False at the press that would record."""
    if asked(page) == "type":
        figure = page.locator("[data-entry][data-figure]").count()
        with drawn_anew(page):
            keys(page, "1" if figure else "LEFT BY A TEST", delay=90)
    elif asked(page) == "choose":
        choices = page.locator(".choose .choice")
        if page.locator(".choose[data-look]").count() and choices.count():
            with drawn_anew(page):
                choices.first.click()
            return True
        if choices.count():
            choices.first.click()
        elif page.locator(".choose option").count() > 1:
            page.select_option(".choose select", index=1)
        else:
            return False
        enter(page)
    else:
        return False
    return True


def test_what_is_asked_next_is_in_view_at_every_station(plant: Plant, floor_server: str, chromium: Any) -> None:
    """One thing after the other is scanned and answered; each time the question and its buttons are in view."""
    assert set(SCANNED) == set(STATIONS)
    cast.load(plant)
    codes = plant.codes | {"hull": cast.hull(plant, 1, "T430-02", "S2")}
    walk_begun(plant, codes["hull"])
    phone = Phone(chromium, floor_server, plant)
    found: list[tuple[str, str, list[str]]] = []
    for slug, scanned in SCANNED.items():
        page = phone.at(slug, read=False)
        seen = [(page.inner_text("#next"), out_of_view(page))]
        if asked(page) == "read":
            enter(page)
        for name in scanned.split():
            scan(page, codes[name])
            seen.append((page.inner_text("#next"), out_of_view(page)))
        for _ in range(6):
            if not answer(page):
                break
            seen.append((page.inner_text("#next"), out_of_view(page)))
        found += [(slug, words, html) for words, html in seen if html]
    assert phone.found == []
    assert found == []


@pytest.mark.parametrize(
    ("typed", "read"),
    [("12.20 kg", "12.20"), ("+12.20", "12.20"), ("12,20", "12.20"), ("12200 g", "12.200"), ("12199.9g", "12.1999")],
)
def test_what_a_scale_types(plant: Plant, floor_server: str, chromium: Any, typed: str, read: str) -> None:
    """A scale that types like a keyboard: its figure is kilograms, whatever unit it shows, and its Enter gives it."""
    page = Phone(chromium, floor_server, plant).at("weigh")
    scan(page, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    scan(page, typed)
    # The last is finer than this scale can show: recorded, and the scale is to be looked at.
    assert outcome(page) == ("warned" if len(read) > len("12.200") else "accepted"), page.inner_text("main")
    body = Scan.objects.latest("id").raw
    assert f'"gross":"{read}"' in body
    assert '"how":"read"' in body
