"""The events that touched units, with what they say, as known at a moment."""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from django.db import connection

from trace.genealogy.live import known_by
from trace.readmodels.readings import righted

# Of a lot or a container only what was done to it as a whole counts: its other draws are another hull's story.
STOCK_ROLES = (
    "received", "certified", "held", "hold released", "released", "proved empty", "corrected", "told",
    "label reprinted", "gap", "gap closed", "counted",
)  # fmt: skip
ENTRIES = """
WITH wanted(id) AS (
  SELECT u.event FROM unit u WHERE u.id = ANY (%(made)s)
  UNION SELECT unnest(%(events)s::bigint[])
  UNION SELECT e.event FROM edge e WHERE e.child = ANY (%(inner)s)
  UNION SELECT v.event FROM edge e JOIN edge_void v ON v.edge = e.id WHERE e.child = ANY (%(inner)s)
  UNION SELECT x.event FROM event_unit x WHERE x.unit = ANY (%(inner)s)
  UNION SELECT x.event FROM event_unit x JOIN event k ON k.id = x.event
   WHERE x.unit = ANY (%(stock)s)
     AND (x.role = ANY (%(roles)s) OR (x.role = 'status' AND k.kind IN ('released', 'scrapped')))
  -- What a correction or a late fact says again was done by the scan that said it first.
  UNION SELECT o.id FROM edge e JOIN event w ON w.id = e.event AND w.body LIKE '%%"of":%%'
    JOIN event o ON o.uid = (w.body::jsonb #>> ARRAY['rows', 'edges', e.n::text, 'of'])::uuid
   WHERE e.child = ANY (%(made)s) AND e.recorded <= %(known)s::timestamptz
)
SELECT e.id, e.uid::text, e.kind, e.happened, e.recorded, e.body FROM event e JOIN wanted w ON w.id = e.id
WHERE e.recorded <= %(known)s::timestamptz ORDER BY e.happened, e.recorded, e.id
"""
TAGS = "SELECT l.code::text, r.key FROM label l JOIN resource r ON r.id = l.resource WHERE l.code = ANY (%s)"
ANSWERS = "SELECT s.event, s.answer FROM scan s WHERE s.event = ANY (%s)"
CLOSED = """
SELECT c->>'event', c->>'n' FROM event e, jsonb_array_elements(e.body::jsonb->'rows'->'closed') AS c
WHERE e.kind = 'discrepancy_closed' AND e.recorded <= %(known)s::timestamptz AND c->>'event' = ANY (%(events)s)
"""
# Entered this much after it happened counts as late: a shift's tablet may be a few minutes behind.
LATE = timedelta(minutes=15)

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True, eq=False)
class Entry:
    """One event. `body` is what its bytes say (trace/recording/record.py lists the fields)."""

    id: int
    uid: str
    kind: str
    happened: datetime
    recorded: datetime
    body: Row

    @property
    def person(self) -> str:
        return str(self.body.get("person") or "")

    @property
    def helper(self) -> str:
        return str(self.body.get("helper") or "")

    @property
    def says(self) -> Row:
        """The command's own fields, free words as digests."""
        says: Row = self.body["says"]
        return says

    @property
    def late(self) -> bool:
        return self.recorded - self.happened > LATE

    @property
    def unsure(self) -> timedelta:
        return timedelta(milliseconds=int(self.body.get("unsure_ms") or 0))

    @property
    def flagged(self) -> tuple[str, ...]:
        """Codes of rules that hold what this touches, or refused it before it was told."""
        spoke = self.body.get("found") or ()
        return tuple(f["code"] for f in spoke if f["verdict"] in ("refuse", "hold") and f["code"] not in self.overrides)

    @property
    def warned(self) -> tuple[str, ...]:
        return tuple(f["code"] for f in self.body.get("found") or () if f["verdict"] == "warn")

    @property
    def overrides(self) -> Mapping[str, str]:
        """Rule code -> digest of the reason given for letting it pass."""
        return self.body.get("overrides") or {}

    def part(self, name: str) -> list[Row]:
        """The rows of one part (trace/readmodels/rows.py), in the order of the bytes."""
        rows: list[Row] = self.body["rows"].get(name, [])
        return rows

    def of(self, name: str, unit: str) -> list[Row]:
        """The rows of one part that are about this unit (its uid)."""
        return [row for row in self.part(name) if row.get("unit") == unit]

    def makes(self, uids: Collection[str]) -> list[str]:
        """Those of the units that this event made."""
        return [row["uid"] for row in self.part("units") if row["uid"] in uids]

    def resources(self, role: str) -> list[str]:
        """Keys of the things it was made with in this role."""
        return [row["thing"].partition(":")[2] for row in self.part("resources") if row["role"] == role]


