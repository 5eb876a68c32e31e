"""The project's own test runner: migrate as the migrator, test as the app, never empty a table.

A test marked `django_db` (or taking `db`) runs in a transaction that is rolled back. What needs real commits
(threads, a live server, commands in a process of their own) takes `fresh_database` and gets a clone.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, Protocol, TypeVar

import hypothesis
import psycopg
import pytest
from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.db import connections
from django.test.testcases import LiveServerThread, TestCase, TransactionTestCase
from pytest_django import DjangoDbBlocker

from deploy import postgres
from tests import databases, outside
from tests.databases import Database

# How busy the machine is says nothing about the product.
hypothesis.settings.register_profile(
    "any machine", deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow]
)
hypothesis.settings.load_profile("any machine")
Result = TypeVar("Result")
# pytest-django's ways to a database that is emptied afterwards; the guards on the records refuse that.
EMPTYING = {"transactional_db", "django_db_reset_sequences", "django_db_serialized_rollback", "live_server"}
CLONES = {"fresh_database", "unmarked_database"}


class Connect(Protocol):
    def __call__(self, role: str, *, autocommit: bool = False) -> psycopg.Connection: ...


# Where tests wait for programs or a single one goes on for long.
LONGEST = (
    "tests/faults/", "tests/deploy/", "tests/tasks/", "tests/browser/", "tests/measure/",
    "tests/recording/test_late_histories.py", "tests/pages/test_as_known_on.py", "tests/scan/test_first_minutes.py",
    "tests/access/test_permissions.py",
)  # fmt: skip


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Where several processes share the tests, each begins with its part of the longest: none is left with them alone
    at the end. Each is given a stretch of the list, and takes from the others when it is through."""
    processes = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    if processes > 1:
        long = [item for item in items if item.nodeid.startswith(LONGEST)]
        rest = [item for item in items if not item.nodeid.startswith(LONGEST)]
        stretch = -(-len(rest) // processes)
        items[:] = [
            item
            for part in range(processes)
            for item in long[part::processes] + rest[part * stretch : (part + 1) * stretch]
        ]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """What tests counted by `record_property`, added up: how many histories were told (tests/recording)."""
    added: dict[str, int] = {}
    for outcome in ("passed", "failed"):
        for report in terminalreporter.stats.get(outcome, []):
            for name, value in report.user_properties:
                added[name] = added.get(name, 0) + int(value)
    for name, value in added.items():
        terminalreporter.write_line(f"{name}: {value}")


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Refuse what would end in a flush, with the way that is there instead; and a mark that names no source."""
    sentence = refused(item) or "".join(outside.trouble(mark.args) for mark in item.iter_markers("outside"))
    if sentence:
        pytest.fail(sentence, pytrace=False)


def refused(item: pytest.Item) -> str | None:
    """Why the test may not run, or None."""
    mark = item.get_closest_marker("django_db")
    fixtures = set(getattr(item, "fixturenames", ()))
    case = getattr(item, "cls", None)
    asked = {name for name, value in mark.kwargs.items() if value} if mark else set()
    emptied = bool(fixtures & EMPTYING or asked - {"databases"} or (mark and mark.args))
    if case is not None and issubclass(case, TransactionTestCase) and not issubclass(case, TestCase):
        emptied = True
    if emptied:
        return "Records are never emptied: take the fixture fresh_database (a clone) instead."
    if fixtures & CLONES and (mark or "db" in fixtures):
        return "A clone takes the place of the shared database: drop django_db and db from this test."
    if len(fixtures & CLONES) > 1:
        return "One test works on one database: take fresh_database or unmarked_database, not both."
    return None


@pytest.fixture(scope="session")
def test_server() -> postgres.Server:
    """The private PostgreSQL that tests run on; the folder is TEST_SERVER."""
    folder = getattr(settings, "TEST_SERVER", "")
    if not folder:
        pytest.exit("TEST_SERVER is not set, so there is no database to test on: run deploy/test.", 1)
    server = postgres.start(Path(folder))
    databases.drop_left_over(server)
    databases.lift_limits(server)
    return server


@pytest.fixture(scope="session")
def templates(test_server: postgres.Server) -> Iterator[tuple[Database, Database]]:
    """(as a plant's database begins, the same marked as a demo); nobody may be connected to either."""
    yield databases.make_templates(test_server)
    databases.drop_own(test_server)


@pytest.fixture(scope="session")
def shared_database(templates: tuple[Database, Database]) -> Database:
    """The database of ordinary tests: marked as a demo, so that a test may set recorded times."""
    return databases.clone(templates[1], "shared", lasting=True)


@pytest.fixture(scope="session")
def django_db_setup(shared_database: Database, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """In place of pytest-django's own: Django's default connection is the app's on the shared database."""
    with django_db_blocker.unblock():
        databases.point_django_at(shared_database)
    yield
    with django_db_blocker.unblock():
        databases.close_sessions()


def _on_a_clone(template: Database, shared: Database, blocker: DjangoDbBlocker) -> Iterator[Database]:
    with databases.cloned(template) as database, blocker.unblock():
        databases.point_django_at(database)
        try:
            yield database
        finally:
            connections.close_all()
            databases.point_django_at(shared)


@pytest.fixture
def fresh_database(
    django_db_setup: None,
    shared_database: Database,
    templates: tuple[Database, Database],
    django_db_blocker: DjangoDbBlocker,
) -> Iterator[Database]:
    """A clone for this test alone, marked as a demo: commits last, other threads and processes see them."""
    yield from _on_a_clone(templates[1], shared_database, django_db_blocker)


@pytest.fixture
def unmarked_database(
    django_db_setup: None,
    shared_database: Database,
    templates: tuple[Database, Database],
    django_db_blocker: DjangoDbBlocker,
) -> Iterator[Database]:
    """As fresh_database, but as a plant has it: recorded times within 5 s of the server's clock."""
    yield from _on_a_clone(templates[0], shared_database, django_db_blocker)


@pytest.fixture
def connect(request: pytest.FixtureRequest, shared_database: Database) -> Iterator[Connect]:
    """connect(role) -> a psycopg session on the test's database; closed, and rolled back, after the test.

    role: app, migrator, owner (the migrator's after SET ROLE), sealer, auditor, postgres. Commits only on a
    clone: on the shared database nothing may stay behind.
    """
    taken = [name for name in CLONES if name in request.fixturenames]
    database: Database = request.getfixturevalue(taken[0]) if taken else shared_database
    opened: list[psycopg.Connection] = []

    def open_session(role: str, *, autocommit: bool = False) -> psycopg.Connection:
        if autocommit and not taken:
            pytest.fail("autocommit would leave records in the shared database: take fresh_database.")
        opened.append(database.connect(role, autocommit=autocommit))
        return opened[-1]

    yield open_session
    for session in opened:
        session.close()
    if opened and not taken:
        with database.connect("postgres") as superuser:
            left = superuser.execute("SELECT count(*) FROM event").fetchone()
        assert left == (0,), "The test committed to the shared database: take fresh_database."


class AtOnce(Protocol):
    def __call__(self, *work: Callable[[], Any]) -> list[Any]: ...


@pytest.fixture
def at_once(fresh_database: Database) -> AtOnce:
    """at_once(f, g, ...) -> results in that order; each runs in a thread with a database session of its own.

    All begin together. The first exception is raised once all have ended; give functools.partial for values.
    """

    def run(*work: Callable[[], Any]) -> list[Any]:
        start = threading.Barrier(len(work))

        def one(function: Callable[[], Result]) -> Result:
            try:
                # On a busy machine the others are slow, which is no fault of theirs.
                with connections["default"].cursor() as cursor:
                    cursor.execute("SET lock_timeout = '5min'")
                start.wait(timeout=300)
                return function()
            finally:
                connections.close_all()

        with ThreadPoolExecutor(len(work)) as pool:
            running = [pool.submit(one, function) for function in work]
        return [future.result() for future in running]

    return run


@pytest.fixture
def floor_server(fresh_database: Database) -> Iterator[str]:
    """The application served from a thread on 127.0.0.1, on a clone; yields its address (http://…:port)."""
    thread = LiveServerThread("127.0.0.1", _Floor)
    thread.daemon = True
    thread.start()
    thread.is_ready.wait(30)
    if thread.error:
        raise thread.error
    yield f"http://127.0.0.1:{thread.port}"
    thread.terminate()


class _Floor(WSGIHandler):
    """The application itself: its middleware serves static files, as in a plant."""

    def __init__(self, _around: WSGIHandler) -> None:
        super().__init__()
