"""Times a check of the records (trace/readmodels/checking.py) over many events, each with its own bytes and rows.

The demo's few weeks are told by recording, as a plant tells them, and then written again and again by the server: the
same bytes with other uids, label codes and plate numbers in them, their own leaf hashes, and every row that they name.
So the check has as much to read and to compare for each event as in a plant that has worked for years.
"""

import time
from argparse import ArgumentParser
from collections.abc import Iterator
from typing import Any

import psycopg
from django.core.management.base import CommandError

from trace.demo import story
from trace.measure.cpu import server_cpu
from trace.measure.scratch import scratch_database
from trace.readmodels.checking import check_all

HELP = "a check of all records: seconds for a million events"
TARGET_SECONDS, TARGET_EVENTS = 300, 1_000_000
# Of so many copies each has a label prefix of its own, and so many are written by one statement.
MOST_COPIES, AT_ONCE = 1_500, 50

# What makes a column of a copy out of the column it is copied from. `k` is the copy's number, from 1.
UID = "overlay({0}::text PLACING lpad(to_hex(k.k), 8, '0') FROM 1 FOR 8)::uuid"
UIDS = r"""regexp_replace({0}, '[0-9a-f]{{8}}(-[0-9a-f]{{4}}-[0-9a-f]{{4}}-[0-9a-f]{{4}}-[0-9a-f]{{12}})',
    lpad(to_hex(k.k), 8, '0') || '\1', 'g')"""
ABOUT = UIDS.replace("{0}", "{0}::text") + "::jsonb"
CODE = "to_hex(2560 + k.k) || right({0}, 5)"
BODY = rf"""regexp_replace(regexp_replace({UIDS},
    '"code":"[0-9A-Z]{{{{3}}}}([0-9A-Z]{{{{5}}}})"', '"code":"' || to_hex(2560 + k.k) || '\1"', 'g'),
    '"text":"([^"]+)"', '"text":"\1/' || k.k || '"', 'g')"""
# Columns that name a row of another table, or their own: whose ids they count on from.
NAMED = {
    "event": {"id": "event", "corrects": "event"},
    "carrier": {"id": "carrier", "event": "event"},
    "unit": {"id": "unit", "carrier": "carrier", "event": "event"},
    "edge": {"id": "edge", "child": "unit", "parent": "unit", "event": "event"},
    "edge_void": {"edge": "edge", "event": "event"},
    "difference": {"id": "difference", "unit": "unit", "event": "event"},
    "event_unit": {"unit": "unit", "event": "event"},
    "event_resource": {"event": "event"},
    "cycle": {"id": "cycle", "event": "event"},
    "cook": {"id": "cook", "cycle": "cycle", "unit": "unit", "event": "event"},
    "label": {"carrier": "carrier", "unit": "unit", "event": "event"},
    "serial": {"plate": "unit", "event": "event"},
    "hold": {"id": "hold", "unit": "unit", "event": "event"},
    "hold_release": {"id": "hold_release", "hold": "hold", "unit": "unit", "event": "event"},
    "scan": {"id": "scan", "event": "event"},
    "unit_hold": {"unit": "unit", "hold": "hold"},
}
OTHERWISE = {
    ("event", "uid"): UID, ("event", "install"): UID, ("event", "body"): BODY, ("carrier", "uid"): UID,
    ("unit", "uid"): UID, ("unit", "about"): ABOUT, ("cycle", "uid"): UID, ("hold", "uid"): UID,
    ("scan", "client_id"): UID, ("scan", "install"): UID, ("label", "code"): CODE,
    ("serial", "text"): "{0} || '/' || k.k",
}  # fmt: skip
LEAF = r"UPDATE event SET leaf = sha256('\x00'::bytea || convert_to(body, 'UTF8')) WHERE id > %s"
# Plant data is told once: people, moulds and recipes have no copies.
OF_THE_PLANT = "SELECT event FROM resource UNION SELECT event FROM revision"


def add_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--events", type=int, default=TARGET_EVENTS, help="about so many (default 1000000)")


