"""Every desk page at a telephone's and a desk's width: nothing axe objects to, nothing wider than the window.

axe-core (axe_playwright_python) checks what of WCAG 2.2 AA and its own best practice can be checked by program.
"""

import os
import shutil
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, sync_playwright

from plant.credentials import set_password
from plant.models import Person
from tests.pages.story import Told, told
from trace.readmodels import plantdata

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
]  # fmt: skip
STANDARDS = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"]
PASSWORD = "lantern over slow water"


@pytest.fixture
def story(fresh_database: object) -> Told:
    plantdata.forget()
    history = told()
    set_password(Person.objects.get(key="P-09"), PASSWORD)
    return history


@pytest.fixture
def chromium(monkeypatch: pytest.MonkeyPatch) -> Iterator[object]:
    # The driver runs a loop of its own in this thread; Django would take that for asynchronous code.
    monkeypatch.setitem(os.environ, "DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), headless=True, args=FLAGS)
        yield browser
        browser.close()


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
        "/setup/mould/", "/setup/person/?key=P-01", "/setup/works_order/?new=1", "/setup/product/?key=T430",
    )  # fmt: skip
    found = []
    for width, scheme in ((1280, "light"), (412, "light"), (1280, "dark")):
        page = signed_on(chromium, floor_server, width, scheme)
        said: list[str] = []
        page.on("console", lambda message, said=said: said.append(message.text))
        for address in pages:
            answer = page.goto(f"{floor_server}{address}")
            assert answer is not None and answer.status == 200, address
            for violation in Axe().run(page, options={"runOnly": STANDARDS}).response["violations"]:
                found.append((address, width, scheme, violation["id"], violation["nodes"][0]["html"][:120]))
            if page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth"):
                found.append((address, width, scheme, "wider than the window", ""))
        found += [
            (text, width, scheme, "refused by the content policy", "")
            for text in said
            if "Content Security Policy" in text
        ]
    assert found == []
