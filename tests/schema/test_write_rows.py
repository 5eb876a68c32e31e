"""write_rows writes a whole document of read models or nothing, into the tables it knows, with its caller's rights."""

import json
from typing import Any

import psycopg
import pytest

from tests.conftest import Connect
from tests.databases import Database
from tests.schema.facts import DIGEST, MONDAY, stamp
from trace.migrations._door import PLANT_TABLES, READ_MODEL_COLUMNS
from trace.migrations._guards import READ_MODELS

Row = dict[str, Any]


@pytest.fixture
def app(connect: Connect) -> psycopg.Connection:
    return connect("app")


def write(session: psycopg.Connection, **parts: Any) -> None:
    session.execute("SELECT write_rows(%s::jsonb)", [json.dumps(parts, default=str)])


def rows(session: psycopg.Connection, sql: str) -> list[tuple[Any, ...]]:
    return session.execute(sql).fetchall()


def full(table: str, **given: Any) -> Row:
    """A row with every column that write_rows asks for; NULL where nothing is given."""
    columns = " ".join(READ_MODEL_COLUMNS[table])
    assert given.keys() <= set(columns.split())
    return dict.fromkeys(columns.split()) | given


def unit_state(unit: int, **given: Any) -> Row:
    return full("unit_state", unit=unit, **{"balance": 5, "overdrawn": False} | given)


def test_put_adds_and_replaces_and_drop_removes(app: psycopg.Connection) -> None:
    state = unit_state(1, status="open", status_at=stamp(MONDAY))
    write(app, put={"unit_state": [state, {**state, "unit": 2}]})
    write(
        app,
        put={"unit_state": [{**state, "balance": -5, "overdrawn": True}]},
        drop={"unit_state": [{"unit": 2}, {"unit": 3}]},
    )
    assert rows(app, "SELECT unit, status, status_at, balance, overdrawn FROM unit_state") == [
        (1, "open", MONDAY, -5, True)
    ]
    place = {"key": "BAY-1", "resource": 7, "version": 1, "body": {"kind": "bay"}, "ended": False}
    write(app, put={"plant_place": [place]})
    write(app, put={"plant_place": [{**place, "version": 2, "ended": True}]})
    assert rows(app, "SELECT key, version, body, ended FROM plant_place") == [("BAY-1", 2, {"kind": "bay"}, True)]


def test_rows_of_a_key_of_more_columns_are_dropped_one_by_one(app: psycopg.Connection) -> None:
    gap = {"unit": 1, "what": "layer", "which": "skin", "event": 1}
    write(app, put={"gap": [gap, {**gap, "which": "foam"}, {**gap, "unit": 2}]})
    write(app, drop={"gap": [{"unit": 1, "what": "layer", "which": "foam"}]})
    assert rows(app, "SELECT unit, which FROM gap ORDER BY 1, 2") == [(1, "skin"), (2, "skin")]


def test_a_row_that_is_all_key_is_put_once(app: psycopg.Connection) -> None:
    for _ in range(2):
        write(app, put={"unit_hold": [{"unit": 1, "hold": 4}]})
    assert rows(app, "SELECT unit, hold FROM unit_hold") == [(1, 4)]


@pytest.mark.parametrize(
    ("parts", "named"),
    [
        ({"add": {"event": [{"id": 1, "body": "{}"}]}}, "add event"),
        ({"add": {"blob": [{"sha256": DIGEST, "size": 1, "type": "image/png"}]}}, "add blob"),
        ({"put": {"event": [{"id": 1}]}}, "put event"),
        ({"put": {"note": [{"digest": DIGEST}]}}, "put note"),
        ({"put": {"account": [{"id": 1}]}}, "put account"),
        ({"put": {"pg_authid": [{"oid": 10}]}}, "put pg_authid"),
        ({"drop": {"edge": [{"id": 1}]}}, "drop edge"),
        ({"drop": {"django_session": [{"session_key": "x"}]}}, "drop django_session"),
        ({"remove": {"edge": []}}, "remove"),
        ({"put": {"carriers": []}}, "put carriers"),
    ],
)
def test_other_tables_fail_the_whole(app: psycopg.Connection, parts: dict[str, Any], named: str) -> None:
    whole = {**parts, "put": {"unit_state": [unit_state(1)]} | parts.get("put", {})}
    with (
        pytest.raises(psycopg.errors.InvalidParameterValue, match=f"write_rows does not write all of: .*{named}"),
        app.transaction(),
    ):
        write(app, **whole)
    assert rows(app, "SELECT count(*) FROM unit_state") == [(0,)]


