"""The app refuses to start on a database that does not guard its records: each check is broken once."""

import os
import subprocess
import sys
from collections.abc import Iterator
from importlib.machinery import PathFinder
from importlib.util import find_spec
from pathlib import Path

import pytest
from django.core.checks import CheckMessage, Error, run_checks
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.test import Client
from pytest_django import Settings

from plant import checks, middleware, start
from plant.env import OWNER, database_settings
from tests.databases import ROOT, Database, cloned
from trace.migrations._door import GUARDS, WRITTEN_GUARDS

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def plain(templates: tuple[Database, Database]) -> Iterator[Database]:
    """A database as a plant has it; a test that changes it takes a clone of its own."""
    with cloned(templates[0]) as database:
        yield database


def connection(database: Database, role: str = "app", **options: str) -> BaseDatabaseWrapper:
    wrapper = connections["default"].copy()
    wrapper.settings_dict = {**wrapper.settings_dict, **database_settings(database.url(role))}
    wrapper.settings_dict["OPTIONS"] = {**wrapper.settings_dict["OPTIONS"], **options}
    return wrapper


def faults(database: Database, role: str = "app", **options: str) -> list[tuple[str | None, str]]:
    """(id, sentence and remedy) of every fault but the warning about checksums."""
    wrapper = connection(database, role, **options)
    try:
        found = checks.database_faults(wrapper)
    finally:
        wrapper.close()
    return [(fault.id, f"{fault.msg} {fault.hint}") for fault in found if fault.is_serious()]


def broken(database: Database, sql: str, role: str = "owner") -> None:
    with database.connect(role, autocommit=True) as session:
        session.execute(sql)


@pytest.fixture
def unblocked(django_db_blocker: object) -> Iterator[None]:
    with django_db_blocker.unblock():  # type: ignore[attr-defined]
        yield


pytestmark = pytest.mark.usefixtures("unblocked")


def test_a_sound_database_has_no_fault(plain: Database) -> None:
    assert faults(plain) == []


def test_another_trace_is_noticed() -> None:
    assert checks.trace_faults(find_spec("trace")) == []
    library = Path(os.__file__).parent
    for spec in (PathFinder.find_spec("trace", [str(library)]), None):
        (fault,) = checks.trace_faults(spec)
        assert fault.id == "plant.E001"
        assert "Start from the project's folder" in str(fault.hint)


def test_a_database_that_does_not_answer(plain: Database) -> None:
    (found,) = faults(Database(plain.server, "lwtest_nowhere"))
    assert found[0] == "plant.E002"
    assert "lwtest_nowhere" in found[1]
    assert found[1].endswith("Start PostgreSQL, or set DATABASE_URL to where it is.")


@pytest.mark.parametrize(
    ("role", "options", "fault", "who"),
    [
        ("postgres", {}, "plant.E003", "logs in as postgres, which no right can hold back"),
        ("migrator", {}, "plant.E004", "logs in as lotwright_migrator, which can work as the owner"),
        ("migrator", {"assume_role": OWNER}, "plant.E004", "logs in as lotwright_migrator"),
    ],
)
def test_a_login_that_can_do_too_much(
    plain: Database, role: str, options: dict[str, str], fault: str, who: str
) -> None:
    ((found, text),) = faults(plain, role, **options)
    assert found == fault
    assert who in text
    assert text.endswith("Set DATABASE_URL to the login lotwright_app that deploy/roles.sql makes.")


@pytest.mark.parametrize(
    ("grant", "what", "table"),
    [
        ("UPDATE ON edge", "UPDATE", "edge"),
        ("UPDATE (body) ON event", "UPDATE", "event"),
        ("UPDATE ON note", "UPDATE", "note"),
        ("DELETE ON scan", "DELETE", "scan"),
        ("TRUNCATE ON head", "TRUNCATE", "head"),
    ],
)
def test_rights_to_change_records(unmarked_database: Database, grant: str, what: str, table: str) -> None:
    broken(unmarked_database, f"GRANT {grant} TO lotwright_app")
    ((found, text),) = faults(unmarked_database)
    assert found == "plant.E005"
    assert f"has the right to {what} on {table}" in text
    remedy = text.partition("run: ")[2]
    broken(unmarked_database, remedy)
    if table != "note":
        assert faults(unmarked_database) == []


