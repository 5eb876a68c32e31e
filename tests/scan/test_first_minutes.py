"""README's first ten minutes walked without a browser: what stands in bold is said, a slip in any word is noticed."""

import html
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client

from tests.first_minutes import PAGES, walk, wrong
from tests.scan.browser import Form, read
from trace.readmodels import plantdata

WITHIN = re.compile(r"</?(?:a|abbr|b|i|q|s|small|span|sub|sup|time)\b[^>]*>")  # words within a line
LINK = re.compile(r'<a\b[^>]*href="([^"]+)"[^>]*>(.*?)</a>', re.DOTALL)
CHOICE = re.compile(
    r'<input form="ask" type="radio" name="([^"]+)" value="([^"]+)"[^>]*>\s*<span>(.*?)</span>', re.DOTALL
)


@pytest.fixture
def demo(fresh_database: object) -> Iterator[None]:
    plantdata.forget()
    call_command("build_demo")
    yield
    plantdata.forget()


def plain(markup: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", WITHIN.sub("", markup))).split())


class Newcomer:
    """Somebody with README in one hand, who sends the forms that the pages hold."""

    def __init__(self) -> None:
        self.client, self.address, self.markup = Client(), "", ""
        self.badge = ""
        self.chosen: dict[str, str] = {}

    def _show(self, answer: Any) -> None:
        if answer.redirect_chain:
            self.address = answer.redirect_chain[-1][0]
        self.markup = answer.content.decode()
        self.chosen = {}

    def _get(self, address: str) -> None:
        self.address = address
        self._show(self.client.get(address, follow=True))
        if 'data-asked="read"' in self.markup:
            self.press("I have read it")

    def _send(self, form: Form, more: dict[str, str]) -> None:
        sent = form.values | self.chosen | more
        way = self.client.post if form.method == "post" else self.client.get
        self._show(way(self.address, sent, follow=True))

    def open(self, title: str) -> None:
        if title == "Sign on":
            self.client = Client()
        self._get("/sign-in/" if title == "Sign on" else PAGES[title])

    def type(self, text: str) -> None:
        page = read(self.client_page())
        if self.address.startswith("/sign-in/"):
            if not self.badge:
                self.badge = text
                return
            self._send(page.forms["ask"], {"badge": self.badge, "pin": text})
            self.badge = ""
        elif "ask" in page.forms:
            self._send(page.form, {page.form.values.get("asked") or "code": text, "do": "send"})
        else:
            self._send(next(form for form in page.forms.values() if "q" in form.boxes), {"q": text})

    def press(self, name: str) -> None:
        forms = read(self.client_page()).forms.values()
        found = [
            (form, key, value)
            for form in forms
            for key, value, words in form.buttons
            if name in (words, words.split(":")[0])
        ]
        # What Enter gives stands once more at the head of the form, unseen; the one that a thumb hits comes after it.
        for form, key, value in found[-1:]:
            return self._send(form, {key: value} if key else {})
        for address, words in LINK.findall(self.markup):
            if name in plain(words):
                return self._get(html.unescape(address))
        [(key, value)] = [(key, value) for key, value, words in CHOICE.findall(self.markup) if plain(words) == name]
        self.chosen[key] = html.unescape(value)
        return None

    def says(self, words: str) -> None:
        said = plain(self.markup[self.markup.index("<main") : self.markup.index("</main>")])
        assert words in said, f"{words!r} does not stand in: {said}"
        slips = list(wrong(words))
        assert slips
        for slip in slips:
            assert slip not in said

    def client_page(self) -> Any:
        class Answer:
            status_code, content = 200, self.markup.encode()

        return Answer()


def test_every_step_does_what_readme_says(demo: None) -> None:
    newcomer = Newcomer()
    walk(newcomer)
