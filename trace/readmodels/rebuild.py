"""Empties the read models and builds them again from the events' own bytes, and tells where the two differ."""

import json
from collections.abc import Callable

from django.db import connection, transaction

from trace.readmodels.apply import Happening, apply
from trace.readmodels.gate import alone
from trace.readmodels.holds import WAITING, write_reach
from trace.readmodels.store import TABLES, Ids, Row, Store

CHUNK = 2_000
# Event versions that apply() reads; an older one is brought up to date here, before it, once there is a newer.
VERSIONS = (1,)


def dump() -> dict[str, list[str]]:
    """Every read-model table as text rows in the order of its key: what a comparison compares."""
    found = {}
    with connection.cursor() as cursor:
        for table, key in TABLES.items():
            # What a job has still to write is no difference.
            still = f"WHERE hold NOT IN ({WAITING})" if table == "unit_hold" else ""
            cursor.execute(f"SELECT t::text FROM {table} t {still} ORDER BY {', '.join(f't.{k}' for k in key)}")
            found[table] = [text for (text,) in cursor.fetchall()]
    return found


def rebuild(progress: Callable[[int, int], None] | None = None) -> int:
    """Build all read models anew in one transaction; the number of events read. `progress(done, total)` is told.

    Raises ValueError when an event holds a part that no read model knows, or a version that this program cannot read.
    """
    with transaction.atomic():
        alone()
        ids = _all_ids()
        store = Store(rows={table: {} for table in TABLES})
        count = _fold(store, ids, progress)
        _replace_all(store)
        with connection.cursor() as cursor:
            cursor.execute("SELECT id FROM hold ORDER BY id")
            holds = [id_ for (id_,) in cursor.fetchall()]
        if holds:
            write_reach(holds)
    return count


def differences(progress: Callable[[int, int], None] | None = None) -> list[str]:
    """Where the read models differ from what the events say, one line a table; nothing is changed."""
    found = []
    with transaction.atomic():
        alone()
        before = dump()
        rebuild(progress)
        after = dump()
        transaction.set_rollback(True)
    for table in TABLES:
        missing, extra = set(after[table]) - set(before[table]), set(before[table]) - set(after[table])
        if missing or extra:
            first = sorted(extra or missing)[0]
            found.append(f"{table}: {len(extra)} rows that events do not give, {len(missing)} missing; first {first}")
    return found


def _all_ids() -> Ids:
    ids = Ids()
    with connection.cursor() as cursor:
        for table in ("unit", "carrier", "cycle", "hold", "event"):
            cursor.execute(f"SELECT uid::text, id FROM {table}")
            getattr(ids, table).update(cursor.fetchall())
        cursor.execute("SELECT kind || ':' || key, id FROM resource")
        ids.resource.update(cursor.fetchall())
        cursor.execute(
            "SELECT v.uid::text, e.n, e.id, e.child, e.parent, e.amount, e.role, e.aside"
            "  FROM edge_void d JOIN edge e ON e.id = d.edge JOIN event v ON v.id = e.event"
        )
        for uid, n, id_, child, parent, amount, role, aside in cursor.fetchall():
            ids.edge[(uid, n)] = {
                "id": id_, "child": child, "parent": parent, "amount": amount, "role": role, "aside": aside,
            }  # fmt: skip
    return ids


def _fold(store: Store, ids: Ids, progress: Callable[[int, int], None] | None) -> int:
    total = len(ids.event)
    done = 0
    last = 0
    while True:
        with connection.cursor() as cursor:
            cursor.execute("SELECT id, body FROM event WHERE id > %s ORDER BY id LIMIT %s", [last, CHUNK])
            batch = cursor.fetchall()
        if not batch:
            return done
        for id_, body in batch:
            said = json.loads(body)
            if said["ver"] not in VERSIONS:
                raise ValueError(f"event {said['uid']} is of version {said['ver']}, which this program cannot read")
            apply(store, Happening(id_, said["happened"], said["recorded"]), said["rows"], ids)
            last, done = id_, done + 1
        if progress is not None:
            progress(done, total)


def _replace_all(store: Store) -> None:
    with connection.cursor() as cursor:
        for table in reversed(TABLES):
            cursor.execute(f"DELETE FROM {table}")
        for table in TABLES:
            rows: list[Row] = store.all(table)
            for start in range(0, len(rows), CHUNK):
                cursor.execute(
                    "SELECT write_rows(%s::jsonb)",
                    [json.dumps({"put": {table: rows[start : start + CHUNK]}})],
                )
