"""record(): the one way anything is written. One transaction a scan, its first answer kept for ever.

The order of a scan: lock its id; its first answer if it has one; look up the codes; lock what they stand for in
the fixed order; read what holds; let the rules decide; write the event, its rows, the read models and the scan
with its answer in one call. A scan that asks may be refused (the refusal is kept). A scan that tells is recorded
whatever the rules say: flagged, and what it touches is held.
"""

import dataclasses
import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import OperationalError, connection, transaction

from trace.chain import canonical, digest
from trace.codes import storable, uuid7
from trace.readmodels import plantdata
from trace.readmodels.apply import Happening, apply
from trace.readmodels.holds import inherit, rewrite_reach, touched_holds
from trace.readmodels.load import load
from trace.readmodels.ranks import raise_below
from trace.readmodels.rows import Rows, stamp
from trace.recording import floor as floors
from trace.recording.answers import Answer
from trace.recording.base_facts import base_facts
from trace.recording.circles import set_aside
from trace.recording.commands import HANDLERS, By, Command
from trace.recording.draws import LateFactError
from trace.recording.look_ahead import look_ahead
from trace.recording.rules import Finding, evaluate, rule_set
from trace.recording.rules_table import BY_CODE, TABLE
from trace.recording.write import truth_rows, write

GATE = 7_421_001  # advisory lock: shared by every scan, held alone by what rewrites history
RETRIES = 4


class SameIdOtherContentError(Exception):
    """A scan id came again with other content; it is refused and both are kept."""


@dataclass(frozen=True)
class _Attempt:
    command: Command
    by: By
    scan_id: UUID
    fingerprint: str
    says: dict[str, Any]
    notes: dict[str, tuple[str, str]]
    # The command with digests in the place of its words: what a handler puts into rows.
    kept: Command
    alone: bool
    # Called with the name of each point reached; tests break off there. See tests/recording/test_faults.py.
    reach: Callable[[str], None]


def _nowhere(point: str) -> None:
    """The product breaks off nowhere."""


fault_point: Callable[[str], None] = _nowhere


def record(command: Command, by: By) -> Answer:
    """Carry out one command and return its answer; a replay of the same scan returns the first answer.

    Raises SameIdOtherContentError when the scan id was used for something else (kept in scan_conflict), and lets
    a database that cannot answer now raise OperationalError: nothing was recorded then.
    """
    kept, notes = _with_digests(command)
    attempt = _Attempt(
        command,
        by,
        by.scan_id or uuid7(),
        _fingerprint(command, by),
        kept.said(),
        notes,
        kept,
        command.ALONE,
        fault_point,
    )
    for turn in range(RETRIES):
        try:
            with transaction.atomic():
                answer = _record(attempt)
            if answer is None:
                _keep_conflict(attempt)
                raise SameIdOtherContentError(str(attempt.scan_id))
            return answer
        except LateFactError:
            attempt = replace(attempt, alone=True)
        except OperationalError as error:
            # A deadlock victim has recorded nothing: the same scan is simply tried again.
            if getattr(error.__cause__, "sqlstate", "") not in ("40P01", "40001") or turn == RETRIES - 1:
                raise
    raise OperationalError("the scan met a late fact again and again; nothing was recorded")


def _with_digests(command: Command) -> tuple[Command, dict[str, tuple[str, str]]]:
    """The command with every name and free word replaced by a digest, and the notes (salt, text) behind them."""
    notes: dict[str, tuple[str, str]] = {}
    digests: dict[str, str] = {}
    for spec in dataclasses.fields(command):
        text = getattr(command, spec.name)
        if spec.metadata.get("words") and text:
            salt = secrets.token_bytes(16)
            stored = storable(str(text))
            digests[spec.name] = digest(salt, stored)
            notes[digests[spec.name]] = (salt.hex(), stored)
    return replace(command, **digests), notes


