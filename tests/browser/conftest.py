"""Tests that look at pages in a browser: taken up only where a Chromium and the libraries to drive it are there."""

import shutil
from importlib.util import find_spec

NEEDED = ("playwright", "axe_playwright_python")
CHROMIUM = shutil.which("chromium")

if CHROMIUM is None or any(find_spec(name) is None for name in NEEDED):
    collect_ignore_glob = ["test_*.py"]
