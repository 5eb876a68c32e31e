"""Turns an event's rows into rows of the truth tables and sends them, with the read models, in one call."""

import json
from typing import Any

from django.db import connection

from trace.readmodels.store import Ids, Row, Store

Tables = dict[str, list[Row]]


def truth_rows(
    rows: dict[str, list[Row]],
    ids: Ids,
    event: int,
    body: str,
    notes: dict[str, tuple[str, str]],
) -> Tables:
    """Rows by table for write_rows (migration 0002): database ids in the place of uids and keys."""

    def unit(uid: str | None) -> int | None:
        return None if uid is None else ids.unit[uid]

    tables: Tables = {
        "event": [{"id": event, "body": body}],
        "note": [{"digest": key, "salt": salt, "text": text} for key, (salt, text) in notes.items()],
        "resource": [
            {
                "id": ids.resource[f"{r['kind']}:{r['key']}"],
                "uid": r["uid"],
                "kind": r["kind"],
                "key": r["key"],
                "event": event,
            }
            for r in rows.get("things", [])
            if r["uid"]
        ],
        "revision": [
            {
                "thing": ids.resource[f"{r['kind']}:{r['key']}"],
                "version": r["version"],
                "body": r["body"],
                "valid_from": r["valid_from"],
                "event": event,
            }
            for r in rows.get("things", [])
        ],
        "carrier": [
            {"id": ids.carrier[r["uid"]], "uid": r["uid"], "kind": r["kind"], "event": event}
            for r in rows.get("carriers", [])
        ],
        "unit": [
            {
                **{k: r[k] for k in ("uid", "kind", "lot_no", "amount", "uom", "about")},
                "id": ids.unit[r["uid"]],
                "carrier": None if r["carrier"] is None else ids.carrier[r["carrier"]],
                "event": event,
            }
            for r in rows.get("units", [])
        ],
        "edge": [
            {
                **{k: r[k] for k in ("role", "layer", "position", "amount", "uom")},
                "id": ids.new_edges[n],
                "child": ids.unit[r["child"]],
                "parent": ids.unit[r["parent"]],
                "n": n,
                "aside": bool(r.get("aside", False)),
                "event": event,
            }
            for n, r in enumerate(rows.get("edges", []))
        ],
        "edge_void": [{"edge": ids.edge[(r["event"], r["n"])]["id"], "event": event} for r in rows.get("voids", [])],
        "difference": [
            {
                "event": event,
                "unit": unit(r["unit"]),
                "amount": r["amount"],
                "uom": r["uom"],
                "cause": r["cause"],
            }
            for r in rows.get("differences", [])
        ],
        "event_unit": [{"event": event, "unit": unit(r["unit"]), "role": r["role"]} for r in rows.get("touches", [])],
        "event_resource": [
            {"event": event, "resource": ids.resource[r["thing"]], "role": r["role"]} for r in rows.get("resources", [])
        ],
        "cycle": [
            {"id": ids.cycle[r["uid"]], "uid": r["uid"], "number": r["number"], "event": event}
            for r in rows.get("cycles", [])
        ],
        "cook": [
            {
                "cycle": ids.cycle[r["cycle"]],
                "unit": unit(r["unit"]),
                "position": r["position"],
                "event": event,
            }
            for r in rows.get("cooks", [])
        ],
        "label": [
            {
                "code": r["code"],
                "carrier": None if r["carrier"] is None else ids.carrier[r["carrier"]],
                "unit": unit(r["unit"]),
                "resource": None if r["resource"] is None else ids.resource[r["resource"]],
                "event": event,
            }
            for r in rows.get("labels", [])
        ],
        "serial": [
            {
                **{k: r[k] for k in ("text", "format", "product", "month")},
                "plate": unit(r["plate"]),
                "event": event,
            }
            for r in rows.get("serials", [])
        ],
        "hold": [
            {
                "id": ids.hold[r["uid"]],
                "uid": r["uid"],
                "event": event,
                "unit": unit(r["unit"]),
                "rule": r["rule"],
            }
            for r in rows.get("holds", [])
        ],
        "hold_release": [
            {"hold": ids.hold[r["hold"]], "unit": unit(r["unit"]), "event": event}
            for r in rows.get("hold_releases", [])
        ],
        "blob": list(rows.get("blobs", [])),
    }
    return {table: found for table, found in tables.items() if found}


def write(truth: Tables, store: Store | None) -> None:
    """One call to write_rows: the truth first, then the read-model rows that changed."""
    document: dict[str, Any] = {"add": truth}
    if store is not None:
        document |= {"put": store.puts(), "drop": store.drops()}
    with connection.cursor() as cursor:
        cursor.execute("SELECT write_rows(%s::jsonb)", [json.dumps(document)])
