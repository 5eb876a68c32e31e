"""The door: an event comes in by its bytes, its rows out of them, and nothing else comes in at all."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any
from uuid import uuid4

import hypothesis.strategies as st
import psycopg
import pytest
from hypothesis import given, settings

from tests.conftest import Connect
from tests.schema.facts import DIGEST, MONDAY, body, enter, soon, stamp, the_scan
from trace.chain import canonical, digest
from trace.migrations._door import KINDS, PARTS
from trace.readmodels.apply import ONLY_TRUTH, STEPS
from trace.recording.acts import commands_by_kind

Row = dict[str, Any]
SALT = "5a" * 16
REFUSED = psycopg.errors.CheckViolation


@pytest.fixture
def app(connect: Connect) -> psycopg.Connection:
    session = connect("app")
    # Begun already, so that what a test does in a block of its own is taken back with all the rest.
    session.execute("SELECT 1")
    return session


@pytest.fixture
def superuser(connect: Connect) -> psycopg.Connection:
    return connect("postgres")


def rows(session: psycopg.Connection, sql: str) -> list[tuple[Any, ...]]:
    return session.execute(sql).fetchall()


def unit(uid: str, kind: str = "lot", **more: Any) -> Row:
    return {
        "uid": uid, "kind": kind, "carrier": None, "lot_no": None, "amount": None, "uom": None, "about": {}, **more,
    }  # fmt: skip


def edge(child: str, parent: str, **more: Any) -> Row:
    whole = {
        "child": child, "parent": parent, "role": "draw", "layer": None, "position": None, "amount": None, "uom": None,
    }  # fmt: skip
    return whole | more


def a_weighing(**more: Any) -> dict[str, list[Row]]:
    """Two units, one out of the other."""
    lot, charge = str(uuid4()), str(uuid4())
    return {
        "units": [unit(lot, amount=9_000_000_000_000, uom="mg"), unit(charge, "charge", about={"layer": "skin"})],
        "edges": [edge(charge, lot, amount=12_200_000, uom="mg")],
        "touches": [{"role": "read", "unit": charge}],
    } | more  # fmt: skip


def test_the_rows_come_out_of_the_bytes(app: psycopg.Connection) -> None:
    text = body(rows=a_weighing())
    ids = enter(app, text)
    lot, charge = (u["uid"] for u in json.loads(text)["rows"]["units"])
    app.execute("SET CONSTRAINTS ALL IMMEDIATE")
    assert rows(app, "SELECT id, uid::text, amount, uom, about, event FROM unit ORDER BY id") == [
        (ids["unit"][lot], lot, 9_000_000_000_000, "mg", {}, ids["event"]),
        (ids["unit"][charge], charge, None, None, {"layer": "skin"}, ids["event"]),
    ]
    assert rows(app, "SELECT child, parent, n, amount, recorded, xid = pg_current_xact_id() FROM edge") == [
        (ids["unit"][charge], ids["unit"][lot], 0, 12_200_000, MONDAY + timedelta(seconds=2), True)
    ]
    assert rows(app, "SELECT unit, role FROM event_unit") == [(ids["unit"][charge], "read")]
    assert rows(app, "SELECT event, outcome FROM scan") == [(ids["event"], "accepted")]
    assert rows(app, "SELECT body FROM event") == [(text,)]


def test_a_later_event_names_what_is_there(app: psycopg.Connection) -> None:
    first = body(rows=a_weighing())
    made = enter(app, first)
    said = json.loads(first)
    lot, charge = (u["uid"] for u in said["rows"]["units"])
    again = {
        "voids": [{"event": said["uid"], "n": 0}],
        "edges": [edge(charge, lot, amount=5, uom="mg", at=said["happened"], of=said["uid"])],
        "differences": [{"unit": lot, "amount": -3, "uom": "mg", "cause": "fill"}],
        "holds": [{"uid": str(uuid4()), "unit": lot, "rule": "quality"}],
    }
    ids = enter(app, body(kind="corrected", corrects=said["uid"], rows=again))
    assert ids["unit"] == made["unit"]
    assert ids["edges"][0][:2] == [said["uid"], 0]
    assert rows(app, "SELECT v.event, e.event FROM edge_void v JOIN edge e ON e.id = v.edge") == [
        (ids["event"], made["event"])
    ]
    assert rows(app, "SELECT unit, rule FROM hold") == [(made["unit"][lot], "quality")]


def spelt_otherwise(text: str) -> list[str]:
    """The same event in other bytes: what a reader of JSON takes for the same, or for one of two."""
    said = json.loads(text)
    return [
        text + " ",
        " " + text,
        text.replace(":", ": ", 1),
        json.dumps(said),
        json.dumps(_reversed(said), separators=(",", ":")),
        text.replace('"person":"P-014"', '"person":"P-001","person":"P-014"'),
        text.replace('"person":"P-014"', '"person":"\\u0050-014"'),
        text.replace('"offset_min":0', '"offset_min":0.0'),
        text.replace('"offset_min":0', '"offset_min":-0'),
        text.replace('"ver":1', '"ver":1e0'),
        text.replace('"unsure_ms":500', '"unsure_ms":5e2'),
        text.replace('"says":{}', '"says":{"b":1,"a":2}'),
        text.replace('"says":{}', '"says":{"a":1,"a":2}'),
        text.replace('"says":{}', '"says":{"a":[{"c":1,"b":2}]}'),
        text.replace('"says":{}', '"says":{"a":9007199254740992}'),
        text.replace('"says":{}', '"says":{"a":"\\/"}'),
        text.replace('"says":{}', '"says":{"a":"\\u000A"}'),
        text.replace('"says":{}', '"says":{"a":"\\u000a"}'),
        text.replace('"says":{}', '"says":{"\ue000":1,"\U0001f6f6":2}'),
        text.replace('"rules":', '"rules_":'),
        text.replace('"why":null', '"why":null,"zone":1'),
        text.replace('"corrects":null,', ""),
        "[" + text + "]",
        "[]",
        "null",
    ]  # fmt: skip


def test_bytes_that_are_not_canonical_are_refused(app: psycopg.Connection) -> None:
    text = body(rows=a_weighing())
    for other in spelt_otherwise(text):
        assert other != text
        with pytest.raises(REFUSED), app.transaction():
            enter(app, other, scan=the_scan(text))
    for broken in ("", "{", text[:-1], text.replace("{", "", 1), text + "}", text.replace('"', "'")):
        with pytest.raises(psycopg.Error), app.transaction():
            enter(app, broken, scan=the_scan(text))
    assert rows(app, "SELECT count(*) FROM event") == [(0,)]
    enter(app, text)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=6),
    lambda parts: st.lists(parts, max_size=3)
    | st.dictionaries(
        st.text(st.sampled_from("ab\u00e9\ud7ff\ue000\uffff\U00010000\U0010ffff\"\\\n\x1f\x7f"), max_size=3),
        parts, max_size=4,
    ),
    max_leaves=8,
)  # fmt: skip


# What most events say: the door goes through the keys of such an object as they stand.
FLAT = st.dictionaries(
    st.text(st.sampled_from("abB_{}[1\"\\\n\x1f\x7f"), max_size=3), st.text("a}{", max_size=2) | st.none(), min_size=2
)


@settings(max_examples=400, deadline=None)
@given(document=JSON.map(lambda document: [document]) | FLAT, spoil=st.integers(0, 5))
def test_the_database_knows_the_canonical_text(shared_session: psycopg.Connection, document: Any, spoil: int) -> None:
    """Against the RFC 8785 package that trace/chain.py is held against: its text is, another is not."""
    text = canonical(document)
    others = [
        text + " ",
        json.dumps(document, ensure_ascii=True, separators=(",", ":")),
        json.dumps(document, ensure_ascii=False),
        text.replace(",", " ,", 1),
        json.dumps(document, ensure_ascii=False, separators=(",", ":"), sort_keys=True),
        json.dumps(_reversed(document), ensure_ascii=False, separators=(",", ":")),
    ]
    row = shared_session.execute("SELECT is_canonical(%s), is_canonical(%s)", [text, others[spoil]]).fetchone()
    assert row == (True, others[spoil] == canonical(json.loads(others[spoil])))


def _reversed(part: Any) -> Any:
    if isinstance(part, dict):
        return {key: _reversed(part[key]) for key in reversed(part)}
    return [_reversed(x) for x in part] if isinstance(part, list) else part


@pytest.fixture(scope="module")
def shared_session(shared_database: Any) -> Any:
    with shared_database.connect("postgres", autocommit=True) as session:
        yield session


LATER = stamp(MONDAY + timedelta(days=400))
ELSEWHERE = "01957000-0000-7000-8000-00000000000e"


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"kind": "wished"}, "kind wished, version 1, is not known"),
        ({"ver": 99}, "kind weighed, version 99, is not known"),
        ({"ver": "1"}, "is not known"),
        ({"person": None}, "without a person"),
        ({"person": ""}, "without a person"),
        ({"happened": LATER}, "has not happened"),
        ({"rows": {}}, "without rows"),
        ({"rows": []}, "without rows"),
        ({"mode": "wishes"}, "of another sort"),
        ({"says": None}, "of another sort"),
        ({"overrides": []}, "of another sort"),
        ({"rows": {"wishes": [{"x": 1}]}}, "wishes"),
        ({"rows": {"touches": []}}, "touches"),
        ({"rows": {"touches": {}}}, "touches"),
        ({"rows": {"touches": [{"role": "read"}]}}, "touches"),
        ({"rows": {"touches": [{"role": "read", "unit": 1}]}}, "touches"),
        ({"rows": {"touches": [{"role": "read", "unit": None}]}}, "touches"),
        ({"rows": {"touches": [{"role": "read", "id": 1, "unit": ELSEWHERE}]}}, "touches"),
        ({"rows": {"edges": [edge(ELSEWHERE, ELSEWHERE, event=3)]}}, "edges"),
        ({"rows": {"edges": [edge(ELSEWHERE, ELSEWHERE, amount=0, uom="mg")]}}, "edges"),
        ({"rows": {"edges": [edge(ELSEWHERE, ELSEWHERE, amount=-1, uom="mg")]}}, "edges"),
        ({"rows": {"touches": [{"role": "read", "unit": ELSEWHERE}]}}, "a unit that is not recorded here"),
        ({"rows": {"statuses": [{"status": "open", "unit": ELSEWHERE}]}}, "a unit that is not recorded here"),
        ({"rows": {"edges": [edge(ELSEWHERE, ELSEWHERE)]}}, "a unit that is not recorded here"),
        ({"rows": {"voids": [{"event": ELSEWHERE, "n": 0}]}}, "a event that is not recorded here"),
        ({"rows": {"closed": [{"event": ELSEWHERE, "n": 0}]}}, "a event that is not recorded here"),
        ({"rows": {"resources": [{"role": "scale", "thing": "instrument:W-9"}]}}, "a resource that is not recorded"),
        ({"rows": {"hold_releases": [{"hold": ELSEWHERE, "unit": None}]}}, "a hold that is not recorded here"),
        ({"rows": {"cooks": [{"cycle": ELSEWHERE, "position": "1", "unit": ELSEWHERE}]}}, "that is not recorded here"),
        ({"rows": {"statuses": [{"at": "yesterday", "status": "x", "unit": ELSEWHERE}]}}, ""),
        ({"rows": {"statuses": [{"at": "2026-02-30T00:00:00.000000Z", "status": "x", "unit": ELSEWHERE}]}}, ""),
        ({"rows": {"statuses": [{"at": "2026-03-02T06:00:00Z", "status": "x", "unit": ELSEWHERE}]}}, "another form"),
        ({"rows": {"units": [unit(ELSEWHERE, about={"opened": "once"})]}}, "was opened"),
        ({"rows": {"units": [unit("55BDC8EB-5791-464A-9786-EF0044F69C20")]}}, "that is not recorded here"),
        ({"rows": {"erased": [{"note": DIGEST}]}}, "words are to be erased that are not there"),
        ({"station": 3}, "another form"),
    ],
    ids=str,
)
def test_what_no_event_says_is_refused(app: psycopg.Connection, changes: dict[str, Any], why: str) -> None:
    text = body(**changes)
    with pytest.raises(psycopg.Error) as caught, app.transaction():
        enter(app, text)
    assert why in str(caught.value)
    assert rows(app, "SELECT count(*) FROM event") == [(0,)]


def test_an_edge_of_its_own_event_is_not_withdrawn(app: psycopg.Connection) -> None:
    uid = str(uuid4())
    with pytest.raises(REFUSED, match="no earlier event has recorded"), app.transaction():
        enter(app, body(uid=uid, rows=a_weighing(voids=[{"event": uid, "n": 0}])))
    first = body(rows=a_weighing())
    enter(app, first)
    for n in (1, 7):
        with pytest.raises(REFUSED, match="no earlier event has recorded"), app.transaction():
            enter(app, body(rows={"voids": [{"event": json.loads(first)["uid"], "n": n}]}))


def thing(version: int, **more: Any) -> Row:
    whole = {
        "kind": "mould", "key": "M-07", "uid": str(uuid4()) if version == 1 else None, "version": version,
        "body": "{}", "valid_from": stamp(MONDAY),
    }  # fmt: skip
    return whole | more


def test_revisions_follow_one_another_and_hold_from_when_they_are_made(app: psycopg.Connection) -> None:
    def define(*things: Row) -> None:
        with app.transaction():
            enter(app, body(kind="defined", rows={"things": list(things)}))

    wrong = [
        thing(2, uid=str(uuid4())), thing(1, uid=None), thing(1, valid_from=stamp(MONDAY - timedelta(days=900))),
        thing(1, body="[]"), thing(1, body="{"), thing(1, body='{"b":1,"a":2}'), thing(1, body='{"a":1,"a":2}'),
    ]  # fmt: skip
    for one in wrong:
        with pytest.raises(psycopg.Error):
            define(one)
    with pytest.raises(REFUSED, match="things"):
        define(thing(1, kind="wish"))
    define(thing(1))
    for one in (thing(1), thing(3), thing(2, uid=str(uuid4()))):
        with pytest.raises(psycopg.Error):
            define(one)
    define(thing(2))
    assert rows(app, "SELECT version FROM revision ORDER BY id") == [(1,), (2,)]


@pytest.mark.parametrize("seconds", [-3600, -6, 6, 3600])
def test_recorded_is_now(unmarked_database: object, connect: Connect, seconds: int) -> None:
    app, off = connect("app"), timedelta(seconds=seconds)

    def event(now: datetime) -> None:
        with app.transaction(force_rollback=True):
            enter(app, body(happened=stamp(now + off), recorded=stamp(now + off)))

    def scan(now: datetime) -> None:
        text = body(happened=stamp(now), recorded=stamp(now))
        with app.transaction(force_rollback=True):
            enter(app, text, scan=the_scan(text, received=stamp(now + off)))

    def refusal(now: datetime) -> None:
        text = body(happened=stamp(now), recorded=stamp(now))
        refused = the_scan(text, received=stamp(now + off), outcome="refused")
        with app.transaction(force_rollback=True):
            app.execute("SELECT enter_refusal('[]', %s)", [json.dumps(refused)])

    for act in (event, scan, refusal):
        error = soon(act)
        assert isinstance(error, REFUSED), act
        assert "more than 5 s off the clock of the server" in str(error)
    off = timedelta(0)
    assert [soon(act) for act in (event, scan, refusal)] == [None] * 3


@pytest.mark.parametrize(
    "changes",
    [
        {"mode": "asks"},
        {"seq": 7},
        {"install": ELSEWHERE},
        {"outcome": "refused"},
        {"outcome": "wished"},
        {"answer": "[]"},
        {"answer": "yes"},
        {"raw": "10000018"},
        {"raw": canonical({"kind": "received", "overrides": [], "says": {}})},
        {"raw": canonical({"kind": "weighed", "overrides": [], "says": {"box": "2"}})},
        {"raw": canonical({"kind": "weighed", "overrides": ["a"], "says": {}})},
        {"raw": '{"kind":"weighed","overrides":["A","B"] ,"says":{}}'},
        {"raw": '{"kind":"weighed","overrides":[],"says":{}} '},
        {"colour": "red"},
    ],
    ids=str,
)
def test_a_scan_says_what_its_event_says(app: psycopg.Connection, changes: dict[str, Any]) -> None:
    text = body()
    with pytest.raises(psycopg.Error), app.transaction():
        enter(app, text, scan=the_scan(text, **changes))
    less = the_scan(text)
    del less["answer"]
    with pytest.raises(psycopg.Error), app.transaction():
        enter(app, text, scan=less)
    assert rows(app, "SELECT count(*) FROM event") == [(0,)]
    enter(app, text, scan=the_scan(text, raw=canonical({"kind": "weighed", "overrides": ["A-1", "B"], "says": {}})))


def note(text: str, salt: str = SALT) -> Row:
    return {"digest": digest(bytes.fromhex(salt), text), "salt": salt, "text": text}


@pytest.mark.parametrize("text", ["cracked at the bow", "", "œ ß 漢 \U0001f6f6", "x" * 5000])
def test_a_note_is_what_its_digest_says_and_is_named(app: psycopg.Connection, text: str) -> None:
    """The digest of trace/chain.py is HMAC-SHA-256 (RFC 2104), reckoned by Python's own library."""
    for salt in (SALT, "00ff" * 16, "a7" * 64):
        enter(app, body(why=note(text, salt)["digest"]), notes=[note(text, salt)])
    assert rows(app, "SELECT DISTINCT text FROM note") == [(text,)]
    good = note(text)
    for wrong in (
        {**good, "text": text + "?"}, {**good, "digest": sha256(text.encode()).hexdigest()}, {**good, "salt": "5a"},
        {**good, "text": None}, {**good, "erased_by": 1},
    ):  # fmt: skip
        with pytest.raises(psycopg.Error), app.transaction():
            enter(app, body(why=wrong["digest"]), notes=[wrong])
    with pytest.raises(REFUSED, match="named nowhere"), app.transaction():
        enter(app, body(), notes=[note("another")])
    refused = the_scan(body(), outcome="refused")
    with pytest.raises(REFUSED, match="named nowhere"), app.transaction():
        app.execute("SELECT enter_refusal(%s, %s)", [json.dumps([good]), json.dumps(refused)])
    with pytest.raises(REFUSED, match="named nowhere"), app.transaction():
        app.execute("SELECT enter_conflict(%s, 'D', %s, '', '{}')", [json.dumps([good]), uuid4()])


