"""A scratch database beside the plant's own: made, migrated, given to Django, dropped."""

import os
import subprocess
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import psycopg
from django.conf import settings
from django.core.management.base import CommandError
from django.db import connections

from plant.env import database_settings, private_url

if TYPE_CHECKING:
    from deploy.postgres import Server

TRUTH = ("event", "unit", "edge", "edge_void", "carrier", "label", "serial", "event_unit")
READ_MODELS = ("unit_state", "carrier_state", "carrier_log", "serial_state", "place_now")


@contextmanager
def scratch_database(*, keep_as: str = "", copy_of: str = "") -> Iterator[str]:
    """An empty migrated database, or a copy of one that was kept; Django's default connection is the app's on it;
    yields the superuser's address. It is dropped at the end, unless it is kept under a name and nothing went wrong.

    It is made on the private server (TEST_SERVER, or postgres/ in the data folder), never on a plant's own:
    only there is a superuser at hand. Raises CommandError when no private server runs.
    """
    # Imported here: set-up code belongs to the machine, and only a measurement reaches for it.
    from deploy import postgres

    server = _server()
    name, keep = _database(keep_as or str(os.getpid())), False
    with _said():
        if copy_of:
            postgres.copy_database(server, name, _database(copy_of))
        else:
            postgres.create_database(server, name)
    kept = dict(connections["default"].settings_dict)
    try:
        _migrate(private_url(server.folder, "app", name), private_url(server.folder, "migrator", name))
        _point_django_at(database_settings(private_url(server.folder, "app", name)))
        yield private_url(server.folder, "postgres", name)
        keep = bool(keep_as)
    finally:
        _point_django_at(kept)
        if not keep:
            postgres.drop_database(server, name)


def is_kept(name: str) -> bool:
    """True when a database was kept under this name."""
    from deploy import postgres

    with _said():
        return postgres.is_there(_server(), _database(name))


def _database(name: str) -> str:
    return f"lotwright_measure_{name}"


def _server() -> "Server":
    from deploy import postgres

    folder = Path(os.environ.get("TEST_SERVER") or settings.DATA_FOLDER / "postgres")
    if not folder.exists():
        raise CommandError("Measurements need a private PostgreSQL: run deploy/demo once, then measure again.")
    with _said():
        return postgres.start(folder)


@contextmanager
def _said() -> Iterator[None]:
    """What stops the set-up is said as the command's own sentence."""
    from deploy.stops import StopError

    try:
        yield
    except StopError as error:
        raise CommandError(str(error)) from None


def _migrate(app: str, migrator: str) -> None:
    done = subprocess.run(
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "migrate", "--verbosity=0"],
        check=False, capture_output=True, text=True,
        env={
            **os.environ, "DATABASE_URL": app, "MIGRATE_DATABASE_URL": migrator, "LOTWRIGHT_ROLE": "migrator",
            "DJANGO_SETTINGS_MODULE": "plant.settings",
        },
    )  # fmt: skip
    if done.returncode:
        raise CommandError(f"The scratch database could not be migrated: {done.stderr.strip()[-500:]}")


def _point_django_at(values: dict[str, Any]) -> None:
    """How a session plans its statements stays as the plant's settings have it: that is what is measured."""
    now = connections["default"].settings_dict
    connections["default"].close()
    now.update({**values, "OPTIONS": {**now["OPTIONS"], **values["OPTIONS"]}})


def open_for_load(superuser: str) -> psycopg.Connection:
    """A superuser's session in which the guards of the truth sleep, for made-up rows by COPY.

    The guards are set to fire always, so a replica's session does not put them to sleep; this is possible
    for a superuser, in a database that nobody keeps.
    """
    session = psycopg.connect(superuser, autocommit=True)
    session.execute("SET session_replication_role = replica")
    session.execute("SET synchronous_commit = off")
    for table in (*TRUTH, *READ_MODELS):
        session.execute(f"ALTER TABLE {table} DISABLE TRIGGER ALL")
    return session


def guard_again(session: psycopg.Connection) -> None:
    """Wake the guards that open_for_load put to sleep, for a measurement that records."""
    for table in (*TRUTH, *READ_MODELS):
        session.execute(f"ALTER TABLE {table} ENABLE TRIGGER ALL")


@contextmanager
def without_indexes(session: psycopg.Connection, tables: Iterable[str]) -> Iterator[None]:
    """These tables take rows without their indexes, primary keys apart; at the end all are built anew, which is many
    times as quick as row by row. For a superuser, in a database that nobody keeps: it says so in the catalogue.
    """
    names = list(tables)
    session.execute(
        "UPDATE pg_index SET indisready = FALSE, indisvalid = FALSE"
        " WHERE indrelid = ANY (%s::text[]::regclass[]) AND NOT indisprimary",
        [names],
    )
    yield
    session.execute("SET maintenance_work_mem = '512MB'")
    for name in names:
        session.execute(f"REINDEX TABLE {name}")
