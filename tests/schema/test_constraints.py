"""Each check of the records refuses what it is there for, and what counts once is unique."""

from collections.abc import Callable
from typing import Any
from uuid import UUID, uuid4

import psycopg
import pytest
from psycopg.types.json import Jsonb

from tests.conftest import Connect
from tests.schema.facts import a_scan, add_event, add_unit, insert
from trace.models.units import CARRIER_KINDS, EDGE_ROLES, UNIT_KINDS

SAME = UUID("01957000-0000-7000-8000-000000000001")
Row = dict[str, Any]


class Plant:
    """One event and what it made, in a session that is rolled back."""

    def __init__(self, session: psycopg.Connection) -> None:
        self.session = session
        self.event = add_event(session)
        self.lot = add_unit(session, self.event, amount=9_000_000, uom="mg")
        self.load, self.plate = (add_unit(session, self.event, kind) for kind in ("load", "plate"))
        self.carrier = insert(session, "carrier", uid=SAME, kind="tub", event=self.event)
        self.mould = insert(session, "resource", uid=SAME, kind="mould", key="M-07", event=self.event)
        self.cycle = insert(session, "cycle", uid=SAME, number="1", event=self.event)

    def row(self, table: str) -> Row:
        """A row that is right, for the table."""
        rows: dict[str, Row] = {
            "carrier": {"uid": uuid4(), "kind": "tub"},
            "cook": {"cycle": self.cycle, "unit": self.load, "position": "S1"},
            "difference": {"unit": self.lot, "amount": -1, "uom": "mg", "cause": "count"},
            "edge": {"child": self.load, "parent": self.lot, "n": 0, "role": "charge"},
            "label": {"code": "10000018", "carrier": self.carrier},
            "resource": {"uid": uuid4(), "kind": "mould", "key": "M-08"},
            "revision": {"thing": self.mould, "version": 1, "body": "{}", "valid_from": "2026-03-02Z"},
            "serial": {"text": "GHM-T430-1", "plate": self.plate, "format": "plant", "product": "T430"},
            "unit": {"uid": uuid4(), "kind": "lot", "about": Jsonb({})},
            "scan": a_scan(install=SAME, seq=1),
        }
        if table == "unit_state":
            return {"unit": self.lot, "balance": 0, "overdrawn": False}
        return rows[table] | {"event": self.event}

    def add(self, table: str, **changes: Any) -> None:
        with self.session.transaction():
            insert(self.session, table, **self.row(table) | changes)


@pytest.fixture
def plant(connect: Connect) -> Plant:
    return Plant(connect("owner"))


Change = Callable[[Plant], Row]
# (check, table, changes to a right row that are let through, changes that are refused)
CHECKS: list[tuple[str, str, list[Change], list[Change]]] = [
    ("carrier_kind", "carrier", [], [lambda _: {"kind": "boat"}]),
    ("difference_uom", "difference", [lambda _: {"uom": "pc"}], [lambda _: {"uom": "kg"}]),
    (
        "edge_amount_positive",
        "edge",
        [lambda _: {"amount": 1, "uom": "mg"}, lambda _: {"n": 1, "role": "draw"}],
        [lambda _: {"amount": 0, "uom": "mg"}, lambda _: {"amount": -1, "uom": "mg"}],
    ),
    (
        "edge_amount_has_uom",
        "edge",
        [
            lambda _: {"amount": 4, "uom": "pc"},
            lambda _: {"n": 1, "role": "draw", "amount": 900, "uom": "mm"},
        ],
        [lambda _: {"amount": 1}, lambda _: {"uom": "mg"}, lambda _: {"amount": 1, "uom": "g"}],
    ),
    ("edge_not_itself", "edge", [], [lambda p: {"child": p.lot}]),
    ("edge_role", "edge", [], [lambda _: {"role": "mix"}]),
    (
        "label_sticks_to_one_thing",
        "label",
        [
            lambda p: {"carrier": None, "unit": p.lot},
            lambda p: {"code": "2", "carrier": None, "resource": p.mould},
        ],
        [lambda p: {"unit": p.lot}, lambda _: {"carrier": None}, lambda p: {"resource": p.mould}],
    ),
    ("scan_mode", "scan", [lambda _: {"mode": "asks"}], [lambda _: {"mode": "says"}]),
    (
        "scan_outcome",
        "scan",
        [
            lambda _: {"outcome": "warned", "seq": 2},
            lambda _: {"outcome": "flagged", "seq": 3},
            lambda _: {"outcome": "refused", "seq": 4},
        ],
        [lambda _: {"outcome": "safe"}],
    ),
    (
        "stock_not_below_zero",
        "unit_state",
        [
            lambda p: {"unit": p.load, "balance": -1, "overdrawn": True},
            lambda p: {"unit": p.plate, "balance": None},
        ],
        [lambda _: {"balance": -1}],
    ),
    (
        "unit_amount_has_uom",
        "unit",
        [lambda _: {"amount": 1, "uom": "pc"}, lambda _: {"amount": 1, "uom": "mm"}, lambda _: {}],
        [lambda _: {"amount": 1}, lambda _: {"uom": "mg"}, lambda _: {"amount": 1, "uom": "kg"}],
    ),
    ("unit_kind", "unit", [], [lambda _: {"kind": "boat"}]),
]

