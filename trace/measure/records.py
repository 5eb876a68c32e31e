"""Columns of made-up records, and how they are copied into the tables."""

from __future__ import annotations

import random
from array import array
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import lru_cache

import psycopg

START = datetime(2020, 1, 6, 6, 0, tzinfo=UTC)
MG = 1_000_000
LATE, WITHDRAWN = 0.01, 0.005
KINDS = (
    "lot", "content", "charge", "load", "moulding", "plate", "hull", "pack", "consignment", "regrind",
)  # fmt: skip
ROLES = (
    "receive", "heel", "topup", "ingredient", "draw", "charge", "insert", "graphic", "cavity", "bind",
    "plate", "fit", "pack", "ship", "regrind",
)  # fmt: skip
LAYERS = ("", "skin", "foam", "inner", "S1", "S2", "S3", "S4", "PORT", "STARBOARD", "kit")
# An edge as (minute recorded, child, parent, number of role, amount, number of layer).
EdgeRow = tuple[int, int, int, int, int, int]


class Records:
    """Units and edges as columns of numbers: a year of a plant fits in memory.

    A unit's event has the unit's number; an edge belongs to its child's event. An amount from 1 kg up is mg,
    below that pieces. Times are minutes from START.
    """

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)  # noqa: S311 - a seed must give the same plant again
        self.now = 0
        self.kind, self.amount, self.minute = array("b"), array("q"), array("q")
        self.recorded, self.child, self.parent = array("q"), array("q"), array("q")
        self.role, self.mass, self.layer = array("b"), array("q"), array("b")
        self.void: dict[int, int] = {}
        self._late: list[EdgeRow] = []

    def unit(self, kind: str, amount: int = 0) -> int:
        """A new unit (0: no amount); ids count from 1."""
        self.kind.append(KINDS.index(kind))
        self.amount.append(amount)
        self.minute.append(self.now)
        return len(self.kind)

    def edge(self, child: int, parent: int, role: str, mass: int = 0, layer: str = "", *, other: int = 0) -> None:
        """Parent into child. `other` is what a mistake would have put there: then that is withdrawn later."""
        row = (child, parent, ROLES.index(role), mass, LAYERS.index(layer))
        chance = self.rng.random()
        if chance < LATE:
            self._late.append((self.now + self.rng.randrange(30, 3000), *row))
        elif other and other != parent and chance < LATE + 3 * WITHDRAWN:
            self._add((self.now, child, other, *row[2:]))
            self.void[len(self.child)] = self.now + 60
            self._late.append((self.now + 60, *row))
        else:
            self._add((self.now, *row))

    def told_late(self) -> None:
        """Add the edges whose time of recording has come."""
        due = [row for row in self._late if row[0] <= self.now]
        if due:
            self._late = [row for row in self._late if row[0] > self.now]
            for row in sorted(due):
                self._add(row)

    def _add(self, row: EdgeRow) -> None:
        columns = (self.recorded, self.child, self.parent, self.role, self.mass, self.layer)
        for column, value in zip(columns, row, strict=True):
            column.append(value)


def load(session: psycopg.Connection, r: Records, *, whole: bool = False) -> None:
    """Copy the records into empty tables; leave them as a server that has run for long: vacuumed, with statistics.

    `whole`: with lot numbers, carriers and what each unit was made as, for what whole.py adds; else a walk's bare ones.
    """
    with session.cursor() as cursor:
        _copy_events(cursor, r)
        _copy_units(cursor, r, whole=whole)
        if whole:
            _copy_containers(cursor, r)
        _copy_edges(cursor, r)
        _copy_serials(cursor, r)
        if not whole:
            _copy_labels(cursor, r)
        _copy_withdrawals(cursor, r)
    # What is not on the disk yet cannot be marked as seen by all.
    session.execute("CHECKPOINT")
    session.execute("VACUUM ANALYZE event, unit, edge, edge_void, label, serial")


def _copy_events(cursor: psycopg.Cursor, r: Records) -> None:
    """One event for each unit."""
    columns = "id, uid, body, leaf, kind, ver, happened, offset_min, unsure_ms, recorded"
    with cursor.copy(f"COPY event ({columns}) FROM STDIN") as copy:
        for event in _events(r):
            copy.write_row(event)


