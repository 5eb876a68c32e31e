"""A telephone on the floor, as the browser tests hold it: who is signed on, how codes are typed, what is waited for."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Page

from tests.browser.looked_at import objections
from tests.scan.cast import LEAD, OPERATOR, PIN, QUALITY, STORES, WAREHOUSE, Plant

PEOPLE = {
    **dict.fromkeys(("goods-in", "count", "give-back", "stock-count"), STORES),
    **dict.fromkeys(("certificate", "release", "hold", "release-hold", "correct", "inspect"), QUALITY),
    **dict.fromkeys(("impact", "repairs", "sample"), QUALITY),
    **dict.fromkeys(("pack", "rewrap", "rack", "dispatch", "returns"), WAREHOUSE),
    **dict.fromkeys(("badges", "labels", "discrepancies", "opening", "handover", "first-off"), LEAD),
}
LEAST = 48  # px: what a glove hits
WIDE, HIGH = 412, 740  # px: what a telephone shows with its keyboard shut
PATIENCE = 60  # seconds
READS = 0.8  # seconds that a person looks at a page before pressing what it asks
FASTEST = 3  # ms between two keys of a scanner
NAMED: dict[str, dict[str, Any]] = {
    "Enter": {"key": "Enter", "code": "Enter", "windowsVirtualKeyCode": 13, "text": "\r"},
    "Tab": {"key": "Tab", "code": "Tab", "windowsVirtualKeyCode": 9},
}


class Phone:
    """A telephone at a station; everything said against its pages is kept in `found`."""

    def __init__(self, chromium: Any, site: str, plant: Plant, scheme: str = "light") -> None:
        self.site, self.plant, self.chromium, self.scheme = site, plant, chromium, scheme
        self.pages: dict[str, Page] = {}
        self.found: list[object] = []

    def at(self, slug: str, key: str = "", *, read: bool = True) -> Page:
        """The station's page, signed on; the caution read unless `read` says no."""
        key = key or PEOPLE.get(slug, OPERATOR)
        if key not in self.pages:
            context = self.chromium.new_context(viewport={"width": WIDE, "height": HIGH}, color_scheme=self.scheme)
            page = self.pages[key] = context.new_page()
            page.on("console", lambda message: self.policy(message.text))
            page.on("pageerror", lambda error: self.found.append(str(error)))
            page.goto(f"{self.site}/sign-in/")
            page.keyboard.type(self.plant[key])
            page.keyboard.press("Enter")
            page.keyboard.type(PIN, delay=60)
            page.keyboard.press("Enter")
            page.wait_for_url(lambda url: "/sign-in/" not in url)
        page = self.pages[key]
        answer = page.goto(f"{self.site}/scan/{slug}/")
        assert answer is not None
        assert answer.status == 200, slug
        if read and asked(page) == "read":
            with drawn_anew(page):
                page.click(".press")
        return page

    def policy(self, text: str) -> None:
        if "Content Security Policy" in text:
            self.found.append(text)

    def look(self, page: Page, what: str) -> None:
        """Axe, targets too small for a glove, and what is asked now out of view."""
        self.found += [(what, *said) for said in objections(page)]
        small = page.evaluate(
            """least => [...document.querySelectorAll("main :is(button, a.button, .plain a, input:not([type=hidden]))")]
              .filter(e => e.offsetParent && !["radio", "checkbox", "file"].includes(e.type) && !e.ariaHidden)
              .filter(e => e.getBoundingClientRect().height < least - 0.5)
              .map(e => e.outerHTML.slice(0, 100))""",
            LEAST,
        )
        self.found += [(what, "smaller than a glove hits", html) for html in small]
        self.found += [(what, "asked, but not in view", html) for html in out_of_view(page)]


def out_of_view(page: Page) -> list[str]:
    """What is asked next and its buttons, where a telephone's window does not show them without scrolling."""
    found: list[str] = page.evaluate(
        """high => [...document.querySelectorAll(".asked :is(h2, button, .button, input:not([type=hidden]), select)")]
          .filter(e => e.offsetParent && !e.ariaHidden && !["file", "radio"].includes(e.type))
          .map(e => [e, e.getBoundingClientRect()])
          .filter(([e, r]) => r.top + scrollY < 0 || r.bottom + scrollY > high + 0.5)
          .map(([e]) => e.outerHTML.slice(0, 80))""",
        HIGH,
    )
    return found