def test_a_right_given_to_everyone_counts_too(unmarked_database: Database) -> None:
    broken(unmarked_database, "GRANT DELETE ON hold TO PUBLIC")
    assert [found for found, _ in faults(unmarked_database)] == ["plant.E005"]


@pytest.mark.parametrize(
    ("sql", "name", "table", "state"),
    [
        ("ALTER TABLE unit DISABLE TRIGGER guard_row", "guard_row", "unit", "is switched off"),
        ("ALTER TABLE event ENABLE TRIGGER a_from_body", "a_from_body", "event", "is switched off"),
        ("ALTER TABLE head ENABLE REPLICA TRIGGER guard_table", "guard_table", "head", "is switched off"),
        ("DROP TRIGGER z_to_queue ON event", "z_to_queue", "event", "is missing"),
        ("DROP TRIGGER guard_row ON note", "guard_row", "note", "is missing"),
    ],
)
def test_a_guard_that_is_off_or_missing(
    unmarked_database: Database, sql: str, name: str, table: str, state: str
) -> None:
    broken(unmarked_database, sql)
    ((found, text),) = faults(unmarked_database)
    assert found == "plant.E006"
    assert f"The guard {name} of the table {table} {state}." in text
    if state == "is switched off":
        broken(unmarked_database, text.partition("run: ")[2])
        assert faults(unmarked_database) == []


def test_every_trigger_of_the_records_is_looked_for(unmarked_database: Database) -> None:
    names = [(table, name) for table, guards in (GUARDS | WRITTEN_GUARDS).items() for name, *_ in guards]
    for table, name in names:
        broken(unmarked_database, f"ALTER TABLE {table} DISABLE TRIGGER {name}")
    assert [found for found, _ in faults(unmarked_database)] == ["plant.E006"] * len(names)


def test_a_server_that_may_lose_records(plain: Database, settings: Settings) -> None:
    settings.ALLOW_UNSAFE_SERVER = False
    with plain.connect("postgres") as superuser:
        rows = superuser.execute(
            "SELECT name FROM pg_settings WHERE name IN ('fsync', 'full_page_writes') AND setting = 'off'"
        )
        off = {name for (name,) in rows}
    found = faults(plain, options="-c synchronous_commit=off")
    assert {fault for fault, _ in found} == {"plant.E007"}
    assert {text.split()[3] for _, text in found} == off | {"synchronous_commit"}
    right = dict.fromkeys([*checks.DURABLE, "data_checksums"], "on")
    assert checks.server_faults(right) == []
    for name in checks.DURABLE:
        (fault,) = checks.server_faults(right | {name: "off"})
        assert fault.id == "plant.E007"
        assert f"Set {name} = on in postgresql.conf" in str(fault.hint)


def test_pages_without_checksums_are_a_warning_only() -> None:
    (fault,) = checks.server_faults(dict.fromkeys(checks.DURABLE, "on") | {"data_checksums": "off"})
    assert (fault.id, fault.is_serious()) == ("plant.W001", False)


def test_migrations_that_wait(unmarked_database: Database) -> None:
    last = max(file.stem for file in (ROOT / "trace" / "migrations").glob("0*.py"))
    broken(unmarked_database, f"DELETE FROM django_migrations WHERE app = 'trace' AND name = '{last}'")
    ((found, text),) = faults(unmarked_database)
    assert found == "plant.E008"
    assert f"migrations wait, the first is trace.{last}." in text
    assert "Run LOTWRIGHT_ROLE=migrator manage.py migrate" in text


def test_a_database_without_tables(unmarked_database: Database) -> None:
    broken(unmarked_database, "DROP OWNED BY lotwright_owner CASCADE")
    assert [found for found, _ in faults(unmarked_database)] == ["plant.E008"]


@pytest.mark.django_db
def test_they_are_system_checks_for_the_app(settings: Settings) -> None:
    found = run_checks(tags=["database"], databases=["default"])
    assert [fault for fault in found if fault.is_serious()] == []
    settings.ALLOW_UNSAFE_SERVER = False
    with connections["default"].cursor() as cursor:
        cursor.execute("SET LOCAL synchronous_commit = off")
    found = run_checks(tags=["database"], databases=["default"])
    assert {fault.id for fault in found if fault.is_serious()} == {"plant.E007"}