def test_words_are_erased_by_an_event_that_says_so(app: psycopg.Connection) -> None:
    enter(app, body(why=note("a name")["digest"]), notes=[note("a name")])
    erased = {"erased": [{"note": note("a name")["digest"]}]}
    with pytest.raises(psycopg.errors.InsufficientPrivilege), app.transaction():
        enter(app, body(kind="weighed", rows=erased))
    ids = enter(app, body(kind="erased", rows=erased))
    assert rows(app, "SELECT text, erased_by FROM note") == [(None, ids["event"])]
    with pytest.raises(REFUSED, match="were erased before"), app.transaction():
        enter(app, body(kind="erased", rows=erased))
    with pytest.raises(psycopg.errors.InsufficientPrivilege), app.transaction():
        app.execute("UPDATE note SET text = 'back'")
    # What was erased does not come back by being said again.
    enter(app, body(why=note("a name")["digest"]), notes=[note("a name")])
    assert rows(app, "SELECT text FROM note") == [(None,)]


def test_the_same_photo_has_one_size(app: psycopg.Connection) -> None:
    photo = {"sha256": DIGEST, "size": 1, "type": "image/png"}
    for _ in range(2):
        enter(app, body(rows={"blobs": [photo]}))
    for other in ({"size": 2}, {"type": "image/jpeg"}):
        with pytest.raises(REFUSED, match="another size or type"), app.transaction():
            enter(app, body(rows={"blobs": [photo | other]}))


def test_the_door_knows_every_kind_and_part_there_is(superuser: psycopg.Connection) -> None:
    kinds = {kind for kind, _ in rows(superuser, "SELECT kind, ver FROM known_kind")}
    # Words are erased by hand so far: no command does it.
    assert kinds == commands_by_kind().keys() | {"erased"}
    parts = {part for (part,) in rows(superuser, "SELECT part FROM known_part")}
    assert parts == STEPS.keys() | ONLY_TRUTH
    assert set(KINDS) <= kinds
    assert set(PARTS) <= parts