def asked(page: Page) -> str:
    return page.get_attribute("main", "data-asked") or ""


def until(true: Callable[[], Any], what: str = "") -> None:
    """Wait until it is so; the pages' content policy allows no evaluation in the page itself."""
    end = time.monotonic() + PATIENCE
    while not true():
        assert time.monotonic() < end, what or "waited in vain"
        time.sleep(0.03)


def scan_id(page: Page) -> str:
    box = page.locator("main [name=scan_id]").first
    return box.get_attribute("value") or "" if box.count() else ""


@contextmanager
def drawn_anew(page: Page) -> Iterator[None]:
    """Wait until the answer stands there: every page drawn has a scan id of its own."""
    before = scan_id(page)
    yield
    until(lambda: scan_id(page) not in ("", before), "no answer")


def answered(page: Page) -> None:
    """Wait until nothing waits any more."""
    until(
        lambda: page.evaluate(
            """() => !document.querySelector("main[aria-busy]") && document.querySelector("[data-not-sent]")?.hidden
                 && Object.keys(sessionStorage).every(k => sessionStorage[k] === "[]")"""
        ),
        "something is not answered",
    )


def scan(page: Page, *codes: str, delay: float = FASTEST, late: float = 0) -> None:
    """What a hand-held scanner does: keystrokes and Enter, with nothing tapped before; the answer is waited for."""
    for code in codes:
        with drawn_anew(page):
            keys(page, code, delay=delay, late=late)


def keys(page: Page, text: str, *, end: str = "Enter", delay: float = FASTEST, late: float = 0) -> None:
    """Keys with so many ms between them, and the last one so many ms late; nothing is waited for."""
    bursts(page, [text], end=end, delay=delay, late=late)


def bursts(
    page: Page,
    texts: Sequence[str],
    *,
    end: str = "Enter",
    delay: float = FASTEST,
    late: float = 0,
    every: float = 0,
    stalled: int = 0,
) -> None:
    """One text after the other, each `every` ms: handed to the browser in one go, each key with the time at which it
    was pressed, as a keyboard does. A driver that waits for each key to be taken types slower than a scanner.
    stalled: from so many keys on all are handed over half a second late, as a busy tablet does."""
    strokes: list[tuple[float, str]] = []
    for n, text in enumerate(texts):
        begun = max(n * every, strokes[-1][0] + delay if strokes else 0)
        strokes += [(begun + delay * at, key) for at, key in enumerate(text)]
        if end:
            strokes.append(((strokes[-1][0] if text else begun) + max(late, delay), end))
    session: Any = page.context.new_cdp_session(page)
    # The library's own synchronous call waits for each answer before the next is asked.
    session._sync(_pressed(session._impl_obj, strokes, stalled))
    session.detach()


async def _pressed(session: Any, strokes: Sequence[tuple[float, str]], stalled: int) -> None:
    begun, sent = time.time(), []
    for n, (at, key) in enumerate(strokes):
        moment = begun + at / 1000
        await asyncio.sleep(max(0.0, moment - time.time() + (0.5 if stalled and n >= stalled else 0)))
        for what in ("keyDown", "keyUp"):
            stroke = {"type": what, "timestamp": moment, **NAMED.get(key, {"key": key, "text": key})}
            if what == "keyUp":
                stroke.pop("text", None)
            sent.append(asyncio.ensure_future(session.send("Input.dispatchKeyEvent", stroke, 0)))
    await asyncio.gather(*sent)


def slow_line(page: Page, ms: int) -> None:
    """Every answer takes so long."""
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": ms, "downloadThroughput": -1, "uploadThroughput": -1},
    )


def enter(page: Page, do: str = "", **boxes: str) -> None:
    """What thumbs do: fill boxes, then Enter, or press the button `do`. Whoever gives nothing new has read the page
    first: an Enter that comes sooner belongs to the scan before it."""
    for name, value in boxes.items():
        page.fill(f"[name={name}]", value)
    if not do and not boxes:
        time.sleep(READS)
    with drawn_anew(page):
        if do:
            page.click(f"button[value='{do}']:not(.first)")
        else:
            page.keyboard.press("Enter")


def outcome(page: Page) -> str | None:
    verdict = page.locator("[data-outcome]")
    return verdict.get_attribute("data-outcome") if verdict.count() else None
