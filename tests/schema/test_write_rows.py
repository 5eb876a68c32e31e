"""write_rows writes a whole document or nothing, into the tables it knows, with its caller's rights."""

import json
from typing import Any
from uuid import uuid4

import psycopg
import pytest

from tests.conftest import Connect
from tests.databases import Database
from tests.schema.facts import DIGEST, MONDAY, a_scan, body, stamp
from trace.migrations._guards import ADDED_COLUMNS, PLANT, READ_MODELS, SET_COLUMNS

MORE_THAN_A_DOUBLE = 9_007_199_254_740_993  # 2^53 + 1
LEFT_TO_THE_DATABASE = {
    "event": {
        "uid", "leaf", "kind", "ver", "happened", "offset_min", "unsure_ms", "recorded", "install", "seq",
        "person", "station", "corrects", "why",
    },
    "edge": {"recorded", "xid"},
    "edge_void": {"recorded"},
    "note": {"erased_by"},
}  # fmt: skip
Row = dict[str, Any]


@pytest.fixture
def app(connect: Connect) -> psycopg.Connection:
    return connect("app")


def write(session: psycopg.Connection, **parts: Any) -> None:
    session.execute("SELECT write_rows(%s::jsonb)", [json.dumps(parts, default=str)])


def number(session: psycopg.Connection, table: str = "event") -> int:
    row = session.execute("SELECT nextval(pg_get_serial_sequence(%s, 'id'))", [table]).fetchone()
    assert row is not None
    return int(row[0])


def rows(session: psycopg.Connection, sql: str) -> list[tuple[Any, ...]]:
    return session.execute(sql).fetchall()


def full(table: str, **given: Any) -> Row:
    """A row with every column that write_rows asks for; NULL where nothing is given."""
    columns = ADDED_COLUMNS[table] if table in ADDED_COLUMNS else " ".join(SET_COLUMNS[table])
    assert given.keys() <= set(columns.split())
    return dict.fromkeys(columns.split()) | given


def unit_state(unit: int, **given: Any) -> Row:
    return full("unit_state", unit=unit, **{"balance": 5, "overdrawn": False, "rank": 0} | given)


def a_weighing(session: psycopg.Connection) -> dict[str, list[Row]]:
    """Parts of one event: two units, the edge between them, the scan with its answer."""
    event, lot, charge, edge = (number(session, t) for t in ("event", "unit", "unit", "edge"))
    units = [
        full(
            "unit",
            id=n,
            uid=uuid4(),
            kind=kind,
            event=event,
            about={"layer": "skin"},
            amount=amount,
            uom="mg",
        )
        for n, kind, amount in ((lot, "lot", MORE_THAN_A_DOUBLE), (charge, "charge", 12_200_000))
    ]
    ends = {
        "id": edge,
        "child": charge,
        "parent": lot,
        "event": event,
        "n": 0,
        "role": "draw",
        "aside": False,
    }
    return {
        "scan": [full("scan", **a_scan(event))],
        "edge": [full("edge", **ends, amount=12_200_000, uom="mg")],
        "unit": units,
        "event": [{"id": event, "body": body()}],
    }


def test_a_document_is_written_in_the_order_of_its_keys_to_one_another(app: psycopg.Connection) -> None:
    write(app, add=a_weighing(app))
    app.execute("SET CONSTRAINTS ALL IMMEDIATE")
    assert rows(app, "SELECT amount, uom, about FROM unit ORDER BY id") == [
        (MORE_THAN_A_DOUBLE, "mg", {"layer": "skin"}),
        (12_200_000, "mg", {"layer": "skin"}),
    ]
    assert rows(app, "SELECT edge.recorded = event.recorded, aside FROM edge JOIN event ON event.id = event") == [
        (True, False)
    ]
    assert rows(app, "SELECT answer, event.kind FROM scan JOIN event ON event.id = event") == [("{}", "weighed")]


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


def test_a_note_or_a_photo_that_is_there_already_stays(app: psycopg.Connection) -> None:
    note = {"digest": DIGEST, "salt": "5a", "text": "first"}
    for text in ("first", "second"):
        write(app, add={"note": [{**note, "text": text}], "blob": [{"sha256": DIGEST, "size": 1, "type": text}]})
    assert rows(app, "SELECT text, type FROM note, blob") == [("first", "first")]


