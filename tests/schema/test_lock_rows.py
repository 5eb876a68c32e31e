"""lock_rows takes read-model rows in one order, so two scans wait for each other but never for ever."""

import random
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from time import sleep
from typing import Any

import psycopg
import pytest
from django.db import connection, transaction

from tests.conftest import AtOnce, Connect
from tests.databases import Database
from tests.schema.facts import add_event

ROUNDS = 40
KEYS = range(1, 7)


@pytest.fixture
def stock(fresh_database: Database, connect: Connect) -> None:
    """Six carriers, moulds, serials and units by number; carrier 1 holds unit 11, mould 2 is loaded with 12,
    serial 3 is on hull 13.
    """
    session = connect("app", autocommit=True)
    holds = {1: 11}, {2: 12}, {3: 13}
    for n in KEYS:
        session.execute("INSERT INTO carrier_state (carrier, content) VALUES (%s, %s)", [n, holds[0].get(n)])
        session.execute(
            """INSERT INTO mould_state (mould, stage, load, shots, since_service, since_vent, since_release)
               VALUES (%s, 'loaded', %s, 0, 0, 0, 0)""",
            [n, holds[1].get(n)],
        )
        session.execute(
            "INSERT INTO serial_state (text, hull, standing) VALUES (%s, %s, 'bound')",
            [f"S{n}", holds[2].get(n)],
        )
        for unit in (n, n + 10):
            session.execute("INSERT INTO unit_state (unit, balance, overdrawn) VALUES (%s, 0, false)", [unit])


def lock(session: psycopg.Connection, *numbers: int, units: tuple[int, ...] = ()) -> datetime:
    row = session.execute(
        "SELECT lock_rows(%s, %s, %s, %s)",
        [list(numbers), list(numbers), [f"S{n}" for n in numbers], list(units)],
    ).fetchone()
    assert row is not None
    moment: datetime = row[0]
    return moment


def is_locked(session: psycopg.Connection, table: str, key: str, value: object) -> bool:
    try:
        session.execute(f"SELECT FROM {table} WHERE {key} = %s FOR UPDATE NOWAIT", [value])
    except psycopg.errors.LockNotAvailable:
        return True
    return False


def test_the_rows_and_what_they_hold_are_locked(stock: None, connect: Connect) -> None:
    holder, other = connect("app"), connect("app", autocommit=True)
    lock(holder, 1, 2, 3, units=(5,))
    for table, key, locked in (
        ("carrier_state", "carrier", {1, 2, 3}),
        ("mould_state", "mould", {1, 2, 3}),
        ("unit_state", "unit", {5, 11, 12, 13}),
    ):
        found = {n for n in (*KEYS, *(k + 10 for k in KEYS)) if is_locked(other, table, key, n)}
        assert found == locked, table
    assert {n for n in KEYS if is_locked(other, "serial_state", "text", f"S{n}")} == {1, 2, 3}
    holder.rollback()
    assert not is_locked(other, "unit_state", "unit", 11)


def test_nothing_to_lock_is_no_error(stock: None, connect: Connect) -> None:
    session = connect("app")
    lock(session)
    lock(session, 999, units=(999,))
    session.execute("SELECT lock_rows(NULL, NULL, NULL, NULL)")


def test_events_are_never_locked(stock: None, connect: Connect) -> None:
    """Another scan may correct or touch the event that made a unit while its rows are locked."""
    holder, other = connect("app"), connect("owner", autocommit=True)
    first = add_event(other)
    lock(holder, *KEYS, units=tuple(KEYS))
    other.execute("SET lock_timeout = '2s'")
    other.execute(
        "INSERT INTO difference (event, unit, amount, uom, cause) SELECT %s, id, 1, 'mg', '' FROM unit",
        [first],
    )
    add_event(other)


def test_the_clock_is_read_when_the_rows_are_held(stock: None, connect: Connect, at_once: AtOnce) -> None:
    """A scan that waited is recorded after the one it waited for."""
    holder, waiter, onlooker = connect("app"), connect("app"), connect("postgres", autocommit=True)
    lock(holder, 1)
    waits = "SELECT count(*) FROM pg_locks WHERE NOT granted AND pid = %s"

    def let_go() -> datetime:
        while onlooker.execute(waits, [waiter.info.backend_pid]).fetchone() == (0,):
            sleep(0.01)
        moment = datetime.now(UTC)
        holder.rollback()
        return moment

    let, got = at_once(let_go, partial(lock, waiter, 1))
    assert got > let


def many_scans(choose: Callable[[random.Random], tuple[str, list[Any]]], seed: int) -> int:
    """Rounds of one scan each, which locks and counts one up; returns how many went through."""
    chance = random.Random(seed)
    for _ in range(ROUNDS):
        sql, values = choose(chance)
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql, values)
            cursor.execute("UPDATE unit_state SET balance = balance + 1 WHERE unit = ANY (%s)", [values[-1]])
    return ROUNDS


def by_lock_rows(chance: random.Random) -> tuple[str, list[Any]]:
    numbers = chance.sample(KEYS, 4)
    units = [chance.choice((n, n + 10)) for n in numbers]
    return (
        "SELECT lock_rows(%s, %s, %s, %s)",
        [numbers[:3], numbers[1:], [f"S{n}" for n in numbers], [*units, *{11, 12, 13}]],
    )


def test_scans_in_any_order_never_stand_still(stock: None, at_once: AtOnce, connect: Connect) -> None:
    done = at_once(*(partial(many_scans, by_lock_rows, seed) for seed in range(4)))
    assert done == [ROUNDS] * 4
    row = connect("postgres").execute("SELECT balance FROM unit_state WHERE unit = 11").fetchone()
    assert row == (4 * ROUNDS,)


def test_without_it_they_do(stock: None, connect: Connect, at_once: AtOnce) -> None:
    """The test of the test: two scans that lock in the order of their own scanning stop each other."""
    one, two = connect("app"), connect("app")
    one.execute("SELECT FROM unit_state WHERE unit = 1 FOR UPDATE")
    two.execute("SELECT FROM unit_state WHERE unit = 2 FOR UPDATE")
    with pytest.raises(psycopg.errors.DeadlockDetected):
        at_once(
            partial(one.execute, "SELECT FROM unit_state WHERE unit = 2 FOR UPDATE"),
            partial(two.execute, "SELECT FROM unit_state WHERE unit = 1 FOR UPDATE"),
        )
