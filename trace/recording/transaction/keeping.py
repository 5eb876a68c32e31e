"""Writes what was decided about a scan: the event with its bytes, its rows and read models, and the scan's answer."""

import secrets
from datetime import UTC, datetime
from typing import Any

from django.db import transaction

from trace.chain import canonical, digest
from trace.codes import storable, uuid7
from trace.readmodels.apply import Happening, apply
from trace.readmodels.holds import inherit, rewrite_reach, touched_holds
from trace.readmodels.load import load
from trace.readmodels.ranks import raise_below
from trace.readmodels.rows import Rows, stamp
from trace.recording.answers import Answer
from trace.recording.floor.standing import Floor, lock_more
from trace.recording.transaction.attempt import Attempt
from trace.recording.transaction.circles import set_aside
from trace.recording.transaction.tables import truth_rows, write


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
    ids, store, event = load(rows.parts, corrects, _log_start(rows, floor))
    apply(store, Happening(event, body["happened"], body["recorded"]), rows.parts, ids)
    inherit(store, rows.parts, ids)
    a.reach("before_write")
    truth = truth_rows(rows.parts, ids, event, text, notes)
    truth["scan"] = [_scan_row(a, answer, floor.now, event)]
    write(truth, store)
    a.reach("after_write")
    dirty = touched_holds(rows.parts, ids, store)
    if dirty:
        rewrite_reach(dirty)
    raise_below(store, ids)
    a.reach("before_commit")


def _log_start(rows: Rows, floor: Floor) -> str:
    starts: list[str] = [r["from"] for r in rows.parts.get("logs", []) if r["replace"]]
    return min([*starts, stamp(floor.happened)])


def _scan_row(a: Attempt, answer: Answer, now: datetime, event: int | None) -> dict[str, Any]:
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
        "event": event,
    }


def write_scan_only(a: Attempt, answer: Answer, now: datetime) -> None:
    truth: dict[str, list[dict[str, Any]]] = {"scan": [_scan_row(a, answer, now, None)]}
    truth |= _notes(a)
    a.reach("before_write")
    write(truth, None)
    a.reach("after_write")
    a.reach("before_commit")


def _notes(a: Attempt) -> dict[str, list[dict[str, Any]]]:
    notes = [{"digest": key, "salt": salt, "text": text} for key, (salt, text) in a.notes.items()]
    return {"note": notes} if notes else {}


def keep_conflict(a: Attempt) -> None:
    # Imported here: a process of a measurement imports record() before Django is set up.
    from trace.models import ScanConflict

    with transaction.atomic():
        write(_notes(a), None)
        ScanConflict.objects.create(
            device=a.by.device,
            client_id=a.scan_id,
            fingerprint=a.fingerprint,
            raw=canonical({"kind": a.command.KIND, "says": a.says}),
            received=datetime.now(UTC),
        )
