"""An event is its bytes: the trigger sets every column from them and refuses what says otherwise."""

import json
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import Any
from uuid import uuid4

import psycopg
import pytest

from tests.conftest import Connect
from tests.schema.facts import DIGEST, MONDAY, add_event, add_unit, body, insert, soon, stamp
from trace.chain import canonical, leaf_hash
from trace.migrations._door import GUARDS, WRITTEN_GUARDS

ROOT = leaf_hash(b"")
COLUMNS = (
    "uid, leaf, kind, ver, happened, offset_min, unsure_ms, recorded, install, seq, person, station, corrects, why"
)


@pytest.fixture
def owner(connect: Connect) -> psycopg.Connection:
    """The owner's session: the triggers are tried here below the door, which alone lets the app's login in."""
    return connect("owner")


def test_columns_are_set_from_the_body(owner: psycopg.Connection) -> None:
    first, install, uid = add_event(owner), uuid4(), uuid4()
    corrected = owner.execute("SELECT uid FROM event WHERE id = %s", [first]).fetchone()
    assert corrected is not None
    text = body(
        uid=str(uid), kind="corrected", ver=2, offset_min=60, unsure_ms=1500, install=str(install), seq=41,
        person="P-020", station="DOCK-2", corrects=str(corrected[0]), why=DIGEST,
    )  # fmt: skip
    event = insert(owner, "event", body=text)
    row = owner.execute(f"SELECT {COLUMNS} FROM event WHERE id = %s", [event]).fetchone()
    assert row == (
        uid, leaf_hash(text.encode()), "corrected", 2, MONDAY, 60, 1500, MONDAY + timedelta(seconds=2),
        install, 41, "P-020", "DOCK-2", first, DIGEST,
    )  # fmt: skip


@pytest.mark.parametrize("station", ["WEIGH-1", "Čerpací stanice", "œ ß 漢 \U0001f6f6", 'a\\u0041"\n'])
def test_the_leaf_covers_the_bytes_as_they_stand(owner: psycopg.Connection, station: str) -> None:
    text = body(station=station)
    insert(owner, "event", body=text)
    row = owner.execute("SELECT leaf, body, station FROM event").fetchone()
    assert row == (leaf_hash(text.encode()), text, station)


def test_columns_that_agree_are_let_through(owner: psycopg.Connection) -> None:
    text = body()
    whole = json.loads(text)
    same = {name: whole[name] for name in ("uid", "kind", "ver", "happened", "recorded", "unsure_ms", "person")}
    insert(owner, "event", body=text, leaf=leaf_hash(text.encode()), **same)


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("uid", uuid4()), ("leaf", b"\x00" * 32), ("kind", "received"), ("ver", 2),
        ("happened", MONDAY + timedelta(1)),
        ("offset_min", 60), ("unsure_ms", 0), ("recorded", MONDAY), ("install", uuid4()), ("seq", 1),
        ("person", "P-001"), ("station", "DOCK-1"), ("corrects", 1), ("why", DIGEST),
    ],
)  # fmt: skip
def test_a_column_that_disagrees_is_refused(owner: psycopg.Connection, column: str, value: object) -> None:
    with pytest.raises(psycopg.errors.CheckViolation, match="event columns disagree with its body"):
        insert(owner, "event", body=body(), **{column: value})


@pytest.mark.parametrize(
    "changes",
    [
        {"recorded": "now"},
        {"happened": "yesterday"},
        {"happened": "infinity"},
        {"recorded": "2026-03-02T06:00:02Z"},
        {"recorded": "2026-03-02T06:00:02.000000+00:00"},
        {"recorded": "2026-03-02T07:00:02.000000+01:00"},
        {"happened": "2026-03-02 06:00:00.000000Z"},
        {"uid": "55BDC8EB-5791-464A-9786-EF0044F69C20"},
        {"uid": "{55bdc8eb-5791-464a-9786-ef0044f69c20}"},
        {"install": "55BDC8EB-5791-464A-9786-EF0044F69C20"},
        {"ver": "1"},
        {"seq": " 7 "},
        {"kind": 7},
        {"person": 14},
    ],
    ids=str,
)
def test_values_stand_in_one_form(owner: psycopg.Connection, changes: dict[str, Any]) -> None:
    with pytest.raises(psycopg.errors.CheckViolation, match="another form"):
        insert(owner, "event", body=body(**changes))


