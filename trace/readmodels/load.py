"""Enters an event at the door of the records and loads, in the same statement, the read-model rows it changes."""

import json
from collections.abc import Collection
from typing import Any

from trace.genealogy.prepared import fetch_json
from trace.readmodels.store import Ids, Row, Store

Notes = dict[str, tuple[str, str]]

# One round trip. The door (migration 0004) makes the event and its rows and tells the ids of all they name; the rest
# sees the tables as they were when the statement began.
ENTER = """
WITH made AS MATERIALIZED (
  SELECT enter_event(%(bytes)s::text, %(notes)s::jsonb, %(scan)s::jsonb) AS ids)
SELECT json_build_object('ids', (SELECT ids FROM made){tables})::text
"""
IDS = "SELECT value::bigint FROM made, json_each_text(ids->'{}')"
# The parents and children of the edges that the event withdraws.
PARENTS, CHILDREN = (
    f"SELECT (x->>{n})::bigint FROM made, json_array_elements(ids->'edges') AS x" for n in (4, 3)
)
UNITS = f"s.unit = ANY (ARRAY({IDS.format('unit')}))"
# What earlier events, named by this one, opened.
OF_EVENTS = f"s.event = ANY (ARRAY({IDS.format('events')}))"
# The units of an event that withdraws edges.
UNITS_AND_WITHDRAWN = f"s.unit = ANY (ARRAY({IDS.format('unit')} UNION ALL {PARENTS} UNION ALL {CHILDREN}))"
# Table -> the parts of an event that read it (readmodels/apply.py, holds.py), and the rows of it that they need.
READ = {
    "unit_state": (("edges", "voids", "differences", "statuses", "places"), UNITS),
    "unit_hold": (("edges", "voids"), UNITS),
    "place_now": (("places",), UNITS),
    "carrier_log": (
        ("logs",),
        f"s.carrier = ANY (ARRAY({IDS.format('carrier')}))"
        " AND (s.until IS NULL OR s.until >= %(log_from)s::timestamptz)",
    ),
    "mould_state": (("moulds",), f"s.mould = ANY (ARRAY({IDS.format('resource')}))"),
    "instrument_state": (("instruments",), f"s.instrument = ANY (ARRAY({IDS.format('resource')}))"),
    "discrepancy": (("closed",), OF_EVENTS),
    "complaint": (("complaint_stands",), OF_EVENTS),
    "case_file": (("case_stands",), OF_EVENTS),
}


def _tables(parts: Collection[str]) -> list[str]:
    """The tables that an event with these parts reads. No other is asked: most of what so small a statement costs is
    spent before it reads its first row."""
    return [table for table, (readers, _) in READ.items() if any(part in parts for part in readers)]


def _statement(parts: Collection[str]) -> str:
    """The statement for an event with these parts."""
    asked = "".join(f", '{t}', (SELECT json_agg(s) FROM {t} s WHERE {READ[t][1]})" for t in _tables(parts))
    if "voids" in parts:
        asked = asked.replace(UNITS, UNITS_AND_WITHDRAWN)
    return ENTER.format(tables=asked)


def enter(body: str, rows: dict[str, list[Row]], notes: Notes, scan: Row, log_from: str) -> tuple[Ids, Store, int]:
    """Record an event by its canonical bytes; the ids and read-model rows that `rows` name, and the event's id.

    `rows` are those in the bytes; `scan` is the scan with its answer (the door adds the event). Carriers' logs are
    loaded from `log_from` on. IntegrityError when the door refuses the bytes: nothing is recorded then.
    """
    found = fetch_json(
        _statement(rows),
        {
            "bytes": body,
            "notes": json.dumps(note_rows(notes)),
            "scan": json.dumps(scan),
            "log_from": log_from,
        },
    )
    made: dict[str, Any] = found["ids"]
    ids = Ids()
    for table in ("unit", "carrier", "cycle", "hold", "resource"):
        getattr(ids, table).update(made[table])
    ids.event.update(made["events"])
    for uid, n, id_, child, parent, amount, role, aside in made["edges"]:
        ids.edge[(uid, n)] = {
            "id": id_, "child": child, "parent": parent, "amount": amount, "role": role, "aside": aside,
        }  # fmt: skip
    store = Store(rows={table: {} for table in _tables(rows)})
    for table in _tables(rows):
        for row in found[table] or []:
            store.know(table, row)
    return ids, store, made["event"]


def note_rows(notes: Notes) -> list[Row]:
    """Notes as the door takes them: `notes` is digest -> (salt in hex, text)."""
    return [{"digest": key, "salt": salt, "text": text} for key, (salt, text) in notes.items()]