def test_the_migrator_may_migrate(unmarked_database: Database) -> None:
    done = unmarked_database.run("check", "--database=default", "--tag=database", role="migrator")
    assert "no issues" in done.stdout


WEB = ("-c", "import plant.wsgi")
WORKER = ("-m", "celery", "-A", "plant", "beat", "--loglevel=ERROR", "--pidfile=")


def started(database: Database, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *words],
        check=False, capture_output=True, text=True, cwd=ROOT, env=database.environment, timeout=60,
    )  # fmt: skip


def test_the_web_starts_on_a_sound_database(plain: Database) -> None:
    assert started(plain, *WEB).returncode == 0


@pytest.mark.parametrize("program", [WEB, WORKER], ids=["web", "worker"])
def test_web_and_worker_end_with_the_sentence(unmarked_database: Database, program: tuple[str, ...]) -> None:
    broken(unmarked_database, "ALTER TABLE event DISABLE TRIGGER guard_row")
    ended = started(unmarked_database, *program)
    assert ended.returncode == start.REFUSED
    assert ended.stderr.splitlines()[-1] == (
        "The guard guard_row of the table event is switched off. "
        "As the owner, run: ALTER TABLE event ENABLE ALWAYS TRIGGER guard_row;"
    )


def test_no_answer_is_waited_for_and_nobody_is_served_meanwhile(
    plain: Database, settings: Settings, client: Client, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """A database that is away, starts or recovers says nothing about its guards; after it answered, all are served."""
    begun = start.Start()
    monkeypatch.setattr(middleware, "START", begun)
    monkeypatch.setattr(start, "ASK_AGAIN_SECONDS", 0)
    address = settings.DATABASES["default"]
    there = address["NAME"]
    try:
        connections["default"].close()
        address["NAME"] = "lwtest_nowhere"
        begun.begin()
        for accept in ("text/html", "application/json"):
            answer = client.get("/sign-in/", headers={"Accept": accept})
            assert (answer.status_code, answer["Retry-After"]) == (503, "2")
            assert "does not answer, or does not guard its records" in answer.content.decode()
        assert capsys.readouterr().err.count("The database does not answer") == 1
        address["NAME"] = plain.name
        assert client.get("/sign-in/").status_code == 200
    finally:
        connections["default"].close()
        address["NAME"] = there
    assert client.get("/sign-in/").status_code == 200


def test_what_answers_late_and_is_badly_guarded_serves_nobody(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    away, bad = Error("It does not answer.", id=checks.NO_ANSWER), Error("A guard is off.", id="plant.E006")
    begun, found = start.Start(), [away]
    monkeypatch.setattr(start, "start_faults", lambda: found)
    monkeypatch.setattr(start, "ASK_AGAIN_SECONDS", 0)
    begun.begin()
    found[:] = [bad]
    assert not begun.may_serve()
    assert not begun.may_serve()
    assert capsys.readouterr().err.count("A guard is off.") == 1
    with pytest.raises(SystemExit) as ended:
        begun.wait()
    assert ended.value.code == start.REFUSED
    found[:] = []
    assert begun.may_serve()


@pytest.mark.parametrize("step", ["login_faults", "migration_faults", "guard_faults"])
def test_a_database_that_goes_away_while_it_is_asked_has_not_answered(
    plain: Database, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = getattr(checks, step)

    def cut(wrapper: BaseDatabaseWrapper) -> list[CheckMessage]:
        with wrapper.cursor() as cursor:
            cursor.execute("SELECT pg_backend_pid()")
            pid = cursor.fetchone()[0]
        with plain.connect("postgres", autocommit=True) as superuser:
            superuser.execute("SELECT pg_terminate_backend(%s, 5000)", [pid])
        return list(asked(wrapper))

    monkeypatch.setattr(checks, step, cut)
    assert [fault for fault, _text in faults(plain)] == [checks.NO_ANSWER]


@pytest.mark.parametrize(
    ("hosts", "faults_found"),
    [(["*"], ["plant.E009"]), (["plant.example", "*"], ["plant.E009"]), (["plant.example"], [])],
)
def test_a_plant_names_its_hosts(hosts: list[str], faults_found: list[str], settings: Settings) -> None:
    settings.ALLOWED_HOSTS = hosts
    found = run_checks(tags=["security"], include_deployment_checks=True)
    assert [fault.id for fault in found if str(fault.id).startswith("plant.")] == faults_found
