"""Every desk page at a telephone's and a desk's width: nothing axe objects to, nothing wider than the window."""

from collections.abc import Iterator
from functools import partial
from typing import Any

import pytest
from playwright.sync_api import Page

from plant.credentials import set_password
from plant.models import Person
from tests.browser.looked_at import objections, started_chromium
from tests.pages.story import Told, told
from trace.genealogy.containment import walks
from trace.readmodels import plantdata
from trace.recording.acts.containment import BeginContainment

PASSWORD = "lantern over slow water"


@pytest.fixture
def story(fresh_database: object) -> Told:
    plantdata.forget()
    history = told()
    history.plant.scan(BeginContainment(hold=history.hold), person="P-06")
    set_password(Person.objects.get(key="P-09"), PASSWORD)
    return history


@pytest.fixture
def chromium() -> Iterator[object]:
    with started_chromium() as browser:
        yield browser


def note(said: list[str], message: Any) -> None:
    """Keeps what a page's console says."""
    said.append(message.text)


def signed_on(chromium: object, site: str, width: int, scheme: str) -> Page:
    context = chromium.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)  # type: ignore[attr-defined]
    page: Page = context.new_page()
    page.goto(f"{site}/sign-in/desk/")
    page.fill("[name=name]", "P-09")
    page.fill("[name=password]", PASSWORD)
    page.click("button.main")
    return page


def test_every_page_of_the_desk(story: Told, floor_server: str, chromium: object) -> None:
    pages = (
        "/", f"/hull/{story.hulls['no log']}/", f"/hull/{story.hulls['no foam']}/", f"/hull/{story.hulls['sled']}/",
        "/lot/N-0417/", "/lot/D-77/", f"/unit/{story.packs['sleds']}/", "/unit/T430-01/", "/search/",
        "/search/?q=44?9", "/search/?model=T430&status=released", "/compare/",
        f"/compare/?a={story.hulls['bag change']}&b={story.hulls['no log']}", "/rules/?change=VENT-DUE",
        "/rules/", "/rules/?q=scale&now=warn", "/rules/?q=nothing+like+it",
        "/setup/mould/", "/setup/person/?key=P-01", "/setup/works_order/?new=1", "/setup/product/?key=T430",
        "/setup/sales_order/?key=SO-221", "/open/holds/", "/open/cycles/", "/open/lots/", "/search/?q=4419+teal",
        f"/containment/?walk={walks()[0].uid}", f"/containment/?hold={story.hold}", "/containment/",
        "/balance/V-2288/", "/dispersion/", "/dispersion/V-2288/", f"/dispersion/{story.hulls['sled']}/", "/plan/",
        "/scope/", "/papers/", "/scope/?q=holds%3DN-0417&q=and&q=not&q=arm%3DS2&show=all", "/scope/?q=colour%3Dred",
    )  # fmt: skip
    found = []
    for width, scheme in ((1280, "light"), (412, "light"), (1280, "dark")):
        page = signed_on(chromium, floor_server, width, scheme)
        said: list[str] = []
        page.on("console", partial(note, said))
        for address in pages:
            answer = page.goto(f"{floor_server}{address}")
            assert answer is not None and answer.status == (400 if "colour" in address else 200), address
            found += [(address, width, scheme, *said_of) for said_of in objections(page)]
        found += [
            (text, width, scheme, "refused by the content policy", "")
            for text in said
            if "Content Security Policy" in text
        ]
    assert found == []


def test_the_rules_are_seen_at_a_glance_and_each_is_one_press_away(
    story: Told, floor_server: str, chromium: object
) -> None:
    page = signed_on(chromium, floor_server, 1280, "light")
    page.goto(f"{floor_server}/rules/")
    assert page.evaluate("document.documentElement.scrollHeight") <= 3 * 800
    sentence = page.locator("#CHARGE-HEAVY", has_text="too much for the")
    assert not sentence.is_visible()
    page.locator("summary", has_text="Weigh, check weight").focus()
    page.keyboard.press("Enter")
    assert sentence.is_visible()
    page.emulate_media(media="print")
    assert page.locator("#PLATE-USED").is_visible(), "on paper every rule stands in full"
