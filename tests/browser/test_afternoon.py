"""README's afternoon with the season, walked in a browser on the year as it was told (tests/first_minutes.py)."""

import os
import re
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from plant.celery import app
from tests.browser.test_first_minutes import Newcomer as OnTheFloor
from tests.exports.printed import bare, pages_of
from tests.first_minutes import AFTERNOON, PAGES, walk
from trace.demo.season.truth import Call
from trace.readmodels import plantdata
from trace.tasks import sweep

pytestmark = pytest.mark.skipif("LONG_TESTS" not in os.environ, reason="walked with --long: it tells a whole year")
FILLED_IN = re.compile("‹(.+)›")


@pytest.fixture
def call(fresh_database: object, settings: Any, tmp_path: Path) -> Iterator[Call]:
    """The season told, and what the demo prints of the telephone call."""
    settings.DATA_FOLDER, settings.PAPER_FOLDER = tmp_path, tmp_path / "papers"
    plantdata.forget()
    call_command("build_demo", "--season")
    yield printed_call()
    plantdata.forget()


def printed_call() -> Call:
    """What `deploy/demo --season` prints, read as a newcomer reads it."""
    out = StringIO()
    call_command("demo_badges", stdout=out)
    found = re.search(r"Tamsin 430, (\w+), .* (S\d)\.\n.*can be read (\S+) ", out.getvalue())
    assert found, out.getvalue()
    return Call(found[3], found[1], "crack at insert", found[2], "")


class Newcomer(OnTheFloor):
    """Somebody with README in one hand, at a desk and then with a telephone on the floor."""

    def __init__(self, chromium: Any, site: str, call: Call) -> None:
        super().__init__(chromium, site)
        self.call = call
        self.plate = self.rack = ""
        self.file = b""

    @property
    def at_a_desk(self) -> bool:
        return "/scan/" not in self.page.url and not self.page.url.endswith("/sign-in/")

    def open(self, title: str) -> None:
        if title == "Sign on at a desk":
            self.page = self.chromium.new_context(viewport={"width": 1280, "height": 900}).new_page()
            self.page.goto(f"{self.site}/sign-in/desk/")
        elif title == "Complaint":
            self.page.goto(f"{self.site}/complaint/take/")
        elif self.at_a_desk and title in ("Cases", "Find"):
            self.page.goto(self.site + PAGES[title])
        else:
            super().open(title)

    def type(self, text: str) -> None:
        named = FILLED_IN.fullmatch(text)
        text = self.filled_in(named[1]) if named else text
        if not self.at_a_desk:
            super().type(text)
            return
        self.page.keyboard.type(text, delay=20)
        if self.page.url.endswith("/sign-in/desk/") and not self.page.input_value("[name=password]"):
            self.page.keyboard.press("Enter")  # the password is still missing: the cursor goes there
            return
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")

    def press(self, name: str) -> None:
        if not self.at_a_desk:
            super().press(name)
            return
        named = FILLED_IN.fullmatch(name)
        name = self.filled_in(named[1]) if named else name
        if name == "Take the file":
            with self.page.expect_download() as taken:
                self.page.get_by_role("button", name=name).click()
            self.file = taken.value.path().read_bytes()
            return
        if self.choose(name):
            return
        for role in ("button", "link"):
            found = self.page.get_by_role(role, name=name)
            if found.count():
                with self.page.expect_navigation():
                    found.first.click()
                return
        self.page.get_by_text(name, exact=True).first.click()

    def choose(self, name: str) -> bool:
        """Chooses what reads so in a list, or with a round button; False where the page has neither."""
        of_list = self.page.get_by_role("option", name=name, exact=True)
        if of_list.count():
            of_list.first.locator("xpath=..").select_option(label=name)
            return True
        button = self.page.get_by_role("radio", name=name, exact=True)
        if button.count():
            button.first.check()
        return bool(button.count())

    def filled_in(self, what: str) -> str:
        """What the newcomer takes from the call, or has seen on the page."""
        if what == "the plate as the call says it":
            return self.call.plate
        if what == "the hull of the colour in the call":
            [hull] = self.page.locator("a.line", has_text=f", {self.call.colour},").locator(".line-word").all()
            return str(hull.inner_text())
        if what == "a plate in a rack":
            return self.plate
        assert what == "its rack"
        return self.rack

    def says(self, words: str) -> None:
        if words == "Ready.":
            app.set_current()
            sweep()  # what the worker does beside the site
        super().says(words)
        if words == "Not found yet":
            # The first of the list; the rack by its key, as it stands on the rack's label and on the walk's own page.
            found = re.search(r"(GHM-\S+) \S+ Rack (R\d), level (\d)", self.words().split("Not found yet")[1])
            assert found
            self.plate, self.rack = found[1], f"{found[2]}-{found[3]}"


def test_every_step_does_what_readme_says(call: Call, floor_server: str, chromium: Any) -> None:
    newcomer = Newcomer(chromium, floor_server, call)
    walk(newcomer, AFTERNOON)
    said = bare(" ".join(pages_of(newcomer.file)))
    for words in ("cracks at the seat", "holds=N-0417", "an insert or its finish", "no nickel under the thread"):
        assert bare(words) in said, words
