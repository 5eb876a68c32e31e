"""Records made by hand, one statement each: the schema is tried here below the one write path."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import psycopg
from psycopg.types.json import Jsonb

from tests.databases import Database
from trace.chain import canonical, leaf_hash

MONDAY = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
DIGEST = "5f" * 32


def stamp(moment: datetime) -> str:
    """The one form of a time in event bytes."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def soon(act: Callable[[datetime], Any]) -> psycopg.Error | None:
    """What `act`, given the present moment, is refused with, None when it goes through: by less than a second later.

    The server's clock goes on meanwhile; on a busy machine it is tried until that was so.
    """
    while True:
        begun, error = time.monotonic(), None
        try:
            act(datetime.now(UTC))
        except psycopg.Error as refusal:
            error = refusal
        if time.monotonic() - begun < 1:
            return error


def body(**changes: Any) -> str:
    """Canonical bytes of an event, recorded on a Monday morning unless `changes` says otherwise."""
    whole: dict[str, Any] = {
        "uid": str(uuid4()),
        "kind": "weighed",
        "found": [],
        "helper": None,
        "mode": "tells",
        "overrides": {},
        "rules": "d963b2443dcb",
        "says": {},
        "ver": 1,
        "happened": stamp(MONDAY),
        "offset_min": 0,
        "unsure_ms": 500,
        "recorded": stamp(MONDAY + timedelta(seconds=2)),
        "install": None,
        "seq": None,
        "person": "P-014",
        "station": "WEIGH-1",
        "corrects": None,
        "why": None,
        "rows": {"discrepancies": [{"kind": "looked at", "unit": None}]},
    }
    return canonical(whole | changes)


def insert(session: psycopg.Connection, table: str, **row: Any) -> Any:
    """Add one row; returns its first column."""
    names = ", ".join(f'"{name}"' for name in row)
    places = ", ".join(["%s"] * len(row))
    found = session.execute(f"INSERT INTO {table} ({names}) VALUES ({places}) RETURNING *", list(row.values()))
    first = found.fetchone()
    assert first is not None
    return first[0]


def add_event(session: psycopg.Connection, **changes: Any) -> int:
    return int(insert(session, "event", body=body(**changes)))


def add_unit(session: psycopg.Connection, event: int, kind: str = "lot", **row: Any) -> int:
    return int(insert(session, "unit", uid=uuid4(), kind=kind, event=event, about=Jsonb({}), **row))


def one_of_each(database: Database) -> None:
    """At least one committed row in every guarded table of a database marked as a demo, put there by the owner."""
    with database.connect("owner") as app:
        event, later = add_event(app), add_event(app)
        carrier = insert(app, "carrier", uid=uuid4(), kind="container", event=event)
        lot = add_unit(app, event, amount=6_000_000_000, uom="mg", carrier=carrier)
        load, plate, hull = (add_unit(app, event, kind) for kind in ("load", "plate", "hull"))
        edge = insert(app, "edge", child=load, parent=lot, event=event, n=0, role="charge", amount=9_000_000, uom="mg")
        insert(app, "edge_void", edge=edge, event=later)
        insert(app, "edge", child=load, parent=lot, event=later, n=0, role="charge", amount=8_000_000, uom="mg")
        insert(app, "difference", event=later, unit=lot, amount=-5_000, uom="mg", cause="fill")
        insert(app, "event_unit", event=event, unit=hull, role="inspected")
        mould = insert(app, "resource", uid=uuid4(), kind="mould", key="M-07", event=event)
        insert(app, "event_resource", event=event, resource=mould, role="mould")
        insert(app, "revision", thing=mould, version=1, body="{}", valid_from=MONDAY, event=event)
        cycle = insert(app, "cycle", uid=uuid4(), number="1", event=event)
        insert(app, "cook", cycle=cycle, unit=load, position="S1", event=event)
        insert(app, "label", code="10000018", carrier=carrier, event=event)
        insert(app, "serial", text="GHM-T430-1", plate=plate, format="plant", product="T430", event=event)
        hold = insert(app, "hold", uid=uuid4(), event=event, unit=lot, rule="quality")
        insert(app, "hold_release", hold=hold, event=later)
        insert(app, "blob", sha256=DIGEST, size=1, type="image/png")
        insert(app, "note", digest=DIGEST, salt="5a", text="cracked at the bow")
        insert(app, "scan", **a_scan(event))
        insert(app, "scan_conflict", device="D1", client_id=uuid4(), fingerprint="b", raw="x", received=MONDAY)
        insert(app, "unit_state", unit=lot, balance=6_000_000_000, overdrawn=False)
    with database.connect("sealer") as sealer:
        sealer.execute("SELECT seal(1, %s, %s, '')", [[event], leaf_hash(b"")])


def a_scan(event: int | None = None, **changes: Any) -> dict[str, Any]:
    """The columns of a scan."""
    whole = {
        "device": "D1",
        "client_id": uuid4(),
        "mode": "tells",
        "raw": "10000018",
        "fingerprint": "a",
        "taken": MONDAY,
        "skew_ms": 0,
        "received": MONDAY,
        "outcome": "accepted",
        "answer": "{}",
        "event": event,
    }
    return whole | changes


def the_scan(event_body: str, **changes: Any) -> dict[str, Any]:
    """The scan that goes with an event's bytes, as the door takes it."""
    said = json.loads(event_body)
    whole = {
        "device": "D1",
        "client_id": str(uuid4()),
        "mode": said["mode"],
        "install": said["install"],
        "seq": said["seq"],
        "raw": canonical({"kind": said["kind"], "overrides": [], "says": said["says"]}),
        "fingerprint": "a",
        "taken": said["happened"],
        "skew_ms": 0,
        "received": said["recorded"],
        "outcome": "accepted",
        "reason": None,
        "answer": "{}",
    }
    return whole | changes


def enter(
    session: psycopg.Connection,
    event_body: str,
    *,
    notes: list[dict[str, Any]] | None = None,
    scan: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """Go through the door; the ids of what the rows name."""
    found = session.execute(
        "SELECT enter_event(%s, %s::jsonb, %s::jsonb)",
        [event_body, json.dumps(notes or []), json.dumps(scan or the_scan(event_body))],
    ).fetchone()
    assert found is not None
    ids: dict[str, Any] = found[0]
    return ids