def run(options: dict[str, Any]) -> Iterator[str]:
    """Lines: what was made, what the check took, and what a million events would take."""
    with scratch_database() as superuser:
        began = time.perf_counter()
        with psycopg.connect(superuser, autocommit=True) as session:
            session.execute('INSERT INTO installation ("only", demo) VALUES (TRUE, TRUE)')
            story.build(lambda *_: None)
            copies(session, options["events"])
        yield f"made in {time.perf_counter() - began:.0f} s"
        yield timed()


def timed() -> str:
    """The check itself, in words; CommandError when it finds anything, since nobody has changed these records."""
    began, own, served = time.perf_counter(), time.process_time(), server_cpu()
    check = check_all()
    took, own, served = time.perf_counter() - began, time.process_time() - own, server_cpu() - served
    if check.differences:
        raise CommandError(f"{check.differences} differences in records that nobody changed: {check.found[:3]}")
    worked = own + served
    whole = worked / max(check.events, 1) * TARGET_EVENTS
    # Beside other work the clock says more of that than of the check: what is judged is the work.
    return (
        f"{check.events} events read again in {took:.1f} s, {own:.1f} s of CPU here, {served:.1f} s of the server's; "
        f"{TARGET_EVENTS} events at this rate {whole:.0f} s of CPU; target {TARGET_SECONDS} s: "
        + ("met" if whole <= TARGET_SECONDS else "NOT met")
    )


def copies(session: psycopg.Connection, events: int) -> None:
    """Write what is recorded again until there are about so many events. The session is a superuser's, in a database
    that nobody keeps; read models but unit_hold stay as they are, as a check of the records reads no other.
    """
    session.execute("SET session_replication_role = replica")
    session.execute("SET synchronous_commit = off")
    for table in NAMED:
        session.execute(f"ALTER TABLE {table} DISABLE TRIGGER ALL")
    session.execute(f"CREATE TEMP TABLE kept AS SELECT id FROM event WHERE id NOT IN ({OF_THE_PLANT})")
    clash = _one(session, "SELECT count(*) - count(DISTINCT right(code, 5)) FROM label WHERE event IN (TABLE kept)")
    base = _one(session, "SELECT count(*) FROM kept")
    count = min(MOST_COPIES, -(-(events - _one(session, "SELECT count(*) FROM event")) // base))
    if clash:
        raise CommandError("Two labels of the demo would have the same copy: measure again.")
    upto = _one(session, "SELECT max(id) FROM event")
    spans = {
        table: _one(session, f"SELECT COALESCE(max(id), 0) FROM {table}")
        for table in {of for named in NAMED.values() for of in named.values()}
    }
    for first in range(1, count + 1, AT_ONCE):
        for table, named in NAMED.items():
            session.execute(_again(session, table, named, spans, first, min(first + AT_ONCE - 1, count)))
    session.execute(LEAF, [upto])
    for table in NAMED:
        session.execute(f"ALTER TABLE {table} ENABLE TRIGGER ALL")
    session.execute("CHECKPOINT")
    session.execute(f"VACUUM ANALYZE {', '.join(NAMED)}")


def _again(
    session: psycopg.Connection, table: str, named: dict[str, str], spans: dict[str, int], first: int, last: int
) -> str:
    """The statement that writes the copies from number `first` to `last` of a table's rows."""
    rows = session.execute(
        "SELECT attname FROM pg_attribute WHERE attrelid = %s::regclass AND attnum > 0 AND NOT attisdropped", [table]
    ).fetchall()
    columns = [f'"{name}"' for (name,) in rows]
    values = []
    for (name,) in rows:
        column = f't."{name}"'
        if name in named:
            column = f"{column} + k.k * {spans[named[name]]}"
        elif (table, name) in OTHERWISE:
            column = OTHERWISE[table, name].format(column)
        elif name == "xid":
            column = "pg_current_xact_id()"
        values.append(column)
    of = "t.hold IN (SELECT id FROM hold WHERE event IN (TABLE kept))" if table == "unit_hold" else ""
    of = of or f"t.{'id' if table == 'event' else 'event'} IN (TABLE kept)"
    return (
        f"INSERT INTO {table} ({', '.join(columns)}) SELECT {', '.join(values)}"
        f" FROM generate_series({first}, {last}) AS k (k), {table} t WHERE {of} ORDER BY k.k"
    )


def _one(session: psycopg.Connection, sql: str) -> int:
    return int(session.execute(sql).fetchall()[0][0])
