"""Databases for tests: two templates made once per run (one marked as a demo, one not), and clones of them.

Names say who made them, `lwtest_<pid>_<worker>_<what>`, so that a later run finds what a killed one left.
"""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psycopg
from django.conf import settings
from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from pytest_django import DjangoDbBlocker

from deploy import postgres
from deploy.cluster import locked
from deploy.postgres import Server
from plant.env import OWNER, database_settings
from trace.quality import plates_seen
from trace.quality.unlike import found as unlike
from trace.readmodels import plantdata
from trace.recording.floor import ground, hold_list, scopes_on_hold

ROOT = Path(__file__).resolve().parent.parent
PREFIX = "lwtest"
ROLES = ("app", "migrator", "owner", "sealer", "auditor", "postgres")
numbers = itertools.count(1)
# This thread's sessions on lasting databases to which Django does not point just now, by the database's name.
_kept: dict[str, BaseDatabaseWrapper] = {}
_lasting: set[str] = set()


@dataclass(frozen=True)
class Database:
    """One database of the test server. Where it is `lasting`, tests come back to it and leave nothing in it."""

    server: Server
    name: str
    lasting: bool = False

    def url(self, role: str) -> str:
        """Address for app, migrator, sealer, auditor or postgres (the superuser)."""
        return self.server.url(role, self.name)

    @property
    def environment(self) -> dict[str, str]:
        """The environment for a program that shall work on this database (`run` uses it)."""
        kept = {k: v for k, v in os.environ.items() if k not in {"TEST_SERVER", "LOTWRIGHT_ROLE"}}
        return kept | {
            "DATABASE_URL": self.url("app"),
            "MIGRATE_DATABASE_URL": self.url("migrator"),
            "SEAL_DATABASE_URL": self.url("sealer"),
            "AUDIT_DATABASE_URL": self.url("auditor"),
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "PYTHONPATH": str(ROOT),
        }

    def run(self, *arguments: str, role: str = "app", check: bool = True) -> subprocess.CompletedProcess[str]:
        """`manage.py ARGUMENTS` on this database in a process of its own.

        role: app, migrator, sealer or auditor. Fails the test with what the command said when it ends with
        an error, unless `check` is False.
        """
        done = subprocess.run(
            [sys.executable, "-W", "error", str(ROOT / "manage.py"), *arguments],
            check=False, capture_output=True, text=True, cwd=ROOT, timeout=300,
            env=self.environment | {"LOTWRIGHT_ROLE": role},
        )  # fmt: skip
        if check and done.returncode != 0:
            raise AssertionError(f"manage.py {' '.join(arguments)} failed: {done.stdout}{done.stderr}")
        return done

    def connect(self, role: str, *, autocommit: bool = False) -> psycopg.Connection:
        """A session of one login role, or of `owner`: the migrator's after SET ROLE. The caller closes it."""
        login = "migrator" if role == "owner" else role
        connection = psycopg.connect(self.url(login), autocommit=True)
        if role == "owner":
            connection.execute(f"SET ROLE {OWNER}")
        connection.autocommit = autocommit
        return connection


def prefix() -> str:
    """What the names of this run's databases begin with."""
    return f"{PREFIX}_{os.getpid()}_{os.environ.get('PYTEST_XDIST_WORKER', 'main')}"


def names(server: Server) -> list[str]:
    """Every database of a test run, of this one or another."""
    return postgres.sql(
        server, f"SELECT datname FROM pg_database WHERE datname LIKE '{PREFIX}\\_%' ORDER BY 1"
    ).split()


def drop_left_over(server: Server) -> None:
    """Drop the databases of runs whose process no longer lives."""
    for name in names(server):
        pid = int(name.split("_")[1])
        if not _lives(pid):
            postgres.drop_database(server, name)


def lift_limits(server: Server) -> None:
    """Let every login have as many sessions as the tests of several processes open; roles.sql leaves it at that."""
    # Another process may be starting on the same server: roles are changed by one at a time.
    with locked(server.folder):
        for role in ("app", "migrator", "sealer", "auditor"):
            postgres.sql(server, f"ALTER ROLE lotwright_{role} CONNECTION LIMIT 50")


