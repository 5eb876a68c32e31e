"""The small cast that tests share: the invented plant, told once per run, with a little stock of everything.

It stands on trace/demo: the same plant data and the same story teller (Shift) as the demo. A conftest.py takes the
fixtures by importing them from here. A test that only records and reads takes `cast` (rolled back afterwards); one
that needs commits, threads or a process of its own takes `fresh_database` or `at_once` with `told`, on a clone.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from pytest_django import DjangoDbBlocker

from tests import databases
from tests.databases import Database
from trace.demo.floor import Shift
from trace.recording.answers import Answer
from trace.recording.commands import Command

# The day of the story. The database is marked as a demo, so recorded times may be set: each run is the same day.
MORNING = datetime(2026, 6, 8, 6, 0, tzinfo=UTC)
OPERATOR, SECOND, LEAD, STORES, QUALITY, PACKER, PLANNER, DEPUTY = (
    "P-01", "P-02", "P-03", "P-05", "P-06", "P-07", "P-09", "P-10",
)  # fmt: skip
WO_RED, WO_BUOY, WO_TRIAL, SO_RED = "WO-1041", "WO-1043", "WO-1044", "SO-220"


@dataclass
class Clock:
    """Each look is a minute later."""

    now: datetime = MORNING

    def __call__(self) -> datetime:
        self.now += timedelta(minutes=1)
        return self.now


@dataclass
class Cast:
    """The plant with its stock: `shift` scans, `codes` are the labels by what they stand for."""

    shift: Shift
    clock: Clock
    codes: dict[str, Any] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Any:
        return self.codes[name]

    def scan(self, command: Command, **by: Any) -> Answer:
        return self.shift.scan(command, **by)

    def late(self, command: Command, happened: datetime, **by: Any) -> Answer:
        """Told now, though it happened then."""
        now = self.clock()
        return self.shift.scan(command, **{"mode": "tells", "happened": happened, "recorded": now, **by})

    def charge(self, layer: str, box: str, tub: str, order: str = WO_RED) -> Answer:
        return self.shift.weigh(order, layer, box, tub)

    def moulding(self, mould: str = "T430-01", arm: str = "S1", order: str = WO_RED, red: str = "") -> None:
        """One kayak weighed, loaded and cooked; it waits to be demoulded."""
        tub, foam, inner = self["tubs"][0], self["boxes"][0], self["boxes"][1]
        skin = {WO_RED: red or self["red"], WO_TRIAL: self["teal"]}[order]
        self.charge("skin", skin, tub, order)
        self.charge("foam", self["foam"][0], foam, order)
        self.charge("inner", self["natural"], inner, order)
        self.shift.load(
            mould, order, arm, [tub, foam, inner], [self["m8"], self["m6"]],
            [self["side"], self["side"], self["capacity"]],
        )  # fmt: skip
        self.shift.cook([mould], arm)

    def hull(self, plate: str, mould: str = "T430-01", arm: str = "S1", red: str = "") -> str:
        """A kayak bound to `plate` and passed by inspection; its serial."""
        self.moulding(mould, arm, red=red)
        self.shift.demould_and_bind(mould, plate)
        self.shift.inspect(plate)
        return plate


def plate(n: int) -> str:
    """The number of the n-th kayak plate that the cast has on the floor (1 to 12)."""
    return f"GHM-T430-{4400 + n:06d}"


def buoy_plate(n: int) -> str:
    return f"GHM-B60-{100 + n:06d}"


def tell() -> Cast:
    """Record plant data and stock in the empty database Django points to."""
    clock = Clock()
    shift = Shift(clock=clock, device="cast")
    shift.set_up()
    stock = shift.stock
    codes: dict[str, Any] = {
        "red": stock("VERRIN", "LL-35 red", "V-2288", ("500.00",))[0],
        "red2": stock("VERRIN", "LL-35 red", "V-2291", ("500.00",))[0],
        "teal": stock("VERRIN", "LL-35 teal", "V-2310", ("500.00",))[0],
        "natural": stock("VERRIN", "LL-35", "V-2301", ("500.00",))[0],
        "natural2": stock("VERRIN", "LL-35", "V-2302", ("500.00",))[0],
        "foam": stock("DUNSAY", "FM-22", "F-118", ("100.00", "25.00"), expires="2027-06-30"),
        "m8": stock("MARROW", "M8-N", "N-0398", ("500",))[0],
        "m8b": stock("MARROW", "M8-N", "N-0417", ("500",))[0],
        "m6": stock("MARROW", "M6-S", "N-0355", ("500",))[0],
        "side": stock("PELLAM", "TAMSIN-SIDE C", "G-77", ("200",), expires="2027-06-30")[0],
        "capacity": stock("PELLAM", "CAPACITY A", "G-78", ("200",), expires="2027-06-30")[0],
        "tubs": shift.carriers("tub", 5),
        "boxes": shift.carriers("drop_box", 8),
        "vessels": shift.carriers("vessel", 2),
    }
    shift.check_scale()
    shift.plates("T430", [plate(n) for n in range(1, 13)], "2026-06")
    shift.plates("B60", [buoy_plate(n) for n in range(1, 9)], "2026-06")
    return Cast(shift, clock, codes)


def again(told: Cast) -> Cast:
    """The cast as it was told, with a clock of its own."""
    clock = Clock(told.clock.now)
    return Cast(Shift(clock=clock, device="cast"), clock, told.codes)


# One telling a run, however many folders take these fixtures.
_told: list[tuple[Database, Cast]] = []
_told_shared: list[Database] = []


@pytest.fixture(scope="session")
def told_once(
    django_db_setup: None,
    shared_database: Database,
    templates: tuple[Database, Database],
    django_db_blocker: DjangoDbBlocker,
) -> tuple[Database, Cast]:
    """The database in which the cast was told; only cloned from here on. Dropped with the run's templates."""
    if not _told:
        database = databases.clone(templates[1], "told")
        with databases.pointed_at(database, shared_database, django_db_blocker):
            _told.append((database, tell()))
        _told_shared.append(databases.clone(database, "told_shared", lasting=True))
    return _told[0]