def _copy_units(cursor: psycopg.Cursor, r: Records, *, whole: bool) -> None:
    """The units; `whole` as in `load`."""
    with cursor.copy("COPY unit (id, uid, kind, amount, uom, about, event, lot_no, carrier) FROM STDIN") as copy:
        for n, kind in enumerate(r.kind, 1):
            amount, said = r.amount[n - 1], KINDS[kind]
            more = _made_as(n, said) if whole else ("{}", n, None, None)
            copy.write_row((n, _uid(r.rng), said, amount or None, _uom(amount), *more))


def _copy_containers(cursor: psycopg.Cursor, r: Records) -> None:
    """A container of its own for each content."""
    with cursor.copy("COPY carrier (id, uid, kind, event) FROM STDIN") as copy:
        for n, kind in enumerate(r.kind, 1):
            if KINDS[kind] == "content":
                copy.write_row((n, _uid(r.rng), "container", n))


def _copy_edges(cursor: psycopg.Cursor, r: Records) -> None:
    """The edges in the order in which they were recorded."""
    columns = "id, child, parent, event, n, role, layer, position, amount, uom, aside, recorded"
    with cursor.copy(f"COPY edge ({columns}) FROM STDIN") as copy:
        for n, child in enumerate(r.child, 1):
            layer, mass = r.layer[n - 1], r.mass[n - 1]
            word = LAYERS[layer] or None
            where = (word, None) if layer < 4 else (None, word)
            row = (n, child, r.parent[n - 1], child, n, ROLES[r.role[n - 1]], *where, mass or None, _uom(mass))
            copy.write_row((*row, "f", _time(r.recorded[n - 1])))


def _copy_serials(cursor: psycopg.Cursor, r: Records) -> None:
    """A number on every plate."""
    with cursor.copy("COPY serial (text, plate, format, product, event) FROM STDIN") as copy:
        for n, kind in enumerate(r.kind, 1):
            if KINDS[kind] == "plate":
                copy.write_row((f"T-{n:09}", n, "plant", "T", n))


def _copy_labels(cursor: psycopg.Cursor, r: Records) -> None:
    """A label on every content and every pack."""
    with cursor.copy("COPY label (code, unit, event) FROM STDIN") as copy:
        for n, kind in enumerate(r.kind, 1):
            if KINDS[kind] in ("content", "pack"):
                copy.write_row((f"{n:08}", n, n))


def _copy_withdrawals(cursor: psycopg.Cursor, r: Records) -> None:
    """The edges that were mistakes, and when each was withdrawn."""
    with cursor.copy("COPY edge_void (edge, event, recorded) FROM STDIN") as copy:
        for edge, at in r.void.items():
            copy.write_row((edge, r.child[edge - 1], _time(at)))


# What the pages and the rules read of a unit: all of one material, or of one model.
BULK = '{"material": "LL-35 red", "supplier": "VERRIN", "colour": "red"}'
MADE = '{"product": "T430", "colour": "red", "order": "WO-1041", "recipe": 1, "mould": "T430-01"}'


def _made_as(n: int, kind: str) -> tuple[str, int, str | None, int | None]:
    """about, event, lot number and carrier of unit number n."""
    about = "{}"
    if kind in ("lot", "content", "charge", "regrind"):
        about = BULK
    elif kind in ("load", "moulding", "hull"):
        about = MADE
    return about, n, f"L-{n}" if kind == "lot" else None, n if kind == "content" else None


def _uom(amount: int) -> str | None:
    return None if not amount else "mg" if amount >= MG else "pc"


def _events(r: Records) -> Iterator[tuple[object, ...]]:
    for n, minute in enumerate(r.minute, 1):
        uid, at = _uid(r.rng), _time(minute)
        times = f'"happened":"{at}","kind":"made","offset_min":0,"recorded":"{at}"'
        body = f'{{{times},"rows":{{}},"says":{{}},"uid":"{uid}","ver":1}}'
        yield n, uid, body, b"\x00" * 32, "made", 1, at, 0, 0, at


def _uid(rng: random.Random) -> str:
    return f"{rng.getrandbits(128):032x}"


@lru_cache(maxsize=10_000)
def _time(minute: int) -> str:
    return (START + timedelta(minutes=minute)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
