"""Read-model rows in memory: what apply() reads and sets, whether for one scan or for a whole rebuild."""

from collections.abc import Hashable
from dataclasses import dataclass, field
from typing import Any

from plant.kinds.table import PLANT_TABLES

Row = dict[str, Any]

# Table -> its primary key. The order is the order in which a rebuild writes them.
TABLES: dict[str, tuple[str, ...]] = {
    "unit_state": ("unit",),
    "carrier_state": ("carrier",),
    "carrier_log": ("content",),
    "mould_state": ("mould",),
    "instrument_state": ("instrument",),
    "serial_state": ("text",),
    "label_state": ("code",),
    "unit_hold": ("unit", "hold"),
    "place_now": ("unit",),
    "reading": ("event", "n"),
    "discrepancy": ("event", "n"),
    "gap": ("unit", "what", "which"),
    "complaint": ("event",),
    "case_file": ("event",),
    **dict.fromkeys(PLANT_TABLES.values(), ("key",)),
}


def key_of(table: str, row: Row) -> tuple[Hashable, ...]:
    return tuple(row[k] for k in TABLES[table])


@dataclass
class Store:
    """Rows by table and key: of the tables that were loaded. `put` and `drop` remember what changed, so that only that
    is written."""

    rows: dict[str, dict[tuple[Hashable, ...], Row]] = field(default_factory=dict)
    changed: dict[str, dict[tuple[Hashable, ...], Row | None]] = field(default_factory=dict)
    # Keys of the log's rows by carrier: a rebuild asks for them at every filling.
    by_carrier: dict[int, set[tuple[Hashable, ...]]] = field(default_factory=dict)

    def know(self, table: str, row: Row) -> None:
        """A row as it stands in the database; not a change."""
        self._set(table, row)

    def _set(self, table: str, row: Row) -> tuple[Hashable, ...]:
        key = key_of(table, row)
        self.rows.setdefault(table, {})[key] = row
        if table == "carrier_log":
            self.by_carrier.setdefault(row["carrier"], set()).add(key)
        return key

    def log_of(self, carrier: int) -> list[Row]:
        """The rows of one carrier's log, in no order."""
        log = self._read("carrier_log")
        return [log[key] for key in self.by_carrier.get(carrier, ())]

    def get(self, table: str, *key: Hashable) -> Row | None:
        return self._read(table).get(key)

    def all(self, table: str) -> list[Row]:
        return list(self._read(table).values())

    def _read(self, table: str) -> dict[tuple[Hashable, ...], Row]:
        """A table that nobody loaded must not look like one without rows."""
        if table not in self.rows:
            raise LookupError(f"{table} was not loaded: see READ in trace/readmodels/load.py")
        return self.rows[table]

    def put(self, table: str, row: Row) -> None:
        key = self._set(table, row)
        self.changed.setdefault(table, {})[key] = row

    def drop(self, table: str, *key: Hashable) -> None:
        row = self.rows.get(table, {}).pop(key, None)
        if table == "carrier_log" and row is not None:
            self.by_carrier[row["carrier"]].discard(key)
        self.changed.setdefault(table, {})[key] = None

    def puts(self) -> dict[str, list[Row]]:
        found = {t: [r for r in rows.values() if r is not None] for t, rows in self.changed.items()}
        return {t: rows for t, rows in found.items() if rows}

    def drops(self) -> dict[str, list[Row]]:
        found = {
            t: [dict(zip(TABLES[t], key, strict=True)) for key, row in rows.items() if row is None]
            for t, rows in self.changed.items()
        }
        return {t: rows for t, rows in found.items() if rows}


@dataclass
class Ids:
    """Database ids by uid (units, carriers, cycles, holds, events) and by "kind:key" (resources)."""

    unit: dict[str, int] = field(default_factory=dict)
    carrier: dict[str, int] = field(default_factory=dict)
    cycle: dict[str, int] = field(default_factory=dict)
    hold: dict[str, int] = field(default_factory=dict)
    event: dict[str, int] = field(default_factory=dict)
    resource: dict[str, int] = field(default_factory=dict)
    # What an edge void takes back: (event uid, n) -> the edge's id, child, parent, amount, role.
    edge: dict[tuple[str, int], Row] = field(default_factory=dict)