def _fingerprint(command: Command, by: By) -> str:
    """What the scan says, apart from how it was sent: the mode and the time of sending are left out."""
    happened = by.happened.astimezone(UTC).isoformat() if by.happened else None
    text = repr(
        (
            command.KIND,
            sorted(command.said().items()),
            by.person,
            by.station,
            happened,
            sorted(by.overrides.items()),
        )
    )
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _record(a: _Attempt) -> Answer | None:
    a.reach("before_lock")
    first, revision = _open_scan(a)
    if first is not None:
        return Answer.again(first[1]) if first[0] == a.fingerprint else None
    plant = plantdata.current(revision)
    sought = floors.seek(a.command, plant)
    clock = floors.lock(sought)
    a.reach("after_lock")
    now = a.by.recorded or clock
    happened = a.by.happened or now
    found, since = floors.read(sought)
    floor = floors.Floor(a.by, plant, happened, now, found, since)
    if a.by.ahead:
        findings, facts = look_ahead(a.command, floor, a.by.ahead, _switched(plant))
    else:
        findings, facts = _decide(a, floor)
    in_force = rule_set(TABLE, _switched(plant))
    refused = [f for f in findings if f.verdict == "refuse" and not _overridden(f, a, floor)]
    if refused and a.by.mode == "asks":
        answer = Answer.refused(refused[0], findings, in_force, facts)
        _write_scan_only(a, answer, now, plant)
        return answer
    if a.by.ahead:
        return Answer("accepted", rules=in_force)
    return _accept(a, floor, findings, refused, in_force, facts)


def _open_scan(a: _Attempt) -> tuple[tuple[str, str] | None, int]:
    """Lock the gate and the scan's id; its first (fingerprint, answer) if it has one, and the newest revision."""
    own = int.from_bytes(
        hashlib.sha256(f"{a.by.device} {a.scan_id}".encode()).digest()[:8], "big", signed=True
    )
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT revision, fingerprint, answer FROM open_scan(%s, %s, %s, %s, %s, %s)",
            [GATE, a.alone, own, a.by.device, a.scan_id, a.by.mode],
        )
        revision, fingerprint, answer = cursor.fetchone()
        return (None if fingerprint is None else (fingerprint, answer)), revision


def _switched(plant: plantdata.Directory) -> dict[str, str]:
    return {
        t.key.removeprefix("rule:"): str(t.body.get("value"))
        for t in plant.of_kind("setting")
        if t.key.startswith("rule:") and not t.ended
    }


def _decide(a: _Attempt, floor: floors.Floor) -> tuple[list[Finding], dict[str, Any]]:
    """What the rules say: the basic ones first, and only when they are silent the rest."""
    switched = _switched(floor.plant)
    facts = base_facts(a.command, floor)
    # What every scan needs (codes that can be read, a time that has come) before anything else can be asked.
    findings = evaluate(TABLE, "", facts, switched, basic=True)
    if findings:
        return findings, facts
    facts |= HANDLERS[type(a.command)].facts(a.command, floor)
    findings = evaluate(TABLE, a.command.KIND, facts, switched, basic=True)
    if not findings:
        findings = evaluate(TABLE, a.command.KIND, facts, switched, basic=False)
    return findings, facts


def _overridden(finding: Finding, a: _Attempt, floor: floors.Floor) -> bool:
    """True when the person's role may let this rule pass, and gave a reason. Fixed rules name no roles."""
    roles = set(floor.plant.body("person", a.by.person).get("roles", []))
    return bool(a.by.overrides.get(finding.code)) and bool(roles & set(finding.override))


def _accept(
    a: _Attempt,
    floor: floors.Floor,
    findings: list[Finding],
    refused: list[Finding],
    in_force: str,
    facts: dict[str, Any],
) -> Answer:
    rows = Rows()
    basic = [f for f in refused if f.basic]
    if basic:
        recorded = "told, but it could not be placed"
        rows.discrepancy(f"told, but: {basic[0].code}")
        _touch_known(rows, floor)
    else:
        recorded = HANDLERS[type(a.command)].act(a.kept, floor, rows)
    held = [f for f in findings if f.verdict == "hold"] + refused
    for finding in refused:
        if not finding.basic:
            rows.discrepancy(f"told, but: {finding.code}")
    for unit in _what_it_made(rows, floor) if held else []:
        rows.hold(unit, held[0].code)
    overrides = {
        f.code: a.by.overrides[f.code] for f in findings if _overridden(f, a, floor) and f.verdict == "refuse"
    }
    answer = Answer.accepted(recorded, findings, held, overrides, in_force, facts, rows)
    _write_all(a, floor, rows, answer, in_force, overrides)
    return answer