@pytest.mark.parametrize("name", ["uid", "kind", "ver", "happened", "offset_min", "unsure_ms", "recorded"])
def test_what_every_event_has_cannot_be_left_out(owner: psycopg.Connection, name: str) -> None:
    whole = json.loads(body())
    del whole[name]
    with pytest.raises(psycopg.errors.NotNullViolation):
        insert(owner, "event", body=canonical(whole))


@pytest.mark.parametrize("text", ["", "{", "[]", "7", "null", '{"uid": "x"}'])
def test_a_body_that_is_no_event_is_refused(owner: psycopg.Connection, text: str) -> None:
    with pytest.raises(psycopg.Error):
        insert(owner, "event", body=text)


def test_the_same_event_counts_once(owner: psycopg.Connection) -> None:
    text = body()
    insert(owner, "event", body=text)
    with pytest.raises(psycopg.errors.UniqueViolation):
        insert(owner, "event", body=text)


def test_what_is_corrected_must_be_recorded(owner: psycopg.Connection) -> None:
    nowhere = uuid4()
    with pytest.raises(psycopg.errors.ForeignKeyViolation, match=f"{nowhere} is to be corrected, but"):
        add_event(owner, corrects=str(nowhere))


def recorded_off(session: psycopg.Connection, seconds: int, now: datetime) -> None:
    with session.transaction(force_rollback=True):
        add_event(session, recorded=stamp(now + timedelta(seconds=seconds)))


@pytest.mark.parametrize("seconds", [-4, 0, 4])
def test_recorded_may_be_as_far_off_as_a_commit_takes(
    unmarked_database: object, connect: Connect, seconds: int
) -> None:
    assert soon(partial(recorded_off, connect("owner"), seconds)) is None


@pytest.mark.parametrize("seconds", [-3600, -6, 6, 3600])
def test_recorded_cannot_be_set_back_or_forward(unmarked_database: object, connect: Connect, seconds: int) -> None:
    error = soon(partial(recorded_off, connect("owner"), seconds))
    assert isinstance(error, psycopg.errors.CheckViolation)
    assert "more than 5 s off the clock of the server" in str(error)


def test_in_a_demo_recorded_may_be_set(owner: psycopg.Connection) -> None:
    for year in (2019, 2026, 2031):
        add_event(owner, recorded=stamp(datetime(year, 1, 2, tzinfo=UTC)))


def test_an_edge_carries_the_recorded_time_of_its_event(owner: psycopg.Connection) -> None:
    early = add_event(owner, recorded=stamp(MONDAY))
    late = add_event(owner, recorded=stamp(MONDAY + timedelta(days=1)))
    child, parent = add_unit(owner, early), add_unit(owner, early)
    edge = insert(
        owner,
        "edge",
        child=child,
        parent=parent,
        event=early,
        n=0,
        role="draw",
        recorded=MONDAY - timedelta(9),
        xid="3",
    )
    insert(owner, "edge_void", edge=edge, event=late, recorded=MONDAY)
    row = owner.execute(
        """SELECT e.recorded, v.recorded, e.xid = pg_current_xact_id()
           FROM edge e JOIN edge_void v ON v.edge = e.id"""
    ).fetchone()
    assert row == (MONDAY, MONDAY + timedelta(days=1), True)


def test_each_event_enters_the_queue_by_itself(owner: psycopg.Connection, connect: Connect) -> None:
    event = add_event(owner)
    assert owner.execute("SELECT event FROM seal_queue").fetchall() == [(event,)]
    with pytest.raises(psycopg.errors.InsufficientPrivilege), owner.transaction():
        owner.execute("DELETE FROM seal_queue")
    app = connect("app")
    for sql in ("SELECT * FROM seal_queue", f"INSERT INTO seal_queue VALUES ({event})", "DELETE FROM seal_queue"):
        with pytest.raises(psycopg.errors.InsufficientPrivilege), app.transaction():
            app.execute(sql)


