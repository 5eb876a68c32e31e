"""Nothing recorded changes: every attempt by every role, on a database as the migrations leave it."""

from collections.abc import Iterator

import psycopg
import pytest

from tests.databases import Database, cloned
from tests.schema.attempts import (
    ATTEMPTS,
    FORGERIES,
    LOGINS,
    Attempt,
    everyone,
    everything,
    got_through,
    prove,
    row_attempts,
    to_the_door,
)
from tests.schema.facts import body, enter, one_of_each
from tests.schema.fingerprint import fingerprint
from trace.migrations._door import GUARDS

Sessions = dict[str, psycopg.Connection]
OTHERS: list[Attempt] = [*ATTEMPTS, *FORGERIES]
AT_ONCE = 10  # attempts a test: what is looked at after them costs more than they do


@pytest.fixture(scope="module")
def sessions(templates: tuple[Database, Database]) -> Iterator[Sessions]:
    """Everyone, on one database with a row in every guarded table; the attempts leave it as it is."""
    with cloned(templates[1]) as database:
        one_of_each(database)
        with everyone(database) as opened:
            yield opened


@pytest.fixture(scope="module")
def untouched(sessions: Sessions) -> dict[str, str]:
    """The fingerprint before the first attempt: it is that after each of them."""
    return fingerprint(sessions["postgres"])


def test_there_are_rows_to_lose(sessions: Sessions) -> None:
    for table in GUARDS:
        some = sessions["postgres"].execute(f"SELECT count(*) > 0 FROM {table}").fetchone()
        assert some == (True,), table


@pytest.mark.parametrize("table", GUARDS)
def test_rows_are_neither_updated_nor_deleted_nor_truncated(
    sessions: Sessions, untouched: dict[str, str], table: str
) -> None:
    assert got_through(sessions, row_attempts(table), untouched) == []


@pytest.mark.parametrize("first", range(0, len(OTHERS), AT_ONCE), ids=lambda first: OTHERS[first].name)
def test_attempts_change_nothing(sessions: Sessions, untouched: dict[str, str], first: int) -> None:
    """What is let through is looked at by itself and named; after those that end in an error, all is looked at once."""
    assert got_through(sessions, OTHERS[first : first + AT_ONCE], untouched) == []


def test_triggers_hold_against_a_superuser_who_plays_a_replica(sessions: Sessions) -> None:
    superuser = sessions["postgres"]
    before = fingerprint(superuser)
    superuser.execute("SET session_replication_role = replica")
    for table in GUARDS:
        for attempt in row_attempts(table):
            with pytest.raises(psycopg.Error):
                superuser.execute(attempt.sql)
    superuser.execute("RESET session_replication_role")
    assert fingerprint(superuser) == before


def test_there_are_enough_of_them() -> None:
    for login in LOGINS:
        assert sum(login in attempt.logins for attempt in everything()) >= 140, login


def test_the_app_enters_what_it_may_and_nothing_else(sessions: Sessions) -> None:
    """The test of the forgeries: without a fault the same event goes in, so it is the fault that is refused."""
    app = sessions["app"]
    with app.transaction(force_rollback=True):
        enter(app, body())
    with app.transaction(force_rollback=True):
        app.execute(to_the_door("body"))


# Holes that a careless migration could leave, and who gets through each with what.
HOLES = {
    "ALTER TABLE unit DISABLE TRIGGER guard_row": "owner: update unit",
    "DROP TRIGGER guard_table ON head": "owner: truncate head",
    "DROP TRIGGER guard_row ON scan; GRANT UPDATE ON scan TO lotwright_app": "app: update scan",
    "GRANT CREATE ON SCHEMA public TO lotwright_sealer": "sealer: table of one's own",
    "ALTER TABLE note DISABLE TRIGGER guard_row": "owner: delete note",
    "GRANT INSERT ON leaf TO lotwright_auditor": "auditor: leaf by another",
}


def test_what_goes_through_a_hole_is_found(templates: tuple[Database, Database]) -> None:
    with cloned(templates[1]) as database:
        with database.connect("postgres") as superuser:
            for hole in HOLES:
                superuser.execute(hole)
        found = [line.rsplit(":", 1)[0] for line in prove(database)]
        assert set(found) >= set(HOLES.values())