def own_names(server: Server) -> list[str]:
    """Every database of this run; where a run is shared out, of this process of it."""
    return [name for name in names(server) if name.startswith(prefix() + "_")]


def drop_own(server: Server) -> None:
    """Drop every database of this run."""
    close_sessions()
    for name in own_names(server):
        postgres.drop_database(server, name)


def make_templates(server: Server) -> tuple[Database, Database]:
    """Migrate an empty database as the migrator; returns it and a clone that its owner marked as a demo."""
    plain = Database(server, f"{prefix()}_plain")
    postgres.create_database(server, plain.name)
    plain.run("migrate", "--verbosity=0", "--skip-checks", role="migrator")
    marked = clone(plain, "marked")
    marked.run("mark_demo", role="migrator")
    return plain, marked


def clone(template: Database, what: str, *, lasting: bool = False) -> Database:
    """A copy of a database to which nobody is connected, with the same rights."""
    copy = Database(template.server, f"{prefix()}_{what}", lasting)
    with psycopg.connect(template.server.url("postgres", "postgres"), autocommit=True) as superuser:
        superuser.execute(
            f'CREATE DATABASE "{copy.name}" TEMPLATE "{template.name}" OWNER {OWNER} STRATEGY FILE_COPY'
        )
    # Rights on the database itself do not go along with a template.
    with psycopg.connect(template.server.url("postgres", copy.name), autocommit=True) as superuser:
        superuser.execute((ROOT / "deploy" / "database.sql").read_text(encoding="utf-8"))
    return copy


def drop(database: Database) -> None:
    if database.name in _kept:
        _kept.pop(database.name).close()
    with psycopg.connect(database.server.url("postgres", "postgres"), autocommit=True) as superuser:
        superuser.execute(f'DROP DATABASE IF EXISTS "{database.name}" WITH (FORCE)')


@contextmanager
def cloned(template: Database, *, lasting: bool = False) -> Iterator[Database]:
    """A clone that lives as long as the block."""
    copy = clone(template, f"c{next(numbers)}", lasting=lasting)
    try:
        yield copy
    finally:
        drop(copy)


def point_django_at(database: Database) -> None:
    """Let Django's default connection, in every thread, be the app's on this database from now on.

    A session on a lasting database is taken up again where this thread left it: one opened anew knows no table and has
    planned nothing, which costs more than most tests do.
    """
    left = connections["default"]
    name = left.settings_dict["NAME"]
    if name in _lasting and left.connection is not None and not left.in_atomic_block:
        _kept[name] = left
    else:
        left.close()
    # In place: the connections of all threads share this one dictionary. Its options stay as settings say.
    address = database_settings(database.url("app"))
    settings.DATABASES["default"].update({k: v for k, v in address.items() if k != "OPTIONS"})
    if database.lasting:
        _lasting.add(database.name)
    if database.name in _kept:
        connections["default"] = _kept.pop(database.name)
    elif left.connection is not None:
        connections["default"] = connections.create_connection("default")
    assert connections["default"].settings_dict["NAME"] == database.name


def forget() -> None:
    """What a process keeps of the database that it was pointed at."""
    plantdata.forget()
    hold_list.forget()
    scopes_on_hold.forget()
    ground.forget()
    plates_seen.forget()
    unlike.forget()


@contextmanager
def pointed_at(database: Database, back: Database, blocker: DjangoDbBlocker) -> Iterator[None]:
    """Django's default connection is this database's while the block lasts."""
    with blocker.unblock():
        point_django_at(database)
        forget()
        try:
            yield
        finally:
            point_django_at(back)
            forget()


@contextmanager
def rolled_back(database: Database, back: Database, blocker: DjangoDbBlocker) -> Iterator[None]:
    """As pointed_at, in a transaction that leaves nothing."""
    with pointed_at(database, back, blocker), transaction.atomic():
        # The driver forgets its prepared statements whenever something is rolled back, which here is every test. The
        # server keeps them, and planning the large ones anew is a third of its work.
        connections["default"].connection._prepared.clear = lambda: False
        yield
        transaction.set_rollback(True)


def close_sessions() -> None:
    """Close every session that Django has or that is kept for it, in this thread."""
    connections.close_all()
    while _kept:
        _kept.popitem()[1].close()


def _lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