def test_an_event_leaves_the_queue_only_for_a_leaf(fresh_database: object, connect: Connect) -> None:
    owner, sealer = connect("owner"), connect("sealer")
    sealed, waiting = add_event(owner), add_event(owner)
    owner.commit()
    for sql in ("DELETE FROM seal_queue", "INSERT INTO leaf (epoch, n, event) VALUES (1, 0, 1)"):
        with pytest.raises(psycopg.errors.InsufficientPrivilege), sealer.transaction():
            sealer.execute(sql)
    with pytest.raises(psycopg.errors.InsufficientPrivilege, match="seal_queue"), owner.transaction():
        owner.execute("DELETE FROM seal_queue")
    sealer.execute("SELECT seal(1, %s, %s, '')", [[sealed], ROOT])
    assert sealer.execute("SELECT event FROM seal_queue").fetchall() == [(waiting,)]
    with pytest.raises(psycopg.errors.UniqueViolation), sealer.transaction():
        sealer.execute("SELECT seal(1, %s, %s, '')", [[sealed], ROOT])


def test_leaves_have_no_holes_and_heads_follow(fresh_database: object, connect: Connect) -> None:
    """By nobody's hand, the owner's neither."""
    owner = connect("owner")
    one, two, three = (add_event(owner) for _ in range(3))
    insert(owner, "leaf", epoch=1, n=0, event=one)
    insert(owner, "head", epoch=1, size=1, root=ROOT, note="")
    wrong: list[tuple[str, dict[str, Any]]] = [
        ("leaf", {"epoch": 1, "n": 2, "event": two}),
        ("leaf", {"epoch": 1, "n": -1, "event": two}),
        ("leaf", {"epoch": 3, "n": 0, "event": two}),
        ("leaf", {"epoch": 0, "n": 0, "event": two}),
        ("head", {"epoch": 1, "size": 2, "root": ROOT, "note": ""}),
        ("head", {"epoch": 1, "size": 0, "root": ROOT, "note": ""}),
        ("head", {"epoch": 2, "size": 0, "root": ROOT, "note": ""}),
    ]
    for table, row in wrong:
        with pytest.raises(psycopg.errors.CheckViolation, match="does not follow"), owner.transaction():
            insert(owner, table, **row)
    insert(owner, "leaf", epoch=1, n=1, event=two)
    with pytest.raises(psycopg.errors.CheckViolation, match="does not follow"), owner.transaction():
        insert(owner, "head", epoch=1, size=2, root=b"short", note="")
    insert(owner, "head", epoch=1, size=2, root=ROOT, note="")
    insert(owner, "leaf", epoch=2, n=0, event=three)


def test_a_note_can_be_erased_once_and_by_an_event_that_says_so(owner: psycopg.Connection) -> None:
    rows = {"erased": [{"note": DIGEST}]}
    event, other = add_event(owner, kind="erased", rows=rows), add_event(owner, kind="erased", rows=rows)
    silent = add_event(owner, kind="erased")
    another = add_event(owner, kind="erased", rows={"erased": [{"note": "0" * 64}]})
    of_another_kind = add_event(owner, kind="weighed", rows=rows)
    insert(owner, "note", digest=DIGEST, salt="5a", text="a name")
    for sql in (
        "UPDATE note SET text = NULL",
        f"UPDATE note SET erased_by = {event}",
        f"UPDATE note SET text = 'another name', erased_by = {event}",
        f"UPDATE note SET text = NULL, erased_by = {event}, digest = ''",
        f"UPDATE note SET text = NULL, erased_by = {event}, salt = ''",
        f"UPDATE note SET text = NULL, erased_by = {silent}",
        f"UPDATE note SET text = NULL, erased_by = {another}",
        f"UPDATE note SET text = NULL, erased_by = {of_another_kind}",
        "UPDATE note SET text = NULL, erased_by = 0",
        "DELETE FROM note",
    ):
        with pytest.raises(psycopg.errors.InsufficientPrivilege), owner.transaction():
            owner.execute(sql)
    owner.execute("UPDATE note SET text = NULL, erased_by = %s", [event])
    assert owner.execute("SELECT * FROM note").fetchall() == [(DIGEST, "5a", None, event)]
    for again in (other, event):
        with pytest.raises(psycopg.errors.InsufficientPrivilege), owner.transaction():
            owner.execute("UPDATE note SET text = NULL, erased_by = %s", [again])


def test_the_triggers_are_those_of_the_list_and_always_on(connect: Connect) -> None:
    found = connect("postgres").execute(
        """SELECT relname, tgname, proname, tgenabled FROM pg_trigger t JOIN pg_class c ON c.oid = tgrelid
           JOIN pg_proc p ON p.oid = tgfoid WHERE NOT tgisinternal"""
    )
    assert set(found) == {
        (table, name, function, "A")
        for table, guards in (GUARDS | WRITTEN_GUARDS).items()
        for name, _when, function in guards
    }