@pytest.mark.parametrize(
    ("parts", "named"),
    [
        ({"add": {"account": [{"person": "P-001"}]}}, "add account"),
        ({"add": {"leaf": [{"epoch": 1, "n": 0, "event": 1}]}}, "add leaf"),
        ({"add": {"seal_queue": [{"event": 1}]}}, "add seal_queue"),
        ({"add": {"installation": [{"demo": True}]}}, "add installation"),
        ({"add": {"unit_state": [{"unit": 1}]}}, "add unit_state"),
        ({"put": {"event": [{"id": 1}]}}, "put event"),
        ({"put": {"note": [{"digest": DIGEST}]}}, "put note"),
        ({"put": {"account": [{"id": 1}]}}, "put account"),
        ({"put": {"pg_authid": [{"oid": 10}]}}, "put pg_authid"),
        ({"drop": {"edge": [{"id": 1}]}}, "drop edge"),
        ({"drop": {"django_session": [{"session_key": "x"}]}}, "drop django_session"),
        ({"remove": {"edge": []}}, "remove"),
        ({"add": {"carriers": []}}, "add carriers"),
    ],
)
def test_other_tables_fail_the_whole(app: psycopg.Connection, parts: dict[str, Any], named: str) -> None:
    whole = {**parts, "add": a_weighing(app) | parts.get("add", {})}
    with (
        pytest.raises(psycopg.errors.InvalidParameterValue, match=f"write_rows does not write all of: .*{named}"),
        app.transaction(),
    ):
        write(app, **whole)
    assert rows(app, "SELECT count(*) FROM event") == [(0,)]


@pytest.mark.parametrize(
    ("table", "spoil", "error"),
    [
        ("scan", {"colour": "red"}, psycopg.errors.InvalidParameterValue),
        ("edge", {"xid": "3"}, psycopg.errors.InvalidParameterValue),
        ("scan", {"mode": "says"}, psycopg.errors.CheckViolation),
        ("edge", {"child": 0}, psycopg.errors.ForeignKeyViolation),
        ("event", {"kind": "received"}, psycopg.errors.InvalidParameterValue),
        ("unit", {"uid": "no uid"}, psycopg.errors.InvalidTextRepresentation),
    ],
)
def test_one_wrong_row_fails_the_whole(
    app: psycopg.Connection, table: str, spoil: dict[str, Any], error: type[Exception]
) -> None:
    whole = a_weighing(app)
    whole[table] = [{**row, **spoil} for row in whole[table]]
    with pytest.raises(error), app.transaction():
        write(app, add=whole)
        app.execute("SET CONSTRAINTS ALL IMMEDIATE")
    assert rows(app, "SELECT count(*) FROM event") == [(0,)]


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
    write(app, add={"event": []}, put={"gap": []}, drop={"gap": []})


@pytest.mark.parametrize("login", ["sealer", "auditor", "migrator"])
def test_nobody_but_the_app_calls_it(connect: Connect, login: str) -> None:
    with pytest.raises((psycopg.errors.InsufficientPrivilege, psycopg.errors.UndefinedFunction)):
        write(connect(login), add={})


def test_it_has_the_rights_of_its_caller(fresh_database: Database, connect: Connect) -> None:
    """Even an auditor who could call it would write nothing by that."""
    owner = connect("owner", autocommit=True)
    owner.execute("GRANT EXECUTE ON ALL FUNCTIONS IN SCHEMA public TO lotwright_auditor")
    auditor = connect("auditor", autocommit=True)
    write(auditor)
    attempts: list[dict[str, Any]] = [
        {"add": {"blob": [{"sha256": DIGEST, "size": 1, "type": "image/png"}]}},
        {"put": {"gap": [{"unit": 1, "what": "layer", "which": "skin", "event": 1}]}},
        {"drop": {"gap": [{"unit": 1, "what": "layer", "which": "skin"}]}},
    ]
    for parts in attempts:
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            write(auditor, **parts)


def test_it_knows_every_column_that_is_there_for_it(connect: Connect) -> None:
    """All of each table, but for numbers given by the table itself and columns set by triggers."""
    found: dict[str, set[str]] = {}
    for table, column in rows(
        connect("postgres"),
        "SELECT relname, attname FROM pg_attribute JOIN pg_class c "
        "ON c.oid = attrelid WHERE attnum > 0 AND NOT attisdropped",
    ):
        found.setdefault(table, set()).add(column)
    for table, columns in ADDED_COLUMNS.items():
        left_out = found[table] - set(columns.split())
        assert left_out - {"id"} == LEFT_TO_THE_DATABASE.get(table, set()), table
    for table in (*READ_MODELS, *PLANT):
        assert found[table] == set(" ".join(SET_COLUMNS[table]).split()), table
    assert set(SET_COLUMNS) == {*READ_MODELS, *PLANT}
