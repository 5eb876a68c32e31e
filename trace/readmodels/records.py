"""Makes every row of every event again from its bytes and names each row of the truth that is not as they say.

Slice by slice, so that it stops nobody: records are only added, and what was recorded after the check began is left to
the next one. What belongs to no single event (holds in force, notes, photos, the seal) is looked at when all is
through.
"""

import json
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import connection

from trace.chain import digest, root_of_hashes
from trace.genealogy.prepared import fetch_rows
from trace.readmodels.derived import KEYS, Derived, derived, is_canonical
from trace.readmodels.holds import REACH, WAITING
from trace.readmodels.rebuild import VERSIONS

SLICE = 2_000

# Table -> its stored rows of a slice of events: the event's id, then the parts of a row as derived.py gives them.
OF_SLICE = "BETWEEN %(first)s AND %(last)s"
STORED = {
    "event": """SELECT e.id, e.uid::text, e.kind, e.ver, e.happened, e.recorded, e.offset_min, e.unsure_ms,
                       e.install::text, e.seq, e.person, e.station, c.uid::text, e.why, e.leaf
                  FROM event e LEFT JOIN event c ON c.id = e.corrects WHERE e.id""",
    "resource": "SELECT event, kind, key, uid::text FROM resource WHERE event",
    "revision": """SELECT v.event, r.kind, r.key, v.version, v.body, v.valid_from
                     FROM revision v JOIN resource r ON r.id = v.thing WHERE v.event""",
    "carrier": "SELECT event, uid::text, kind FROM carrier WHERE event",
    "unit": """SELECT u.event, u.uid::text, c.uid::text, u.kind, u.lot_no, u.amount, u.uom, u.about::text
                 FROM unit u LEFT JOIN carrier c ON c.id = u.carrier WHERE u.event""",
    "edge": """SELECT e.event, e.n, c.uid::text, p.uid::text, e.role, e.layer, e.position, e.amount, e.uom, e.aside,
                      e.recorded
                 FROM edge e JOIN unit c ON c.id = e.child JOIN unit p ON p.id = e.parent WHERE e.event""",
    "edge_void": """SELECT v.event, o.uid::text, e.n, v.recorded
                      FROM edge_void v JOIN edge e ON e.id = v.edge JOIN event o ON o.id = e.event WHERE v.event""",
    "difference": """SELECT d.event, u.uid::text, d.cause, d.amount, d.uom
                       FROM difference d JOIN unit u ON u.id = d.unit WHERE d.event""",
    "event_unit": "SELECT x.event, u.uid::text, x.role FROM event_unit x JOIN unit u ON u.id = x.unit WHERE x.event",
    "event_resource": """SELECT x.event, r.kind || ':' || r.key, x.role
                           FROM event_resource x JOIN resource r ON r.id = x.resource WHERE x.event""",
    "cycle": "SELECT event, uid::text, number FROM cycle WHERE event",
    "cook": """SELECT k.event, y.uid::text, u.uid::text, k.position
                 FROM cook k JOIN cycle y ON y.id = k.cycle JOIN unit u ON u.id = k.unit WHERE k.event""",
    "label": """SELECT l.event, l.code, c.uid::text, u.uid::text, r.kind || ':' || r.key
                  FROM label l LEFT JOIN carrier c ON c.id = l.carrier LEFT JOIN unit u ON u.id = l.unit
                  LEFT JOIN resource r ON r.id = l.resource WHERE l.event""",
    "serial": """SELECT s.event, s.text, u.uid::text, s.format, s.product, s.month
                   FROM serial s JOIN unit u ON u.id = s.plate WHERE s.event""",
    "hold": "SELECT h.event, h.uid::text, u.uid::text, h.rule FROM hold h JOIN unit u ON u.id = h.unit WHERE h.event",
    "hold_release": """SELECT x.event, h.uid::text, u.uid::text
                         FROM hold_release x JOIN hold h ON h.id = x.hold LEFT JOIN unit u ON u.id = x.unit
                        WHERE x.event""",
}


@dataclass(frozen=True)
class Difference:
    """One thing that is not as the bytes say. what: missing, extra, changed or wrong; event: the uid, "" for none."""

    what: str
    table: str
    event: str
    row: str

    def __str__(self) -> str:
        return f"{self.table}: {self.what}, {self.row}" + (f" (event {self.event})" if self.event else "")


