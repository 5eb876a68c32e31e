"""The private PostgreSQL: who may do what, where it listens, and that it starts again after anything."""

import json
import os
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from deploy import cluster, postgres
from deploy.accounts import Account, check_crossing, unprivileged
from deploy.stops import StopError
from plant.env import private_url

POSTMASTER = "data/postmaster.pid"


@pytest.fixture(scope="module")
def server() -> Iterator[postgres.Server]:
    """One server for the tests that leave it as it was."""
    import shutil
    import tempfile

    folder = Path(tempfile.mkdtemp(prefix="lotwright-deploy-"))
    folder.chmod(0o755)
    server = postgres.start(folder / "postgres", settings=cluster.UNSAFE_FAST)
    postgres.create_database(server, "lotwright")
    yield server
    postgres.stop(server)
    shutil.rmtree(folder, ignore_errors=True)


def postmaster(folder: Path) -> int:
    return int((folder / POSTMASTER).read_text().split("\n", 1)[0])


def kill_postmaster(folder: Path) -> None:
    """Killed, and gone from the list of programs: until then it counts as running."""
    pid = postmaster(folder)
    os.kill(pid, signal.SIGKILL)
    while cluster.command_line(pid):
        time.sleep(0.01)


def test_who_only_asks_whether_it_runs_leaves_the_file_of_its_number_alone(tmp_path: Path) -> None:
    # A starter may be about to write it: an empty or an older file there would keep the new server from coming up.
    (tmp_path / "data").mkdir()
    (tmp_path / POSTMASTER).write_text("1\nfolder\n")
    assert not cluster.is_running(tmp_path)
    assert (tmp_path / POSTMASTER).read_text() == "1\nfolder\n"
    cluster.free_number(tmp_path)
    assert (tmp_path / POSTMASTER).read_text() == f"{cluster.NO_PROGRAM}\nfolder\n"
    assert [path.name for path in (tmp_path / "data").iterdir()] == ["postmaster.pid"]


def ask(url: str, question: str) -> object:
    with psycopg.connect(url, autocommit=True) as connection:
        cursor = connection.execute(question)
        row = cursor.fetchone() if cursor.description else None
    return row[0] if row else None


def test_only_a_socket_only_with_passwords_only_its_own_user(server: postgres.Server) -> None:
    superuser = server.url("postgres", "postgres")
    assert ask(superuser, "SHOW listen_addresses") == ""
    assert ask(superuser, "SHOW data_checksums") == "on"
    assert (
        ask(superuser, "SELECT string_agg(DISTINCT auth_method, ',') FROM pg_hba_file_rules")
        == "scram-sha-256"
    )
    assert ask(
        superuser, "SELECT bool_and(rolpassword LIKE 'SCRAM-SHA-256$%') FROM pg_authid WHERE rolcanlogin"
    )
    assert (
        ask(superuser, "SELECT pg_encoding_to_char(encoding) FROM pg_database WHERE datname = 'lotwright'")
        == "UTF8"
    )
    wanted = unprivileged()
    for path in (server.folder / "connection.json", server.folder / "data", server.socket):
        status = path.stat()
        assert status.st_mode & 0o077 == 0
        assert status.st_uid == (wanted.uid if wanted else os.geteuid())
    with pytest.raises(
        psycopg.OperationalError, match=r"no password supplied|password authentication failed"
    ):
        psycopg.connect(f"postgresql://lotwright_app@/lotwright?host={server.socket}", password="")


