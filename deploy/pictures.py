"""Take README.md's pictures from a running demo: `deploy/demo` in one window, this in another.

Needs Chromium on the machine and the Python package playwright beside the project's own; neither is needed for
anything else, so neither is in deploy/requirements.txt.

    python -m deploy.pictures [http://127.0.0.1:8765]
"""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
FOLDER = HERE / "pictures"
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
QUALITY, OPERATOR = ("P-06", "310006"), ("3333-334Y", "310001")
HULL, LOT = "GHM-T430-004432", "N-0417"


def main() -> int:
    """Write the pictures; 1 with one sentence when something for it is missing."""
    site = (sys.argv[1] if len(sys.argv) > 1 else "http://127.0.0.1:8765").rstrip("/")
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        print("The package playwright is missing: install it into this Python, then run this again.")
        return 1
    if chromium is None:
        print("Chromium is missing: install it, then run this again.")
        return 1
    FOLDER.mkdir(exist_ok=True)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=FLAGS)
        desk = browser.new_context(viewport={"width": 1280, "height": 900}).new_page()
        sign_in(desk, site, "/sign-in/desk/", {"name": QUALITY[0], "password": f"grebe haven {QUALITY[1]}"})
        take(desk, f"{site}/hull/{HULL}/", "hull-1280")
        take(desk, f"{site}/lot/{LOT}/", "lot-1280")
        wrong = label_of(desk, f"{site}/lot/N-0360/")
        phone = browser.new_context(viewport={"width": 412, "height": 839}, device_scale_factor=2).new_page()
        sign_in(phone, site, "/sign-in/", {"badge": OPERATOR[0], "pin": OPERATOR[1]})
        load(phone, site, wrong)
        browser.close()
    return 0


def sign_in(page: Any, site: str, path: str, values: dict[str, str]) -> None:
    page.goto(site + path)
    for name, value in values.items():
        page.fill(f"input[name={name}]", value)
        page.keyboard.press("Enter")
    page.wait_for_selector("form[action*='sign-out']", state="attached")


def take(page: Any, address: str, name: str) -> None:
    page.goto(address)
    page.screenshot(path=FOLDER / f"{name}.png", full_page=False)


def scan(page: Any, text: str) -> None:
    """What a hand-held scanner does: the code and Enter."""
    page.fill("input[name=code]", text)
    page.keyboard.press("Enter")
    page.wait_for_timeout(700)


def label_of(page: Any, address: str) -> str:
    """The label of a lot's container, read off the lot's page."""
    page.goto(address)
    found = re.search(r"label (\w{4}-\w{4})", page.inner_text("body"))
    return found[1] if found else "R4-2"


def load(page: Any, site: str, wrong: str) -> None:
    """A mould made ready, then a box of inserts that none of its positions takes."""
    page.goto(f"{site}/scan/load/")
    page.click(".asked-read .press")
    page.wait_for_timeout(700)
    for code in ("T430-01", "WO-1041", "S1"):
        scan(page, code)
    page.screenshot(path=FOLDER / "loading-412.png")
    scan(page, wrong)
    page.screenshot(path=FOLDER / "refused-412.png")


if __name__ == "__main__":
    sys.exit(main())
