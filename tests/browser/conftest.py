"""Tests that look at pages in a browser: taken up only where a Chromium and the libraries to drive it are there."""

import shutil
from collections.abc import Iterator
from importlib.util import find_spec
from typing import Any

import pytest

NEEDED = ("playwright", "axe_playwright_python")
CHROMIUM = shutil.which("chromium")

if CHROMIUM is None or any(find_spec(name) is None for name in NEEDED):
    collect_ignore_glob = ["test_*.py"]
else:
    from tests.browser.looked_at import started_chromium
    from tests.scan import cast
    from tests.scan.cast import Plant
    from trace.readmodels import plantdata

    @pytest.fixture
    def plant(fresh_database: object) -> Iterator[Plant]:
        """The floor's cast in a database of this test's own."""
        plantdata.forget()
        yield cast.tell()
        plantdata.forget()

    @pytest.fixture
    def chromium() -> Iterator[Any]:
        with started_chromium() as browser:
            yield browser
