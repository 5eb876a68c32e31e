"""README's first ten minutes, walked in a browser on the demo plant (tests/first_minutes.py says how it is read)."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import call_command
from playwright.sync_api import Page

from tests.browser.phone import HIGH, WIDE, answered, asked, drawn_anew, scan_id, until
from tests.first_minutes import PAGES, walk
from trace.readmodels import plantdata


@pytest.fixture
def demo(fresh_database: object) -> Iterator[None]:
    plantdata.forget()
    call_command("build_demo")
    yield
    plantdata.forget()


class Newcomer:
    """Somebody with README in one hand and a telephone in the other."""

    def __init__(self, chromium: Any, site: str) -> None:
        self.chromium, self.site = chromium, site
        self.page: Page = chromium.new_context(viewport={"width": WIDE, "height": HIGH}).new_page()

    def open(self, title: str) -> None:
        if title == "Sign on":
            self.page = self.chromium.new_context(viewport={"width": WIDE, "height": HIGH}).new_page()
        if "/sign-in/" in self.page.url:
            self.page.wait_for_url(lambda url: "/sign-in/" not in url)
        self.page.goto(self.site + ("/sign-in/" if title == "Sign on" else PAGES[title]))
        self.read_caution()

    def type(self, text: str) -> None:
        if "/sign-in/" in self.page.url:
            self.page.keyboard.type(text, delay=60)
            self.page.keyboard.press("Enter")
            return
        if not scan_id(self.page):
            with self.page.expect_navigation():
                self.page.keyboard.type(text, delay=20)
                self.page.keyboard.press("Enter")
            return
        # Nobody scans before the page has come.
        self.page.wait_for_load_state()
        answered(self.page)
        with drawn_anew(self.page):
            self.page.keyboard.type(text, delay=20)
            self.page.keyboard.press("Enter")

    def press(self, name: str) -> None:
        button, link = self.page.get_by_role("button", name=name), self.page.get_by_role("link", name=name)
        if button.count():
            with drawn_anew(self.page):
                button.first.click()
        elif link.count():
            with self.page.expect_navigation():
                link.first.click()
            self.read_caution()
        else:
            self.page.get_by_text(name, exact=True).first.click()

    def says(self, words: str) -> None:
        until(lambda: words in self.words(), f"{words!r} does not stand in: {self.words()}")

    def words(self) -> str:
        return " ".join(self.page.inner_text("main").split())

    def read_caution(self) -> None:
        if asked(self.page) == "read":
            with drawn_anew(self.page):
                self.page.click(".asked .press")


def test_every_step_does_what_readme_says(demo: None, floor_server: str, chromium: Any) -> None:
    newcomer = Newcomer(chromium, floor_server)
    walk(newcomer)