def _touch_known(rows: Rows, floor: floors.Floor) -> None:
    """A told fact that could not be placed holds what of it is known."""
    for found in floor.found.values():
        if found.unit is not None:
            rows.touch(found.unit.uid, "told")


def _what_it_made(rows: Rows, floor: floors.Floor) -> list[str]:
    """What a flagged fact holds: the units it made (not packs' insides), else the hull, moulding or load it is about."""
    made = [u["uid"] for u in rows.parts.get("units", []) if u["kind"] not in ("plate", "lot")]
    if made:
        return made
    about: list[str] = []
    for found in floor.found.values():
        if found.load is not None:
            about.append(found.load.uid)
        elif found.hull is not None:
            about.append(found.hull.uid)
        elif found.unit is not None and found.unit.kind in ("moulding", "part", "pack", "charge", "load"):
            about.append(found.unit.uid)
    return list(dict.fromkeys(about))


def _write_all(
    a: _Attempt, floor: floors.Floor, rows: Rows, answer: Answer, in_force: str, overrides: dict[str, str]
) -> None:
    notes = dict(a.notes)
    why = next((a.says[k] for k in ("reason", "hold_reason", "evidence", "remark") if a.says.get(k)), None)
    kept_overrides = {}
    for code, reason in overrides.items():
        salt = secrets.token_bytes(16)
        kept_overrides[code] = digest(salt, reason)
        notes[kept_overrides[code]] = (salt.hex(), reason)
    set_aside(rows, floor.childless())
    corrects = a.says.get("event") if a.command.KIND == "corrected" else None
    uid = str(uuid7())
    body = {
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
    text = canonical(body)
    ids, store, event = load(rows.parts, corrects, _log_start(rows, floor))
    apply(store, Happening(event, body["happened"], body["recorded"]), rows.parts, ids)
    inherit(store, rows.parts, ids)
    a.reach("before_write")
    truth = truth_rows(rows.parts, ids, event, text, notes, floor.now)
    truth["scan"] = [_scan_row(a, answer, floor.now, event)]
    write(truth, store)
    a.reach("after_write")
    dirty = touched_holds(rows.parts, ids, store)
    if dirty:
        rewrite_reach(dirty)
    raise_below(store, ids)
    a.reach("before_commit")


def _log_start(rows: Rows, floor: floors.Floor) -> str:
    starts = [r["from"] for r in rows.parts.get("logs", []) if r["replace"]]
    return min([*starts, stamp(floor.happened)])


def _scan_row(a: _Attempt, answer: Answer, now: datetime, event: int | None) -> dict[str, Any]:
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


def _write_scan_only(a: _Attempt, answer: Answer, now: datetime, plant: plantdata.Directory) -> None:
    truth: dict[str, list[dict[str, Any]]] = {"scan": [_scan_row(a, answer, now, None)]}
    if a.notes:
        truth["note"] = [{"digest": k, "salt": s, "text": t} for k, (s, t) in a.notes.items()]
    write(truth, None)


def _keep_conflict(a: _Attempt) -> None:
    from trace.models import ScanConflict

    with transaction.atomic():
        ScanConflict.objects.create(
            device=a.by.device,
            client_id=a.scan_id,
            fingerprint=a.fingerprint,
            raw=canonical({"kind": a.command.KIND, "says": a.says}),
            received=datetime.now(UTC),
        )


__all__ = ["BY_CODE", "SameIdOtherContentError", "record", "timedelta"]
