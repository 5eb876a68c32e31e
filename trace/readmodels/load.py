"""Enters an event at the door of the records and loads, in the same statement, the read-model rows it changes."""

import json
from typing import Any

from trace.genealogy.prepared import fetch_json
from trace.readmodels.store import Ids, Row, Store

Notes = dict[str, tuple[str, str]]

# One round trip. The door (migration 0004) makes the event and its rows and tells the ids of all they name; the rest
# sees the tables as they were when the statement began.
ENTER = """
WITH made AS MATERIALIZED (
  SELECT enter_event(%(bytes)s::text, %(notes)s::jsonb, %(scan)s::jsonb) AS ids),
 un AS MATERIALIZED (SELECT value::bigint AS id FROM made, json_each_text(ids->'unit')),
 ed AS MATERIALIZED (SELECT (x->>3)::bigint AS child, (x->>4)::bigint AS parent
                       FROM made, json_array_elements(ids->'edges') AS x),
 ca AS MATERIALIZED (SELECT value::bigint AS id FROM made, json_each_text(ids->'carrier')),
 re AS MATERIALIZED (SELECT value::bigint AS id FROM made, json_each_text(ids->'resource'))
SELECT json_build_object(
  'ids', (SELECT ids FROM made),
  'unit_state', (SELECT json_agg(s) FROM unit_state s
     WHERE s.unit = ANY (ARRAY(SELECT id FROM un UNION SELECT parent FROM ed))),
  'unit_hold', (SELECT json_agg(s) FROM unit_hold s
     WHERE s.unit = ANY (ARRAY(SELECT id FROM un UNION SELECT parent FROM ed UNION SELECT child FROM ed))),
  'place_now', (SELECT json_agg(s) FROM place_now s WHERE s.unit = ANY (ARRAY(SELECT id FROM un))),
  'carrier_state', (SELECT json_agg(s) FROM carrier_state s WHERE s.carrier = ANY (ARRAY(SELECT id FROM ca))),
  'carrier_log', (SELECT json_agg(s) FROM carrier_log s WHERE s.carrier = ANY (ARRAY(SELECT id FROM ca))
     AND (s.until IS NULL OR s.until >= %(log_from)s::timestamptz)),
  'mould_state', (SELECT json_agg(s) FROM mould_state s WHERE s.mould = ANY (ARRAY(SELECT id FROM re))),
  'instrument_state', (SELECT json_agg(s) FROM instrument_state s WHERE s.instrument = ANY (ARRAY(SELECT id FROM re))),
  'serial_state', (SELECT json_agg(s) FROM serial_state s WHERE s.text = ANY (%(serials)s::text[])),
  'discrepancy', (SELECT json_agg(s) FROM discrepancy s WHERE s.event = ANY (
     ARRAY(SELECT value::bigint FROM made, json_each_text(ids->'events')))))::text
"""


def enter(body: str, rows: dict[str, list[Row]], notes: Notes, scan: Row, log_from: str) -> tuple[Ids, Store, int]:
    """Record an event by its canonical bytes; the ids and read-model rows that `rows` name, and the event's id.

    `rows` are those in the bytes; `scan` is the scan with its answer (the door adds the event). Carriers' logs are
    loaded from `log_from` on. IntegrityError when the door refuses the bytes: nothing is recorded then.
    """
    serials = {str(r["text"]) for part in ("serials", "serial_stands") for r in rows.get(part, [])}
    found = fetch_json(
        ENTER,
        {
            "bytes": body,
            "notes": json.dumps(note_rows(notes)),
            "scan": json.dumps(scan),
            "log_from": log_from,
            "serials": sorted(serials),
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
    store = Store()
    for table in (
        "unit_state", "unit_hold", "place_now", "carrier_state", "carrier_log", "mould_state", "instrument_state",
        "serial_state", "discrepancy",
    ):  # fmt: skip
        for row in found[table] or []:
            store.know(table, row)
    return ids, store, made["event"]


def note_rows(notes: Notes) -> list[Row]:
    """Notes as the door takes them: `notes` is digest -> (salt in hex, text)."""
    return [{"digest": key, "salt": salt, "text": text} for key, (salt, text) in notes.items()]
