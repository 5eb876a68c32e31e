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
from django.db import connections

from deploy import postgres
from deploy.cluster import locked
from deploy.postgres import Server
from plant.env import OWNER, database_settings

ROOT = Path(__file__).resolve().parent.parent
PREFIX = "lwtest"
ROLES = ("app", "migrator", "owner", "sealer", "auditor", "postgres")
numbers = itertools.count(1)


@dataclass(frozen=True)
class Database:
    """One database of the test server."""

    server: Server
    name: str

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


def clone(template: Database, what: str) -> Database:
    """A copy of a database to which nobody is connected, with the same rights."""
    copy = Database(template.server, f"{prefix()}_{what}")
    with psycopg.connect(template.server.url("postgres", "postgres"), autocommit=True) as superuser:
        superuser.execute(
            f'CREATE DATABASE "{copy.name}" TEMPLATE "{template.name}" OWNER {OWNER} STRATEGY WAL_LOG'
        )
    # Rights on the database itself do not go along with a template.
    postgres.create_database(template.server, copy.name)
    return copy


def drop(database: Database) -> None:
    with psycopg.connect(database.server.url("postgres", "postgres"), autocommit=True) as superuser:
        superuser.execute(f'DROP DATABASE IF EXISTS "{database.name}" WITH (FORCE)')


@contextmanager
def cloned(template: Database) -> Iterator[Database]:
    """A clone that lives as long as the block."""
    copy = clone(template, f"c{next(numbers)}")
    try:
        yield copy
    finally:
        drop(copy)


def point_django_at(database: Database) -> None:
    """Let Django's default connection, in every thread, be the app's on this database from now on."""
    connections["default"].close()
    # In place: the connections of all threads share this one dictionary. Its options stay as settings say.
    address = database_settings(database.url("app"))
    settings.DATABASES["default"].update({k: v for k, v in address.items() if k != "OPTIONS"})
    assert connections["default"].settings_dict["NAME"] == database.name


def _lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