@pytest.fixture(scope="session")
def told_shared(told_once: tuple[Database, Cast]) -> Database:
    """Another, for tests that roll back."""
    return _told_shared[0]


@pytest.fixture
def cast(
    told_once: tuple[Database, Cast],
    told_shared: Database,
    shared_database: Database,
    django_db_blocker: DjangoDbBlocker,
) -> Iterator[Cast]:
    """The cast in a transaction that is rolled back."""
    with databases.rolled_back(told_shared, shared_database, django_db_blocker):
        yield again(told_once[1])


@contextmanager
def gone_on(
    told_once: tuple[Database, Cast], back: Database, blocker: DjangoDbBlocker, more: Callable[[Cast], object]
) -> Iterator[tuple[Database, Cast]]:
    """A database in which `more` was told after the cast, once for the tests of a file; they roll back."""
    with databases.cloned(told_once[0], lasting=True) as database:
        cast = again(told_once[1])
        with databases.pointed_at(database, back, blocker):
            more(cast)
        yield database, cast


@pytest.fixture
def fresh_database(
    told_once: tuple[Database, Cast], shared_database: Database, django_db_blocker: DjangoDbBlocker
) -> Iterator[Database]:
    """In place of the runner's: a clone in which the cast was told, commits last."""
    with (
        databases.cloned(told_once[0]) as database,
        databases.pointed_at(database, shared_database, django_db_blocker),
    ):
        yield database


@pytest.fixture
def told(fresh_database: Database, told_once: tuple[Database, Cast]) -> Cast:
    """The cast on the clone of `fresh_database`."""
    return again(told_once[1])


def statements(work: Callable[[], Any]) -> list[str]:
    """The statements that `work` sends, without those that only mark savepoints."""
    sent: list[str] = []

    def note(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        if not re.match(r"(RELEASE )?SAVEPOINT", sql):
            sent.append(sql)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        work()
    return sent


def rows_of(sql: str, *parameters: Any) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)
        return list(cursor.fetchall())
