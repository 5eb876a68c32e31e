"""A browser without JavaScript: reads a station page as HTML, fills its form and sends it as the form says."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from html.parser import HTMLParser
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.cast import statements
from trace.scan.cautions import SESSION, name_of
from trace.scan.stations import STATIONS

VOID = ("input", "br", "link", "meta", "img")  # elements without an end tag (HTML standard, 13.1.2)


@dataclass
class Form:
    """One form: the values it would send as it stands, and its buttons as (name, value, words)."""

    values: dict[str, str] = field(default_factory=dict)
    buttons: list[tuple[str, str, str]] = field(default_factory=list)
    offered: dict[str, list[str]] = field(default_factory=dict)  # radio and select values by name
    boxes: set[str] = field(default_factory=set)  # names a person can fill in
    method: str = "get"


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.forms: dict[str, Form] = {}
        self.open_form = ""
        self.stack: list[tuple[str, list[str]]] = []  # open elements: tag, and what their words are kept by
        self.text: dict[str, list[str]] = {}
        self.verdict: dict[str, str] = {}
        self.select = self.select_form = ""
        self.button: tuple[str, str, str] | None = None
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        a = {k: v or "" for k, v in attrs}
        if tag not in VOID:
            keys = [tag, *a.get("class", "").split(), *(["#" + a["id"]] if "id" in a else [])]
            self.stack.append((tag, [key for key in keys if key != "button"]))
        if tag == "form":
            self.open_form = a.get("id") or f"form {len(self.forms)}"
            self.forms.setdefault(self.open_form, Form()).method = a.get("method", "get")
        if tag == "section" and "data-outcome" in a:
            self.verdict = {"outcome": a["data-outcome"], "replayed": "yes" if "data-replayed" in a else ""}
        if tag == "a" and a.get("href"):
            self.links.append(a["href"])
        self._control(tag, a)

    def _control(self, tag: str, a: dict[str, str]) -> None:
        owner = self.forms.setdefault(a.get("form") or self.open_form, Form())
        name = a.get("name", "")
        if tag == "input":
            kind = a.get("type", "text")
            if kind in ("radio", "checkbox"):
                owner.offered.setdefault(name, []).append(a.get("value", "on"))
                owner.boxes.add(name)
                if "checked" in a:
                    owner.values[name] = a.get("value", "on")
            elif kind == "file":
                owner.boxes.add(name)
            elif name:
                owner.values[name] = a.get("value", "")
                if kind != "hidden":
                    owner.boxes.add(name)
        elif tag == "select":
            self.select, self.select_form = name, a.get("form") or self.open_form
            owner.boxes.add(name)
            owner.offered.setdefault(name, [])
        elif tag == "option":
            owner = self.forms[self.select_form]
            owner.offered[self.select].append(a.get("value", ""))
            if "selected" in a or self.select not in owner.values:
                owner.values[self.select] = a.get("value", "")
        elif tag == "button":
            self.button = (a.get("form") or self.open_form, name, a.get("value", ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.open_form = ""
        if tag == "button" and self.button is not None:
            form, name, value = self.button
            words = " ".join("".join(self.text.get("button", [])).split())
            self.forms[form].buttons.append((name, value, words))
            self.text["button"] = []
            self.button = None
        if tag not in [open_ for open_, _ in self.stack]:
            return
        while self.stack[-1][0] != tag:
            self.stack.pop()
        self.stack.pop()

    def handle_data(self, data: str) -> None:
        if data.isspace():
            return  # words are put together with blanks anyway
        if self.button is not None:
            self.text.setdefault("button", []).append(data)
        for _tag, keys in self.stack:
            for key in keys:
                self.text.setdefault(key, []).append(data)


@dataclass
class Page:
    """One page as a person sees it."""

    status: int
    forms: dict[str, Form]
    outcome: str
    replayed: bool
    words: dict[str, str]
    links: list[str]
    html: str

    def said(self, what: str) -> str:
        """The words of an element by tag, class or #id."""
        return self.words.get(what, "")

    @property
    def verdict(self) -> str:
        return self.said("verdict-words")

    @property
    def next(self) -> str:
        return self.said("#next")

    @property
    def form(self) -> Form:
        return self.forms["ask"]

    def way(self, name: str) -> Form:
        """The form of the verdict with a button of this name (tell, override)."""
        return next(f for f in self.forms.values() if any(b[0] == name for b in f.buttons))

    def offers(self, name: str) -> bool:
        return any(b[0] == name for f in self.forms.values() for b in f.buttons)


