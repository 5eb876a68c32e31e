"""The test runner keeps its word: app's rights, rollback, clones that go away, and no flush."""

import os
import subprocess
import sys
from functools import partial
from pathlib import Path
from urllib.request import urlopen

import psycopg
import pytest
from django.contrib.auth.hashers import check_password, make_password
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.urls import path
from pytest_django import Settings

from deploy.postgres import Server
from plant.models import WrongPin
from tests import databases
from tests.conftest import AtOnce, Connect
from tests.databases import Database

MOMENT = "2026-03-02T06:00:00Z"


def count(request: HttpRequest) -> HttpResponse:
    sign_in_fails("P-009")
    return HttpResponse(f"{one('SELECT current_user')} {WrongPin.objects.count()}")


urlpatterns = [path("count/", count)]


@pytest.fixture
def one_page(settings: Settings) -> None:
    """A site of one page, for the floor server."""
    settings.ROOT_URLCONF = __name__
    settings.MIDDLEWARE = []


def sign_in_fails(person: str) -> None:
    WrongPin.objects.create(at=MOMENT, person=person, device="D1")


def one(sql: str) -> object:
    with connection.cursor() as cursor:
        cursor.execute(sql)
        row = cursor.fetchone()
        assert row is not None
        return row[0]


@pytest.mark.django_db
@pytest.mark.parametrize("turn", [1, 2])
def test_a_test_works_as_the_app_and_leaves_nothing(turn: int) -> None:
    assert one("SELECT session_user || ' ' || current_user") == "lotwright_app lotwright_app"
    assert one("SELECT demo FROM installation") is True
    assert WrongPin.objects.count() == 0
    sign_in_fails("P-001")
    assert WrongPin.objects.count() == 1


def test_a_clone_keeps_commits_for_other_sessions(fresh_database: Database, connect: Connect) -> None:
    assert one("SELECT current_database()") == fresh_database.name
    sign_in_fails("P-001")
    assert connect("app").execute("SELECT count(*) FROM wrong_pin").fetchone() == (1,)
    assert connect("owner").execute("SELECT session_user, current_user").fetchone() == (
        "lotwright_migrator",
        "lotwright_owner",
    )


def test_an_unmarked_clone_is_as_a_plant_has_it(unmarked_database: Database) -> None:
    assert one("SELECT count(*) FROM installation") == 0


def test_threads_have_sessions_of_their_own(at_once: AtOnce) -> None:
    numbers = at_once(*[partial(one, "SELECT pg_backend_pid()")] * 3)
    assert len(set(numbers)) == 3
    at_once(partial(sign_in_fails, "P-001"), partial(sign_in_fails, "P-002"))
    assert WrongPin.objects.count() == 2


def test_a_command_runs_on_the_clone(fresh_database: Database) -> None:
    sign_in_fails("P-003")
    text = "from plant.models import WrongPin; print(WrongPin.objects.get().person)"
    assert fresh_database.run("shell", "--verbosity=0", "--command", text).stdout.split() == ["P-003"]
    with pytest.raises(AssertionError, match="no-such-command"):
        fresh_database.run("no-such-command")


def test_a_clone_is_dropped_and_django_is_back_where_it_was(
    test_server: Server, templates: tuple[Database, Database], shared_database: Database
) -> None:
    before = set(databases.own_names(test_server))
    with databases.cloned(templates[1]) as clone:
        assert clone.name in databases.own_names(test_server)
        databases.point_django_at(clone)
    databases.point_django_at(shared_database)
    assert set(databases.own_names(test_server)) == before
    assert connection.settings_dict["NAME"] == shared_database.name


def test_databases_of_a_dead_run_are_dropped(test_server: Server, templates: tuple[Database, Database]) -> None:
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    stale = f"{databases.PREFIX}_{ended.pid}_main_c1"
    with databases.cloned(templates[0]) as living:
        with psycopg.connect(test_server.url("postgres", "postgres"), autocommit=True) as superuser:
            superuser.execute(f'CREATE DATABASE "{stale}"')
        databases.drop_left_over(test_server)
        assert stale not in databases.names(test_server)
        assert living.name in databases.names(test_server)
    assert os.getpid() != ended.pid


def test_passwords_are_hashed_by_argon2() -> None:
    kept = make_password("a long password")
    assert kept.startswith("argon2$argon2id$")
    assert check_password("a long password", kept)


def test_the_floor_server_answers_from_the_clone(one_page: None, floor_server: str) -> None:
    sign_in_fails("P-001")
    for total in (2, 3):
        with urlopen(f"{floor_server}/count/") as answer:
            assert answer.read().decode() == f"lotwright_app {total}"
    assert WrongPin.objects.count() == 3


def test_whatever_would_empty_tables_is_refused(tmp_path: Path) -> None:
    (tmp_path / "conftest.py").write_text("from tests.conftest import *")
    (tmp_path / "test_refused.py").write_text(
        """
import pytest
from django.test import TransactionTestCase

@pytest.mark.django_db(transaction=True)
def test_by_mark(): pass

def test_by_fixture(transactional_db): pass

def test_by_live_server(live_server): pass

class TestCases(TransactionTestCase):
    def test_by_class(self): pass

@pytest.mark.django_db
def test_two_databases(fresh_database): pass

def test_two_clones(fresh_database, unmarked_database): pass
"""
    )
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-c",
        "pyproject.toml",
        "-p",
        "no:cacheprovider",
        "-rN",  # no summary: how much of a message it repeats depends on the environment
        str(tmp_path),
    ]
    run = subprocess.run(command, check=False, capture_output=True, text=True, cwd=databases.ROOT)
    assert "6 errors" in run.stdout, run.stdout + run.stderr
    assert run.stdout.count("Records are never emptied: take the fixture fresh_database") == 4
    assert run.stdout.count("A clone takes the place of the shared database") == 1
    assert run.stdout.count("One test works on one database") == 1


def test_without_a_server_one_sentence_says_what_to_run(tmp_path: Path) -> None:
    names = {"TEST_SERVER", "DATABASE_URL"}
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "tests/schema/test_runner.py"],
        check=False, capture_output=True, text=True, cwd=databases.ROOT,
        env={k: v for k, v in os.environ.items() if k not in names},
    )  # fmt: skip
    assert run.returncode != 0
    assert run.stderr.strip() == "TEST_SERVER is not set, so there is no database to test on: run deploy/test."


def test_what_plants_faults_is_loaded_before_the_settings_are_read() -> None:
    """`deploy/test --mutants` names it with -p: pytest loads it before Django knows its settings."""
    without = {name: value for name, value in os.environ.items() if name != "DJANGO_SETTINGS_MODULE"}
    load = [sys.executable, "-c", "import tests.mutants.plugin"]
    run = subprocess.run(load, check=False, capture_output=True, text=True, cwd=databases.ROOT, env=without)
    assert run.returncode == 0, run.stderr
