"""One attempt to record a scan: what it says, its digests and its fingerprint, and the answer it may have already."""

import hashlib
import json
import secrets
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from django.db import connection

from trace.chain import digest
from trace.codes import storable, uuid7
from trace.genealogy.prepared import fetch_rows
from trace.recording.commands import By, Command, fields_of
from trace.recording.floor.standing import Known


@dataclass(frozen=True)
class Attempt:
    """`says`: the command's fields with digests for words; `kept`: the same as a command, what a handler puts into
    rows; `notes`: digest -> (salt in hex, text). `known`: what the codes stand for, as far as it was looked up. `reach`
    is called with the name of each point reached."""

    command: Command
    by: By
    scan_id: UUID
    fingerprint: str
    says: dict[str, Any]
    notes: dict[str, tuple[str, str]]
    kept: Command
    alone: bool
    known: Known | None
    reach: Callable[[str], None]


def with_digests(command: Command, by: By, known: Known | None, reach: Callable[[str], None]) -> Attempt:
    """The attempt, with every name and free word of the command replaced by a digest.

    What no database can hold (U+0000, half a character) is replaced in every field first: a fact is not lost by it.
    """
    command = replace(command, **{s.name: _storable(getattr(command, s.name)) for s in fields_of(command)})
    notes: dict[str, tuple[str, str]] = {}
    digests: dict[str, str] = {}
    words = words_of(command)
    for name, text in words.items():
        salt = secrets.token_bytes(16)
        digests[name] = digest(salt, text)
        notes[digests[name]] = (salt.hex(), text)
    kept = replace(command, **digests)
    scan_id = by.scan_id or uuid7()
    said = kept.said()
    fingerprint = _fingerprint(command.KIND, {name: said[name] for name in said if name not in words}, by)
    return Attempt(command, by, scan_id, fingerprint, said, notes, kept, command.ALONE, known, reach)


def _storable(value: Any) -> Any:
    if isinstance(value, str):
        return storable(value)
    if isinstance(value, dict):
        return {_storable(k): _storable(v) for k, v in value.items()}
    return tuple(_storable(v) for v in value) if isinstance(value, tuple) else value


def words_of(command: Command) -> dict[str, str]:
    """The names and free words in a command, as they are stored, by field."""
    found = {}
    for spec in fields_of(command):
        if spec.metadata.get("words") and (text := getattr(command, spec.name)):
            found[spec.name] = storable(str(text))
    return found


def _fingerprint(kind: str, said: dict[str, Any], by: By) -> str:
    """What the scan says, apart from how and when it was sent. Words are left out of `said`: whoever has the database
    could try names until one fits, also after they were erased; same_words() compares them."""
    text = json.dumps([kind, said, by.person, by.helper, by.station, sorted(by.overrides)], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


OPEN = """
SELECT revision, fingerprint, answer
  FROM open_scan(%(alone)s::boolean, %(own)s::bigint, %(device)s::text, %(scan)s::uuid, %(mode)s::text)
"""


def open_scan(a: Attempt) -> tuple[tuple[str, str] | None, int]:
    """Lock the gate and the scan's id; its first (fingerprint, answer) if it has one, and the newest revision.

    A fact told after a refused ask under the same id has no answer yet; what was recorded has, in either mode.
    """
    own = int.from_bytes(
        hashlib.sha256(f"{a.by.device} {a.scan_id}".encode("utf-8", "replace")).digest()[:8], "big", signed=True
    )
    values = {"alone": a.alone, "own": str(own), "device": a.by.device, "scan": a.scan_id, "mode": a.by.mode}
    revision, fingerprint, answer = fetch_rows(OPEN, values)[0]
    return (None if fingerprint is None else (fingerprint, answer)), revision


def other_asked(a: Attempt) -> bool:
    """True when something else was asked under this id and refused: what is told now is not what was asked then."""
    if a.by.mode != "tells" or a.by.scan_id is None:
        return False
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT raw FROM scan WHERE device = %s AND client_id = %s AND mode = 'asks' AND event IS NULL",
            [a.by.device, a.scan_id],
        )
        row = cursor.fetchone()
    if row is None:
        return False
    asked, words = json.loads(row[0]), words_of(a.command)
    first, now = ({k: v for k, v in says.items() if k not in words} for says in (asked["says"], a.says))
    return (asked["kind"], first) != (a.command.KIND, json.loads(json.dumps(now)))


def same_words(a: Attempt) -> bool:
    """True when the words recorded under this scan's id are the same, as far as they were not erased."""
    words = words_of(a.command)
    if not any(s.metadata.get("words") for s in fields_of(a.command)):
        return True
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT raw FROM scan WHERE device = %s AND client_id = %s AND (mode = %s OR event IS NOT NULL)
                ORDER BY event LIMIT 1""",
            [a.by.device, a.scan_id, a.by.mode],
        )
        first = json.loads(cursor.fetchone()[0])["says"]
        fields = {s.name for s in fields_of(a.command) if s.metadata.get("words") and first.get(s.name)}
        if fields != set(words):
            return False
        cursor.execute("SELECT digest, salt, text FROM note WHERE digest = ANY (%s)", [[first[f] for f in fields]])
        notes = {key: (salt, text) for key, salt, text in cursor.fetchall()}
    for name in fields:
        salt, text = notes[first[name]]
        if text is not None and digest(bytes.fromhex(salt), words[name]) != first[name]:
            return False
    return True