def read(response: Any) -> Page:
    """The page in a response."""
    reader = _Reader()
    html = response.content.decode()
    reader.feed(html)
    words = {key: " ".join(" ".join(parts).split()) for key, parts in reader.text.items()}
    return Page(
        response.status_code, reader.forms, reader.verdict.get("outcome", ""), bool(reader.verdict.get("replayed")),
        words, reader.links, html,
    )  # fmt: skip


@dataclass
class Screen:
    """One screen of the floor, with whoever is signed on at it."""

    client: Client = field(default_factory=Client)
    page: Page | None = None
    slug: str = ""
    statements: int = 0  # that the last request sent, savepoints apart

    def sign_on(self, badge: str, pin: str) -> None:
        answer = self.client.post("/sign-in/", {"badge": badge, "pin": pin})
        assert answer.status_code == 302, answer.content.decode()

    def read_cautions(self) -> None:
        """As if everybody signed on here had read every caution there is."""
        session = self.client.session
        people = session["screen"]["people"]
        names = [name_of(str(place.caution)) for place in STATIONS.values() if place.caution]
        whose = [f"{one['person']} {datetime.fromtimestamp(one['since'], UTC).timestamp()}" for one in people]
        session[SESSION] = dict.fromkeys(whose, names)
        session.save()

    def open(self, slug: str, **query: str) -> Page:
        self.slug = slug
        return self._asked(lambda: self.client.get(f"/scan/{slug}/", query))

    def send(self, form: Form, values: dict[str, Any], press: tuple[str, str]) -> Page:
        """Send a form with these values filled in and this button pressed; only what the form has can be filled."""
        for name in values:
            assert name in form.boxes, f"{name} is no box of the form at {self.slug}: {sorted(form.boxes)}"
        sent = {**form.values, press[0]: press[1]}
        for name, value in values.items():
            if value is None:
                sent.pop(name, None)
            else:
                sent[name] = value
        return self._asked(lambda: self.client.post(f"/scan/{self.slug}/", sent))

    def scan(self, code: str, **values: Any) -> Page:
        """A code typed into the box and sent."""
        assert self.page is not None
        return self.send(self.page.form, {"code": code, **values}, ("do", "send"))

    def fill(self, **values: Any) -> Page:
        """Fields filled in and sent without a code."""
        assert self.page is not None
        return self.send(self.page.form, values, ("do", "send"))

    def press(self, value: str, **values: Any) -> Page:
        """One of the station's buttons."""
        assert self.page is not None
        assert ("do", value) in [b[:2] for b in self.page.form.buttons], self.page.form.buttons
        return self.send(self.page.form, values, ("do", value))

    def fact(self) -> Page:
        """“Already done? Record it as a fact”."""
        assert self.page is not None
        return self.send(self.page.way("tell"), {}, ("tell", "fact"))

    def override(self, reason: str = "checked by hand", words: str = "looked at it", badge: str = "") -> Page:
        assert self.page is not None
        values = {"reason": reason, "reason_words": words} | ({"badge": badge} if badge else {})
        return self.send(self.page.way("override"), values, ("override", "yes"))

    def _asked(self, request: Callable[[], Any]) -> Page:
        responses: list[Any] = []
        # Not through the connection's log: that is cut off at so many, and writes each statement out with its values.
        sent = statements(lambda: responses.append(request()))
        self.statements = sum(not sql.startswith("ROLLBACK") for sql in sent)
        self.page = read(responses[0])
        return self.page


def photo(data: bytes, name: str = "photo.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data, "image/jpeg")