def test_roles_have_no_more_than_their_duty(server: postgres.Server) -> None:
    superuser = server.url("postgres")
    extra = "rolsuper OR rolcreatedb OR rolcreaterole OR rolreplication OR rolbypassrls"
    assert ask(superuser, f"SELECT count(*) FROM pg_roles WHERE rolname LIKE 'lotwright%' AND ({extra})") == 0
    assert ask(superuser, "SELECT rolcanlogin FROM pg_roles WHERE rolname = 'lotwright_owner'") is False
    assert (
        ask(superuser, "SELECT pg_get_userbyid(datdba) FROM pg_database WHERE datname = 'lotwright'")
        == "lotwright_owner"
    )
    for role in ("app", "sealer", "auditor", "migrator"):
        with psycopg.connect(server.url(role), autocommit=True) as connection:
            for statement in (
                "CREATE TABLE public.t (a int)",
                "CREATE TEMP TABLE t (a int)",
                "CREATE ROLE r",
                "CREATE DATABASE d",
            ):
                with pytest.raises(psycopg.errors.InsufficientPrivilege):
                    connection.execute(statement)
            if role != "migrator":
                with pytest.raises(psycopg.errors.InsufficientPrivilege):
                    connection.execute("SET ROLE lotwright_owner")
    with psycopg.connect(server.url("migrator"), autocommit=True) as connection:
        connection.execute("SET ROLE lotwright_owner")
        connection.execute("CREATE TABLE t (a int)")
        owner = connection.execute("SELECT tableowner FROM pg_tables WHERE tablename = 't'").fetchone()
        connection.execute("DROP TABLE t")
    assert owner == ("lotwright_owner",)


def test_roles_script_runs_again_and_objects_to_too_much(server: postgres.Server) -> None:
    roles = (postgres.HERE / "roles.sql").read_text()
    postgres.sql(server, roles)
    postgres.sql(server, "ALTER ROLE lotwright_app CREATEDB")
    try:
        with pytest.raises(StopError, match="rights they must not have: lotwright_app"):
            postgres.sql(server, roles)
    finally:
        postgres.sql(server, "ALTER ROLE lotwright_app NOCREATEDB")
    postgres.sql(server, "GRANT lotwright_owner TO lotwright_auditor")
    try:
        with pytest.raises(StopError, match="lotwright_auditor in lotwright_owner"):
            postgres.sql(server, roles)
    finally:
        postgres.sql(server, "REVOKE lotwright_owner FROM lotwright_auditor")


def test_databases(server: postgres.Server) -> None:
    name = 'odd "name" %'
    assert postgres.create_database(server, name, demo=True) is True
    assert postgres.create_database(server, name, demo=True) is False
    assert postgres.is_demo(server, name)
    assert not postgres.is_demo(server, "lotwright")
    assert not postgres.is_demo(server, "none of this name")
    assert ask(server.url("app", name), "SELECT current_database()") == name
    with (
        psycopg.connect(server.url("app", name), autocommit=True) as connection,
        pytest.raises(psycopg.errors.InsufficientPrivilege),
    ):
        connection.execute('COMMENT ON DATABASE "odd ""name"" %" IS NULL')
    postgres.drop_database(server, name)
    postgres.drop_database(server, name)


def test_second_start_reuses_a_live_server(server: postgres.Server) -> None:
    before = postmaster(server.folder)
    again = postgres.start(server.folder)
    assert postmaster(server.folder) == before
    assert again.url("app") == server.url("app") == private_url(server.folder, "app")


def test_starts_again_with_its_data(open_folder: Path) -> None:
    """After a stop, after a kill, after a kill with the number gone to another program; each time within
    seconds.
    """
    folder = open_folder / "postgres"
    server = postgres.start(folder, settings=cluster.UNSAFE_FAST)
    superuser = server.url("postgres", "postgres")
    ask(superuser, "CREATE TABLE kept AS SELECT 7 AS a")
    ask(superuser, "CHECKPOINT")
    postgres.stop(server)
    assert not (folder / POSTMASTER).exists()
    assert not (folder / "socket").exists()

    server = postgres.start(folder, settings=cluster.UNSAFE_FAST)
    superuser = server.url("postgres", "postgres")
    assert ask(superuser, "SELECT a FROM kept") == 7

    with psycopg.connect(superuser, autocommit=True):  # a backend that outlives the postmaster for a moment
        kill_postmaster(folder)
        begun = time.monotonic()
        postgres.start(folder, settings=cluster.UNSAFE_FAST)
    assert ask(superuser, "SELECT a FROM kept") == 7

    kill_postmaster(folder)
    account = unprivileged()
    other = subprocess.Popen(["sleep", "60"], user=account.uid if account else None)
    try:
        rest = (folder / POSTMASTER).read_text().split("\n", 1)[1]
        (folder / POSTMASTER).write_text(f"{other.pid}\n{rest}")
        postgres.start(folder, settings=cluster.UNSAFE_FAST)
        assert ask(superuser, "SELECT a FROM kept") == 7
    finally:
        other.kill()
        other.wait()
    assert time.monotonic() - begun < 30


