"""What the browser tests share: a Chromium, and what is said against the page it shows."""

import os
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from django.db import connections
from playwright.sync_api import Page, sync_playwright

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
]  # fmt: skip
STANDARDS = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"]


@contextmanager
def started_chromium(more: Sequence[str] = ()) -> Iterator[Any]:
    """A browser; `more` are flags of its own for one test."""
    # The driver runs a loop of its own in this thread; Django would take that for asynchronous code.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=shutil.which("chromium"), headless=True, args=[*FLAGS, *more]
            )
            yield browser
            browser.close()
            # What was asked meanwhile went over a connection of the loop's own, which the next test must not find.
            connections.close_all()
    finally:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


def objections(page: Page) -> list[tuple[str, str]]:
    """What axe finds (rule, element), and "wider than the window" where the page is.

    axe-core (axe_playwright_python) checks what of WCAG 2.2 AA and its own best practice can be checked by
    program.
    """
    found = [
        (violation["id"], violation["nodes"][0]["html"][:120])
        for violation in Axe().run(page, options={"runOnly": STANDARDS}).response["violations"]
    ]
    if page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth"):
        found.append(("wider than the window", ""))
    return found