def entries(
    *,
    inner: Collection[int],
    stock: Collection[int] = (),
    events: Collection[int] = (),
    as_known_on: datetime | None = None,
) -> list[Entry]:
    """Every event of the units `inner`, what was done to `stock` as a whole, and `events`; oldest first."""
    with connection.cursor() as cursor:
        cursor.execute(
            ENTRIES,
            {
                "made": sorted({*inner, *stock}),
                "inner": sorted(inner),
                "stock": sorted(stock),
                "events": sorted(events),
                "roles": list(STOCK_ROLES),
                "known": known_by(as_known_on),
            },
        )
        rows = [(row[:5], json.loads(row[5])) for row in cursor.fetchall()]
        said = {text for _, body in rows for value in body["says"].values() for text in _texts(value)}
        cursor.execute(TAGS, [sorted(said)])
        tags = dict(cursor.fetchall())
    found = []
    for (event, uid, kind, happened, recorded), body in rows:
        says = {name: _named(value, tags) for name, value in body["says"].items()}
        found.append(Entry(event, uid, kind, happened, recorded, {**body, "says": says}))
    return _put_right(found)


def _put_right(found: list[Entry]) -> list[Entry]:
    """Events with their readings as they were put right by then; the correction stands beside them."""
    righted_of: dict[str, list[Row]] = {}
    for entry in sorted(found, key=lambda e: (e.recorded, e.id)):
        for row in entry.part("readings_righted"):
            righted_of.setdefault(row["event"], []).append(row)
    return [_with(entry, righted_of[entry.uid]) if entry.uid in righted_of else entry for entry in found]


def _with(entry: Entry, rows: list[Row]) -> Entry:
    values = {row["n"]: row["value"] for row in rows}
    readings = [
        {**row, "value": values.get(n, row["value"])}
        for n, row in enumerate(entry.part("readings"))
        if values.get(n, row["value"]) is not None
    ]
    says = righted(entry.kind, entry.says, rows)
    return replace(entry, body={**entry.body, "says": says, "rows": {**entry.body["rows"], "readings": readings}})


def _texts(value: Any) -> list[str]:
    return [v for v in (value if isinstance(value, list) else [value]) if isinstance(v, str)]


def _named(value: Any, tags: Mapping[str, str]) -> Any:
    """The tag of a scale, an oven or an order reads like that thing's own name."""
    if isinstance(value, list):
        return [_named(one, tags) for one in value]
    return tags.get(value, value) if isinstance(value, str) else value


def answers(events: Collection[int]) -> dict[int, Row]:
    """What the plant answered to the scans of these events: {"what", "why", "now", …} by event id."""
    if not events:
        return {}
    with connection.cursor() as cursor:
        cursor.execute(ANSWERS, [sorted(events)])
        return {event: json.loads(text) for event, text in cursor.fetchall()}


def closed(events: Collection[str], as_known_on: datetime | None = None) -> set[tuple[str, int]]:
    """Of the discrepancies opened by these events (uids), those a person had closed by then: (uid, n)."""
    if not events:
        return set()
    with connection.cursor() as cursor:
        cursor.execute(CLOSED, {"events": sorted(events), "known": known_by(as_known_on)})
        return {(event, int(n)) for event, n in cursor.fetchall()}