def test_long_folder_gets_a_short_socket(open_folder: Path) -> None:
    """A socket's path may have 107 bytes (unix(7)); a comma in it would part two folders."""
    long = open_folder / ("x" * 60) / ("ü" * 30) / "a b'c"
    server = postgres.start(long, settings=cluster.UNSAFE_FAST)
    assert len(os.fsencode(server.socket / ".s.PGSQL.5432")) <= 107
    assert server.socket.stat().st_mode & 0o777 == 0o700
    assert ask(server.url("postgres", "postgres"), "SHOW data_directory") == str(long / "data")
    postgres.stop(server)
    assert not server.socket.exists()
    for folder, short in (("y" * 40, False), ("y" * 107, True), ("a,b", True)):
        place = cluster.socket_folder(open_folder / folder, unprivileged())
        assert (place != open_folder / folder / "socket") is short
        place.rmdir()


def test_the_owners_passwords_are_thrown_away_and_made_anew(open_folder: Path) -> None:
    """While the product is served its user cannot read them; what is served goes on, and a later start has new ones."""
    folder = open_folder / "postgres"
    first = postgres.start(folder, settings=cluster.UNSAFE_FAST)
    postgres.create_database(first, "lotwright")
    postgres.forget_owners(first)
    kept = [path for path in folder.rglob("*.json*") if path.is_file()]
    secrets = [first.passwords[user] for user in cluster.OWNERS]
    assert [path.name for path in kept] == ["connection.json"]
    assert not any(secret in path.read_text() for path in kept for secret in secrets)
    for role in ("postgres", "migrator"):
        with pytest.raises(SystemExit, match=f"The password of the {role} is not kept"):
            private_url(folder, role)
    assert ask(private_url(folder, "app"), "SELECT current_user") == "lotwright_app"

    running = postgres.start(folder)
    with pytest.raises(StopError, match="its owner's passwords are not kept"):
        postgres.create_database(running, "another")
    assert set(running.passwords) == set(first.passwords) - set(cluster.OWNERS)
    kill_postmaster(folder)
    postgres.KeptUp(running).keep_up()
    assert ask(private_url(folder, "app"), "SELECT current_user") == "lotwright_app"
    assert ask(first.url("postgres", "postgres"), "SELECT current_user") == "postgres"
    assert not (folder / "owner.json").exists()

    kill_postmaster(folder)
    again = postgres.start(folder, settings=cluster.UNSAFE_FAST)
    assert ask(again.url("postgres", "postgres"), "SELECT current_user") == "postgres"
    assert ask(again.url("migrator"), "SELECT current_user") == "lotwright_migrator"
    assert ask(private_url(folder, "app"), "SELECT current_user") == "lotwright_app"
    for user in ("postgres", "migrator"):
        with pytest.raises(psycopg.OperationalError, match="password authentication failed"):
            ask(first.url(user, "lotwright"), "SELECT 1")


def test_missing_passwords_stop_the_start(open_folder: Path) -> None:
    data = open_folder / "postgres" / "data"
    data.mkdir(parents=True)
    (data / "PG_VERSION").write_text("18\n")
    with pytest.raises(StopError, match=r"connection\.json with the passwords .* is gone"):
        postgres.start(open_folder / "postgres")
    (data / "PG_VERSION").write_text("12\n")
    (open_folder / "postgres" / "connection.json").write_text(json.dumps({"passwords": {}, "socket": ""}))
    with pytest.raises(StopError, match="made by PostgreSQL 12, and only other versions are here"):
        postgres.start(open_folder / "postgres")


def test_closed_folder_is_named(open_folder: Path) -> None:
    closed = open_folder / "closed"
    (closed / "inner").mkdir(parents=True)
    closed.chmod(0o700)
    stranger = Account("stranger", os.geteuid() + 4321, os.getegid() + 4321)
    with pytest.raises(StopError, match=rf"The folder {closed} is closed .* chmod o\+x {closed}"):
        check_crossing(closed / "inner", stranger)
    closed.chmod(0o711)
    check_crossing(closed / "inner", stranger)
    check_crossing(closed / "inner", None)