@pytest.mark.parametrize(
    ("spoil", "error"),
    [
        ({"colour": "red"}, psycopg.errors.InvalidParameterValue),
        ({"balance": -1}, psycopg.errors.CheckViolation),
        ({"balance": "high"}, psycopg.errors.InvalidTextRepresentation),
    ],
)
def test_one_wrong_row_fails_the_whole(app: psycopg.Connection, spoil: dict[str, Any], error: type[Exception]) -> None:
    with pytest.raises(error), app.transaction():
        write(app, put={"unit_state": [unit_state(1), {**unit_state(2), **spoil}]})
    assert rows(app, "SELECT count(*) FROM unit_state") == [(0,)]


@pytest.mark.parametrize("spoilt", [0, 1])
@pytest.mark.parametrize("change", ["more", "less"])
def test_every_row_has_all_columns_of_its_table(app: psycopg.Connection, spoilt: int, change: str) -> None:
    """A column that only some rows have would otherwise be left out, or emptied, in silence."""
    pair = [unit_state(1), unit_state(2)]
    if change == "more":
        pair[spoilt]["colour"] = "red"
    else:
        del pair[spoilt]["balance"]
    with pytest.raises(psycopg.errors.InvalidParameterValue, match="rows of unit_state do not have the columns"):
        write(app, put={"unit_state": pair})


@pytest.mark.parametrize("key", [{}, {"unit": 1}, {"unit": 1, "what": "layer", "which": "skin", "event": 1}])
def test_what_is_dropped_is_named_by_its_whole_key(app: psycopg.Connection, key: Row) -> None:
    with pytest.raises(psycopg.errors.InvalidParameterValue, match="rows of gap do not have the columns"):
        write(app, drop={"gap": [key]})


def test_empty_lists_are_nothing(app: psycopg.Connection) -> None:
    write(app)
    write(app, put={"gap": []}, drop={"gap": []})


@pytest.mark.parametrize("login", ["sealer", "auditor", "migrator"])
def test_nobody_but_the_app_calls_it(connect: Connect, login: str) -> None:
    with pytest.raises((psycopg.errors.InsufficientPrivilege, psycopg.errors.UndefinedFunction)):
        write(connect(login), put={})


def test_it_has_the_rights_of_its_caller(fresh_database: Database, connect: Connect) -> None:
    """Even an auditor who could call it would write nothing by that."""
    owner = connect("owner", autocommit=True)
    owner.execute("GRANT EXECUTE ON ALL FUNCTIONS IN SCHEMA public TO lotwright_auditor")
    auditor = connect("auditor", autocommit=True)
    write(auditor)
    attempts: list[dict[str, Any]] = [
        {"put": {"gap": [{"unit": 1, "what": "layer", "which": "skin", "event": 1}]}},
        {"drop": {"gap": [{"unit": 1, "what": "layer", "which": "skin"}]}},
    ]
    for parts in attempts:
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            write(auditor, **parts)


# Read models that a later migration made, with their rights.
CAME_LATER = ("complaint", "case_file")


def test_it_knows_every_column_that_is_there_for_it(connect: Connect) -> None:
    found: dict[str, set[str]] = {}
    for table, column in rows(
        connect("postgres"),
        "SELECT relname, attname FROM pg_attribute JOIN pg_class c "
        "ON c.oid = attrelid WHERE attnum > 0 AND NOT attisdropped",
    ):
        found.setdefault(table, set()).add(column)
    tables = (*READ_MODELS, *CAME_LATER, *PLANT_TABLES)
    for table in tables:
        assert found[table] == set(" ".join(READ_MODEL_COLUMNS[table]).split()), table
    assert set(READ_MODEL_COLUMNS) == set(tables)
