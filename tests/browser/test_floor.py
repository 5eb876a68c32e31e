"""Every station in a telephone's browser, empty and in the middle of a hull that is made by typing codes."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from playwright.sync_api import Page

from tests.browser.looked_at import objections, started_chromium
from tests.scan import cast
from tests.scan.cast import LEAD, OPERATOR, PIN, QUALITY, SERIALS, STORES, WAREHOUSE, Plant
from trace.readmodels import plantdata
from trace.scan.stations import STATIONS

PEOPLE = {
    **dict.fromkeys(("goods-in", "count"), STORES),
    **dict.fromkeys(("certificate", "release", "hold", "release-hold", "correct", "inspect"), QUALITY),
    **dict.fromkeys(("pack", "rewrap", "rack", "dispatch"), WAREHOUSE),
    **dict.fromkeys(("badges", "labels", "discrepancies", "opening"), LEAD),
}
LEAST = 48  # px: what a glove hits


@pytest.fixture
def plant(fresh_database: object) -> Iterator[Plant]:
    plantdata.forget()
    yield cast.tell()
    plantdata.forget()


@pytest.fixture
def chromium() -> Iterator[Any]:
    with started_chromium() as browser:
        yield browser


class Phone:
    """A telephone at a station: 412 px wide; everything said against its pages is kept."""

    def __init__(self, chromium: Any, site: str, plant: Plant, scheme: str) -> None:
        self.site, self.plant, self.chromium, self.scheme = site, plant, chromium, scheme
        self.pages: dict[str, Page] = {}
        self.found: list[object] = []

    def at(self, slug: str) -> Page:
        key = PEOPLE.get(slug, OPERATOR)
        if key not in self.pages:
            context = self.chromium.new_context(viewport={"width": 412, "height": 915}, color_scheme=self.scheme)
            page = self.pages[key] = context.new_page()
            page.on("console", lambda message: self.policy(message.text))
            page.goto(f"{self.site}/sign-in/")
            page.fill("[name=badge]", self.plant[key])
            page.fill("[name=pin]", PIN)
            page.click("button.main")
        answer = self.pages[key].goto(f"{self.site}/scan/{slug}/")
        assert answer is not None
        assert answer.status == 200, slug
        return self.pages[key]

    def policy(self, text: str) -> None:
        if "Content Security Policy" in text:
            self.found.append(text)

    def look(self, page: Page, what: str) -> None:
        self.found += [(what, *said) for said in objections(page)]
        small = page.evaluate(
            """least => [...document.querySelectorAll("main :is(button, a.button, .plain a, input:not([type=hidden]))")]
              .filter(e => e.offsetParent && !["radio", "checkbox", "file"].includes(e.type) && !e.ariaHidden)
              .filter(e => e.getBoundingClientRect().height < least - 0.5)
              .map(e => e.outerHTML.slice(0, 100))""",
            LEAST,
        )
        self.found += [(what, "smaller than a glove hits", html) for html in small]


@contextmanager
def drawn_anew(page: Page) -> Iterator[None]:
    """Wait until the answer stands there: every page drawn has a scan id of its own."""
    before = page.input_value("[name=scan_id]")
    yield
    page.wait_for_function("old => document.querySelector('[name=scan_id]')?.value !== old", arg=before)


def scan(page: Page, *codes: str) -> None:
    """What a hand-held scanner does: keystrokes and Enter, with nothing tapped before."""
    for code in codes:
        with drawn_anew(page):
            page.keyboard.type(code)
            page.keyboard.press("Enter")


def enter(page: Page, do: str = "", **boxes: str) -> None:
    """What thumbs do: fill boxes, then Enter, or press the button `do`."""
    for name, value in boxes.items():
        page.fill(f"[name={name}]", value)
    with drawn_anew(page):
        if do:
            page.click(f"button[value='{do}']")
        else:
            page.keyboard.press("Enter")


def outcome(page: Page) -> str | None:
    verdict = page.locator("[data-outcome]")
    return verdict.get_attribute("data-outcome") if verdict.count() else None


@pytest.mark.parametrize("address", ["/sign-in/", "/sign-in/desk/"])
def test_the_ways_to_sign_on(plant: Plant, floor_server: str, chromium: Any, address: str) -> None:
    phone = Phone(chromium, floor_server, plant, "light")
    page = chromium.new_context(viewport={"width": 412, "height": 915}).new_page()
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
    enter(page, "close", counted="12")
    assert outcome(page) == "accepted", page.inner_text("main")

    page = phone.at("oven")
    scan(page, plant["S1"], plant["T430-01"], plant["OVEN-2"])
    phone.look(page, "oven: before the start")
    enter(page, "start", set_c="290")
    for stage in ("heat", "drop foam", "drop inner", "out"):
        page.locator(f"button[value='stage {stage}']").scroll_into_view_if_needed()
        page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
        enter(page, f"stage {stage}", temperature="160")
        assert page.evaluate("scrollY") == 0    # what is next stands at the top
    phone.look(page, "oven: all stages")
    enter(page, "end", temperature="199")
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


@pytest.mark.parametrize(
    ("typed", "read"),
    [("12.20 kg", "12.20"), ("+12.20", "12.20"), ("12,20", "12.20"), ("12200 g", "12.200"), ("300.5g", "0.3005")],
)
def test_what_a_scale_types(plant: Plant, floor_server: str, chromium: Any, typed: str, read: str) -> None:
    """A scale that types like a keyboard: its figure is kilograms, whatever unit it shows, and nothing is sent."""
    page = Phone(chromium, floor_server, plant, "light").at("weigh")
    scan(page, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    page.focus("[name=gross]")
    page.keyboard.type(typed)
    page.keyboard.press("Enter")
    assert page.input_value("[name=gross]") == read
    assert outcome(page) is None