# What counts once, besides primary keys.
UNIQUE = {
    "account": {"person"},
    "carrier": {"uid"},
    "carrier_state": {"content"},
    "case_file": {"number"},
    "complaint": {"number"},
    "cook": {"cycle, unit", "cycle, position"},
    "cycle": {"uid"},
    "edge": {"event, n", "event, child, parent, role, layer, position"},
    "event": {"uid"},
    "hold": {"uid"},
    "job": {"key"},
    "leaf": {"event"},
    "mould_state": {"load"},
    "resource": {"uid", "kind, key"},
    "revision": {"thing, version"},
    "scan": {"device, client_id, mode", "install, seq, mode"},
    "serial": {"plate"},
    "serial_state": {"hull"},
    "unit": {"uid"},
}
TWICE: list[tuple[str, Row]] = [
    ("cook", {"position": "S2"}),
    ("edge", {"n": 1}),
    ("edge", {"role": "draw"}),
    ("label", {}),
    ("resource", {}),
    ("revision", {"body": '{"a":1}'}),
    ("scan", {"seq": 2}),
    ("scan", {"client_id": uuid4()}),
    ("serial", {"text": "GHM-T430-2"}),
]


@pytest.mark.parametrize(("name", "table", "right", "wrong"), CHECKS, ids=[c[0] for c in CHECKS])
def test_check(plant: Plant, name: str, table: str, right: list[Change], wrong: list[Change]) -> None:
    for changes in wrong:
        with pytest.raises(psycopg.errors.CheckViolation) as refused:
            plant.add(table, **changes(plant))
        assert refused.value.diag.constraint_name == name
    for changes in right or [lambda _: {}]:
        plant.add(table, **changes(plant))


def test_every_check_has_its_attempts(connect: Connect) -> None:
    rows = connect("postgres").execute(
        "SELECT conname FROM pg_constraint WHERE contype = 'c' AND connamespace = 'public'::regnamespace"
    )
    assert {name for (name,) in rows} - {name for name, *_ in CHECKS} == set()


def test_every_kind_and_role_is_let_through(plant: Plant) -> None:
    for kind in CARRIER_KINDS:
        plant.add("carrier", kind=kind)
    for kind in UNIT_KINDS:
        plant.add("unit", kind=kind)
    for n, role in enumerate(EDGE_ROLES):
        plant.add("edge", role=role, n=n)


@pytest.mark.parametrize(("table", "changes"), TWICE)
def test_once_only(plant: Plant, table: str, changes: Row) -> None:
    row = plant.row(table)
    insert(plant.session, table, **row)
    with pytest.raises(psycopg.errors.UniqueViolation):
        insert(plant.session, table, **row | changes)


def test_the_same_scan_asked_and_then_told_is_two(plant: Plant) -> None:
    insert(plant.session, "scan", **(row := plant.row("scan")) | {"mode": "asks", "outcome": "refused"})
    insert(plant.session, "scan", **row)


def test_what_is_unique(connect: Connect) -> None:
    rows = (
        connect("postgres")
        .execute(
            """SELECT relname, string_agg(attname, ', ' ORDER BY k.n), indnullsnotdistinct
           FROM pg_index JOIN pg_class c ON c.oid = indrelid
           CROSS JOIN LATERAL unnest(indkey::int2[]) WITH ORDINALITY AS k(attnum, n)
           JOIN pg_attribute a ON a.attrelid = indrelid AND a.attnum = k.attnum
           WHERE indisunique AND NOT indisprimary AND relnamespace = 'public'::regnamespace
             AND relname !~ '^(auth|django)_' AND relname !~ '^plant_'
           GROUP BY relname, indexrelid, indnullsnotdistinct"""
        )
        .fetchall()
    )
    found: dict[str, set[str]] = {}
    for table, columns, _ in rows:
        found.setdefault(table, set()).add(columns)
    assert found == UNIQUE
    # An edge without a layer or a position counts once too.
    assert [(t, c) for t, c, nulls_count in rows if nulls_count] == [("edge", max(UNIQUE["edge"], key=len))]
