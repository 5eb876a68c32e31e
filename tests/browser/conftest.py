"""Tests that look at pages in a browser: taken up only where a Chromium and the libraries to drive it are there."""

import shutil
from collections.abc import Iterator
from importlib.util import find_spec
from typing import Any

import pytest
from pytest_django import DjangoDbBlocker

NEEDED = ("playwright", "axe_playwright_python")
CHROMIUM = shutil.which("chromium")

if CHROMIUM is None or any(find_spec(name) is None for name in NEEDED):
    collect_ignore_glob = ["test_*.py"]
else:
    from tests import databases
    from tests.browser.looked_at import started_chromium
    from tests.databases import Database
    from tests.scan.cast import Plant
    from tests.scan.conftest import Told, told_once

    __all__ = ["told_once"]

    @pytest.fixture
    def fresh_database(
        request: pytest.FixtureRequest,
        django_db_setup: None,
        shared_database: Database,
        templates: tuple[Database, Database],
        django_db_blocker: DjangoDbBlocker,
    ) -> Iterator[Database]:
        """In place of the runner's: where the test takes the floor's cast, a clone in which it was told."""
        told = "plant" in request.fixturenames
        template = request.getfixturevalue("told_once")[0] if told else templates[1]
        with (
            databases.cloned(template) as database,
            databases.pointed_at(database, shared_database, django_db_blocker),
        ):
            yield database

    @pytest.fixture
    def plant(fresh_database: Database, told_once: Told) -> Plant:
        """The floor's cast in a database of this test's own."""
        return told_once[1]

    @pytest.fixture(scope="module")
    def one_chromium() -> Iterator[Any]:
        """One browser for a file of tests: starting one costs more than most of them do."""
        with started_chromium() as browser:
            yield browser

    @pytest.fixture
    def chromium(one_chromium: Any) -> Iterator[Any]:
        """The browser with nothing open; what the test opened, with its cookies and its storage, ends with it."""
        yield one_chromium
        for context in one_chromium.contexts:
            context.close()
