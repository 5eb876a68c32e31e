"""A database becomes a demo by its migrator's hand, before its first record, or never."""

from datetime import UTC, datetime

import psycopg
import pytest

from tests.conftest import Connect
from tests.databases import Database
from tests.schema.facts import add_event, stamp


def mark(database: Database, connect: Connect) -> list[tuple[object, ...]]:
    return connect("postgres").execute("SELECT * FROM installation").fetchall()


def test_the_migrator_marks_and_marks_once(unmarked_database: Database, connect: Connect) -> None:
    refused = unmarked_database.run("mark_demo", role="app", check=False)
    assert refused.returncode == 1
    assert "Only the migrator marks a database" in refused.stderr
    assert mark(unmarked_database, connect) == []
    for _ in range(2):
        unmarked_database.run("mark_demo", role="migrator")
        assert mark(unmarked_database, connect) == [(True, True)]


def test_a_database_with_records_cannot_become_a_demo(unmarked_database: Database, connect: Connect) -> None:
    app = connect("owner", autocommit=True)
    add_event(app, recorded=stamp(datetime.now(UTC)))
    refused = unmarked_database.run("mark_demo", role="migrator", check=False)
    assert refused.returncode == 1
    assert "This database has records, so it cannot become a demo" in refused.stderr
    with pytest.raises(psycopg.errors.InsufficientPrivilege, match="before its first record"):
        connect("owner").execute('INSERT INTO installation ("only", demo) VALUES (true, true)')
    assert mark(unmarked_database, connect) == []


@pytest.mark.parametrize("login", ["app", "sealer", "auditor", "migrator"])
def test_nobody_else_marks(unmarked_database: Database, connect: Connect, login: str) -> None:
    # To the migrator, unless it works as the owner, even the table's name is closed.
    with pytest.raises((psycopg.errors.InsufficientPrivilege, psycopg.errors.UndefinedTable)):
        connect(login).execute('INSERT INTO installation ("only", demo) VALUES (true, true)')
