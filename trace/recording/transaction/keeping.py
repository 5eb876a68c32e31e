"""Writes what was decided about a scan: the event by its bytes, the read models, and the scan's answer."""

import json
import secrets
from datetime import datetime
from typing import Any

from django.db import connection, transaction

from trace.chain import canonical, digest
from trace.codes import storable, uuid7
from trace.genealogy.prepared import fetch_rows
from trace.readmodels.apply import Happening, apply
from trace.readmodels.holds import inherit, rewrite_reach, touched_holds
from trace.readmodels.load import enter, note_rows
from trace.readmodels.rows import Rows, stamp
from trace.readmodels.store import Store
from trace.recording.answers import Answer
from trace.recording.floor.standing import Floor, lock_more
from trace.recording.transaction.attempt import Attempt
from trace.recording.transaction.circles import set_aside


def write_all(a: Attempt, floor: Floor, rows: Rows, answer: Answer, in_force: str, overrides: dict[str, str]) -> None:
    notes = dict(a.notes)
    why = next((a.says[k] for k in ("reason", "hold_reason", "evidence", "remark") if a.says.get(k)), None)
    kept_overrides = {}
    for code, reason in overrides.items():
        salt = secrets.token_bytes(16)
        kept_overrides[code] = digest(salt, storable(reason))
        notes[kept_overrides[code]] = (salt.hex(), storable(reason))
    set_aside(rows, floor.childless())
    corrects = a.says.get("event") if a.command.KIND == "corrected" else None
    uid = str(uuid7())
    body: dict[str, Any] = {
        "uid": uid,
        "kind": a.command.KIND,
        "ver": 1,
        "happened": stamp(floor.happened),
        "offset_min": a.by.offset_min,
        "unsure_ms": a.by.unsure_ms,
        "recorded": stamp(floor.now),
        "install": str(a.by.install) if a.by.install else None,
        "seq": a.by.seq,
        "person": a.by.person,
        "helper": a.by.helper or None,
        "station": a.by.station or None,
        "mode": a.by.mode,
        "corrects": corrects,
        "why": why,
        "rules": in_force,
        "found": answer.found,
        "overrides": kept_overrides,
        "says": a.says,
        "rows": rows.parts,
    }
    if floor.plant.get("person", a.by.person):
        rows.resource("person", a.by.person, "person")
    more = rows.changed_units() - floor.locked(a.command.LOCKS_WAITING)
    if more and not a.alone:
        lock_more(more)
    text = canonical(body)
    a.reach("before_write")
    ids, store, event = enter(text, rows.parts, notes, _scan_row(a, answer, floor.now), _log_start(rows, floor))
    apply(store, Happening(event, body["happened"], body["recorded"]), rows.parts, ids)
    inherit(store, rows.parts, ids)
    write(store)
    a.reach("after_write")
    dirty = touched_holds(rows.parts, ids, store)
    if dirty:
        rewrite_reach(dirty)
    a.reach("before_commit")


def _log_start(rows: Rows, floor: Floor) -> str:
    starts: list[str] = [r["from"] for r in rows.parts.get("logs", []) if r["replace"]]
    return min([*starts, stamp(floor.happened)])


def write(store: Store) -> None:
    """The read-model rows that changed, in one call."""
    rows = json.dumps({"put": store.puts(), "drop": store.drops()})
    fetch_rows("SELECT write_rows(%(rows)s::jsonb)::text", {"rows": rows})


def _scan_row(a: Attempt, answer: Answer, now: datetime) -> dict[str, Any]:
    raw = canonical({"kind": a.command.KIND, "says": a.says, "overrides": sorted(a.by.overrides)})
    return {
        "device": a.by.device,
        "client_id": str(a.scan_id),
        "mode": a.by.mode,
        "install": str(a.by.install) if a.by.install else None,
        "seq": a.by.seq,
        "raw": raw,
        "fingerprint": a.fingerprint,
        "taken": stamp(a.by.happened or now),
        "skew_ms": a.by.skew_ms,
        "received": stamp(now),
        "outcome": answer.outcome,
        "reason": answer.code or None,
        "answer": answer.text(),
    }


def write_scan_only(a: Attempt, answer: Answer, now: datetime) -> None:
    a.reach("before_write")
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT enter_refusal(%s::jsonb, %s::jsonb)",
            [json.dumps(note_rows(a.notes)), json.dumps(_scan_row(a, answer, now))],
        )
    a.reach("after_write")
    a.reach("before_commit")


def keep_conflict(a: Attempt) -> None:
    raw = canonical({"kind": a.command.KIND, "says": a.says})
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "SELECT enter_conflict(%s::jsonb, %s, %s, %s, %s)",
            [json.dumps(note_rows(a.notes)), a.by.device, a.scan_id, a.fingerprint, raw],
        )