def newest_event() -> int:
    """The id of the newest event; 0 when there is none."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT COALESCE(max(id), 0) FROM event")
        return int(cursor.fetchone()[0])


def check_slice(after: int, upto: int, size: int = SLICE) -> tuple[int, int, list[Difference]]:
    """Look at the next events after one id, at most to another; the last id looked at (`upto` when all is through), how
    many events that were, and what differs."""
    events = fetch_rows(
        """SELECT id, body FROM event WHERE id > %(after)s::bigint AND id <= %(upto)s::bigint
            ORDER BY id LIMIT %(size)s::int""",
        {"after": after, "upto": upto, "size": size},
    )
    if not events:
        return upto, 0, []
    found: list[Difference] = []
    want: dict[str, dict[int, list[Derived]]] = {table: defaultdict(list) for table in KEYS}
    uids: dict[int, str] = {}
    for event, body in events:
        try:
            said = json.loads(body)
            uids[event] = said["uid"]
            if said["ver"] not in VERSIONS or not is_canonical(body, said):
                found.append(Difference("wrong", "event", said["uid"], "its bytes are of another form or version"))
            for table, of, row in derived(event, said, body):
                want[table][of].append(row)
        except (ValueError, LookupError, TypeError, AttributeError) as error:
            uid = uids.get(event, str(event))
            found.append(Difference("wrong", "event", uid, f"its bytes cannot be read: {error}"))
    slice_ = {"first": events[0][0], "last": events[-1][0]}
    for table, sql in STORED.items():
        have: dict[int, list[Derived]] = defaultdict(list)
        for row in fetch_rows(f"{sql} BETWEEN %(first)s::bigint AND %(last)s::bigint", slice_):
            have[row[0]].append(_stored(table, row[1:]))
        found += _differences(table, want[table], have, uids)
    found += _of_other_transactions(slice_, uids)
    return events[-1][0], len(events), found


def _stored(table: str, row: Derived) -> Derived:
    if table == "unit":
        return (*row[:-1], json.dumps(json.loads(row[-1]), sort_keys=True, separators=(",", ":")))
    return row


def _differences(
    table: str, want: dict[int, list[Derived]], have: dict[int, list[Derived]], uids: dict[int, str]
) -> Iterator[Difference]:
    """A row that is in both under one key, but not alike, was changed; the rest is missing or extra."""
    for event in want.keys() | have.keys():
        if want.get(event) == have.get(event):
            continue
        missing, extra = list(want.get(event, ())), []
        for row in have.get(event, ()):
            if row in missing:
                missing.remove(row)
            else:
                extra.append(row)
        uid = uids.get(event, str(event))
        key = KEYS[table]
        changed = {row[:key] for row in missing} & {row[:key] for row in extra}
        yield from (Difference("changed", table, uid, _shown(row)) for row in extra if row[:key] in changed)
        yield from (Difference("missing", table, uid, _shown(row)) for row in missing if row[:key] not in changed)
        yield from (Difference("extra", table, uid, _shown(row)) for row in extra if row[:key] not in changed)


def _shown(row: Sequence[Any]) -> str:
    return " ".join("-" if part is None else str(part) for part in row if not isinstance(part, bytes))[:200]


def _of_other_transactions(slice_: dict[str, int], uids: dict[int, str]) -> Iterator[Difference]:
    """Edges of one event were written by one transaction: one that came later was not written with it."""
    rows = fetch_rows(
        """SELECT event, count(DISTINCT xid::text) FROM edge WHERE event BETWEEN %(first)s::bigint AND %(last)s::bigint
            GROUP BY event HAVING count(DISTINCT xid::text) > 1""",
        slice_,
    )
    for event, count in rows:
        yield Difference("wrong", "edge", uids.get(event, str(event)), f"written by {count} transactions, not by one")


def check_rest() -> list[Difference]:
    """What belongs to no single event."""
    return [*_scans(), *_holds(), *_notes(), *_blobs(), *_seal()]


def _rows(sql: str, parameters: dict[str, Any] | None = None) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)
        return list(cursor.fetchall())


def _scans() -> Iterator[Difference]:
    """Each event came by one scan, and a scan that was refused has none."""
    for uid, count in _rows(
        """SELECT e.uid::text, count(s.id) FROM event e LEFT JOIN scan s ON s.event = e.id
            GROUP BY e.id HAVING count(s.id) <> 1"""
    ):
        yield Difference("wrong", "scan", uid, f"the event has {count} scans, not one")
    for (scan,) in _rows("SELECT client_id::text FROM scan WHERE (outcome = 'refused') <> (event IS NULL)"):
        yield Difference("wrong", "scan", "", f"the outcome of scan {scan} does not fit its event")


def _holds() -> Iterator[Difference]:
    """Every unit that an open hold reaches is under it, and no other is: what stands in unit_hold."""
    open_ = [hold for (hold,) in _rows(f"SELECT id FROM hold WHERE id NOT IN ({WAITING})")]
    for what, sql in (
        ("missing", "SELECT hold, unit FROM r EXCEPT SELECT hold, unit FROM unit_hold"),
        ("extra", f"SELECT hold, unit FROM unit_hold WHERE hold NOT IN ({WAITING}) EXCEPT SELECT hold, unit FROM r"),
    ):
        named = f"""{REACH} SELECT h.uid::text, u.uid::text, e.uid::text FROM ({sql}) AS x JOIN hold h ON h.id = x.hold
                      JOIN unit u ON u.id = x.unit JOIN event e ON e.id = h.event"""
        for hold, unit, event in _rows(named, {"holds": open_}):
            yield Difference(what, "unit_hold", event, f"{hold} {unit}")


def _notes() -> Iterator[Difference]:
    """Words are what their digest says, and were emptied by an event that says so."""
    for key, salt, text in _rows("SELECT digest, salt, text FROM note WHERE text IS NOT NULL"):
        try:
            right = digest(bytes.fromhex(salt), text) == key
        except ValueError:
            right = False
        if not right:
            yield Difference("changed", "note", "", key)
    for key, event in _rows(
        """SELECT n.digest, e.uid::text FROM note n LEFT JOIN event e ON e.id = n.erased_by
            WHERE n.text IS NULL AND (e.kind = 'erased' AND e.body::jsonb->'rows'->'erased'
              @> jsonb_build_array(jsonb_build_object('note', n.digest))) IS NOT TRUE"""
    ):
        yield Difference("wrong", "note", event or "", f"{key} was emptied by no event that says so")


def _blobs() -> Iterator[Difference]:
    """Every photo is named by an event, with its size and type."""
    for sha256, size, kind in _rows(
        """SELECT sha256, size, type FROM blob EXCEPT
           SELECT x->>'sha256', (x->>'size')::bigint, x->>'type'
             FROM event e, jsonb_array_elements(e.body::jsonb->'rows'->'blobs') AS x WHERE e.body LIKE '%%"blobs":%%'"""
    ):
        yield Difference("extra", "blob", "", f"{sha256} {size} {kind}")
    for sha256, size, kind in _rows(
        """SELECT x->>'sha256', (x->>'size')::bigint, x->>'type'
             FROM event e, jsonb_array_elements(e.body::jsonb->'rows'->'blobs') AS x WHERE e.body LIKE '%%"blobs":%%'
           EXCEPT SELECT sha256, size, type FROM blob"""
    ):
        yield Difference("missing", "blob", "", f"{sha256} {size} {kind}")


def _seal() -> Iterator[Difference]:
    """Leaves stand without a hole, and each head is the root of the leaves it covers."""
    for epoch, size, root in _rows("SELECT epoch, size, root FROM head ORDER BY epoch, size"):
        leaves = _rows(
            """SELECT l.n, e.leaf FROM leaf l JOIN event e ON e.id = l.event
                WHERE l.epoch = %(epoch)s AND l.n < %(size)s ORDER BY l.n""",
            {"epoch": epoch, "size": size},
        )
        if [n for n, _ in leaves] != list(range(size)):
            yield Difference("missing", "leaf", "", f"epoch {epoch} has holes below {size}")
        elif root_of_hashes(bytes(leaf) for _, leaf in leaves) != bytes(root):
            yield Difference("wrong", "head", "", f"epoch {epoch}, size {size} is not the root of its leaves")
