"""Applies one event's rows to the read models; the same function serves the scan and the rebuild.

Everything here is arithmetic on rows already in the Store. One thing needs the whole graph and is done by
trace/readmodels/holds.py after the rows are written: the reach of holds.
"""

import json
from dataclasses import dataclass
from typing import Any

from plant.kinds.table import PLANT_TABLES
from trace.readmodels.rows import moment
from trace.readmodels.store import Ids, Row, Store

# Statuses and places after which nothing more happens to a thing, unless it comes back.
ENDS = ("scrapped", "dispatched")
RETURNED = "returned"
GONE = "gone: "
OPENING_ROLES = {"draw", "decant", "topup", "ingredient", "insert", "graphic", "fit", "scrap", "sample"}
# What a mould's row counts, shot by shot.
MOULD_COUNTERS = ("shots", "since_service", "since_vent", "since_release")
EMPTY_MOULD = {
    "stage": "empty",
    "load": None,
    "cycle": None,
    "arm": None,
    "order": None,
    **dict.fromkeys(MOULD_COUNTERS, 0),
}


@dataclass(frozen=True)
class Happening:
    """The event being applied: its database id and its two times as ISO text."""

    id: int
    happened: str
    recorded: str


def apply(store: Store, event: Happening, rows: dict[str, list[Row]], ids: Ids) -> None:
    """Set the read models to what holds after this event. Unknown parts are an error, never skipped."""
    unknown = rows.keys() - STEPS.keys() - ONLY_TRUTH
    if unknown:
        raise ValueError(f"parts of an event that no read model knows: {sorted(unknown)}")
    for part, step in STEPS.items():
        for n, row in enumerate(rows.get(part, [])):
            step(store, event, n, row, ids)


def new_unit_state(unit: int, amount: int | None, opened: str | None) -> Row:
    return {
        "unit": unit,
        "status": None,
        "status_at": None,
        "balance": amount,
        "overdrawn": False,
        "opened": opened,
        "back_at": None,
    }


def _unit(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    # Stock that stood open before the records began: its open life counts from that day.
    day = row["about"].get("opened")
    opened = f"{day}T00:00:00.000000Z" if day else None
    store.put("unit_state", new_unit_state(ids.unit[row["uid"]], row["amount"], opened))


def _state(store: Store, unit: int) -> Row:
    state = store.get("unit_state", unit)
    if state is None:
        raise LookupError(f"unit {unit} has no state row: the read models need a rebuild")
    return dict(state)


def _move_balance(store: Store, unit: int, by: int | None) -> None:
    state = _state(store, unit)
    if state["balance"] is None or by is None:
        return
    state["balance"] += by
    state["overdrawn"] = state["balance"] < 0
    store.put("unit_state", state)


def _edge(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    if row.get("aside"):
        return
    parent = ids.unit[row["parent"]]
    above = _state(store, parent)
    at = row.get("at", event.happened)
    if row["role"] in OPENING_ROLES and (above["opened"] is None or moment(at) < moment(above["opened"])):
        above["opened"] = at
        store.put("unit_state", above)
    if row["amount"] is not None:
        _move_balance(store, parent, -row["amount"])


def _void(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    edge = ids.edge[(row["event"], row["n"])]
    if edge["amount"] is not None and not edge["aside"]:
        _move_balance(store, edge["parent"], edge["amount"])


def _difference(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    _move_balance(store, ids.unit[row["unit"]], row["amount"])


def _carrier(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    store.put("carrier_state", {"carrier": ids.carrier[row["uid"]], "content": None, "order": None, "layer": None})


def _log(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    carrier = ids.carrier[row["carrier"]]
    entries = store.log_of(carrier)
    if row["replace"]:
        entries = _log_before(store, entries, row["from"])
    for entry in row["entries"]:
        entries = _end_last(store, entries, entry["since"])
        if entry["content"] is not None:
            opened = {
                "content": ids.unit[entry["content"]],
                "carrier": carrier,
                "since": entry["since"],
                "until": None,
                "event": event.id,
            }
            store.put("carrier_log", opened)
            entries.append(opened)
    now = row["entries"][-1]["content"]
    store.put(
        "carrier_state",
        {
            "carrier": carrier,
            "content": None if now is None else ids.unit[now],
            "order": row["order"],
            "layer": row["layer"],
        },
    )


def _log_before(store: Store, entries: list[Row], since: str) -> list[Row]:
    """Drop what a carrier's log says from a moment on, since it is written anew; what is left of it."""
    start = moment(since)
    for entry in entries:
        if moment(entry["since"]) >= start:
            store.drop("carrier_log", entry["content"])
    return [e for e in entries if moment(e["since"]) < start]


def _end_last(store: Store, entries: list[Row], since: str) -> list[Row]:
    """The entries of a carrier's log once what was in it last is there no longer than until `since`."""
    last = max(entries, key=lambda e: (e["until"] is None, moment(e["since"])), default=None)
    if last is None or (last["until"] is not None and moment(last["until"]) <= moment(since)):
        return entries
    closed = {**last, "until": since}
    store.put("carrier_log", closed)
    return [closed if e["content"] == closed["content"] else e for e in entries]


def _before(at: str, other: str | None) -> bool:
    return other is not None and moment(at) < moment(other)


def with_status(state: Row, status: str, at: str) -> Row:
    """A state once this is said of it. The newest counts; but what ends a thing stays, whatever else is told of it and
    in whatever order, until it comes back."""
    newer = state["status_at"] is None or moment(at) >= moment(state["status_at"])
    returns, ends = status == RETURNED, status in ENDS
    if ends and _before(at, state["back_at"]):
        return state
    if returns and not _before(at, state["back_at"]):
        state = {**state, "back_at": at}
    ended = state["status"] in ENDS and not (returns and newer)
    return {**state, "status": status, "status_at": at} if (newer if ended == ends else ends) else state


def _status(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    state = _state(store, ids.unit[row["unit"]])
    found = with_status(state, row["status"], row.get("at", event.happened))
    if found != state:
        store.put("unit_state", found)


def with_place(now: Row | None, here: Row, back_at: str | None) -> Row:
    """Where a unit is once it was put `here` (place, since, event). The same: what has gone to somebody stands in no
    rack until it comes back; where it was put all the same (`stood`) counts again then."""
    if now is None:
        return {**here, "stood": None, "stood_since": None}
    since, goes, gone = here["since"], here["place"].startswith(GONE), now["place"].startswith(GONE)
    stood = {"place": now["stood"], "since": now["stood_since"]} if gone else now
    if goes:
        older = _before(since, back_at) or (gone and _before(since, now["since"]))
        return now if older else {**now, **here, "stood": stood["place"], "stood_since": stood["since"]}
    newest = stood if _before(since, stood["since"]) else here
    if gone and (back_at is None or _before(back_at, now["since"])):
        return {**now, "stood": newest["place"], "stood_since": newest["since"]}
    if newest is now:
        return now
    return {**now, **here, "place": newest["place"], "since": newest["since"], "stood": None, "stood_since": None}


def _place(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    unit = ids.unit[row["unit"]]
    now = store.get("place_now", unit)
    here = {"unit": unit, "place": row["place"], "since": event.happened, "event": event.id}
    found = with_place(now, here, _state(store, unit)["back_at"])
    if found != now:
        store.put("place_now", found)


def _mould(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    mould = ids.resource[f"mould:{row['mould']}"]
    state = dict(store.get("mould_state", mould) or {**EMPTY_MOULD, "mould": mould})
    state |= {name: value for name, value in row.items() if name != "mould"}
    if row.get("load") is not None:
        state["load"] = ids.unit[row["load"]]
    if row.get("cycle") is not None:
        state["cycle"] = ids.cycle[row["cycle"]]
    store.put("mould_state", state)


def _instrument(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    instrument = ids.resource[f"instrument:{row['instrument']}"]
    now = store.get("instrument_state", instrument)
    before = now["checked_at"] if now else None
    if before is None or row.get("again") or moment(row["checked_at"]) >= moment(before):
        store.put(
            "instrument_state",
            {"instrument": instrument, "checked_at": row["checked_at"], "passed": row["passed"]},
        )


def _serial(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    store.put("serial_state", {"text": row["text"], "hull": None, "standing": "made"})


def _serial_stands(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    hull = None if row["hull"] is None else ids.unit[row["hull"]]
    store.put("serial_state", {"text": row["text"], "hull": hull, "standing": row["standing"]})


def _label_ends(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    store.put("label_state", {"code": row["code"], "replaced_by": row["replaced_by"]})


def _reading(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    unit = None if row["unit"] is None else ids.unit[row["unit"]]
    store.put("reading", {"event": event.id, "n": n, **row, "unit": unit})


def _reading_righted(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    first = ids.event[row["event"]]
    if row["value"] is None:
        store.drop("reading", first, row["n"])
    else:
        unit = None if row["unit"] is None else ids.unit[row["unit"]]
        store.put("reading", {**row, "event": first, "unit": unit})


def _discrepancy(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    unit = None if row["unit"] is None else ids.unit[row["unit"]]
    store.put("discrepancy", {"event": event.id, "n": n, "kind": row["kind"], "unit": unit, "closed_by": None})


def _closed(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    open_ = store.get("discrepancy", ids.event[row["event"]], row["n"])
    if open_ is not None:
        store.put("discrepancy", {**open_, "closed_by": event.id})


def _gap(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    store.put("gap", {"unit": ids.unit[row["unit"]], "what": row["what"], "which": row["which"], "event": event.id})


def _gap_closed(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    store.drop("gap", ids.unit[row["unit"]], row["what"], row["which"])


def _complaint(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    hull = None if row["hull"] is None else ids.unit[row["hull"]]
    store.put("complaint", {**row, "event": event.id, "hull": hull, "case": None, "open": True})


def _complaint_stands(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    known = store.get("complaint", ids.event[row["event"]])
    if known is not None:
        hull = None if row["hull"] is None else ids.unit[row["hull"]]
        store.put("complaint", {**known, "hull": hull, "case": row["case"], "open": row["open"]})


def _case(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    store.put("case_file", {**row, "event": event.id, "open": True})


def _case_stands(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    known = store.get("case_file", ids.event[row["event"]])
    if known is not None:
        store.put("case_file", {**known, "open": row["open"]})


def _thing(store: Store, event: Happening, n: int, row: Row, ids: Ids) -> None:
    body = json.loads(row["body"])
    resource = ids.resource[f"{row['kind']}:{row['key']}"]
    store.put(
        PLANT_TABLES[row["kind"]],
        {
            "key": row["key"],
            "resource": resource,
            "version": row["version"],
            "body": body,
            "ended": bool(body.get("ended", False)),
        },
    )
    if row["kind"] == "mould" and row["version"] == 1:
        store.put("mould_state", {**EMPTY_MOULD, "mould": resource})


# The order matters: units before the edges between them, voids before the edges that stand in their place.
STEPS: dict[str, Any] = {
    "things": _thing,
    "carriers": _carrier,
    "units": _unit,
    "voids": _void,
    "edges": _edge,
    "differences": _difference,
    "logs": _log,
    "statuses": _status,
    "places": _place,
    "moulds": _mould,
    "instruments": _instrument,
    "serials": _serial,
    "serial_stands": _serial_stands,
    "label_ends": _label_ends,
    "readings": _reading,
    "readings_righted": _reading_righted,
    "discrepancies": _discrepancy,
    "closed": _closed,
    "gaps": _gap,
    "gaps_closed": _gap_closed,
    "complaints": _complaint,
    "complaint_stands": _complaint_stands,
    "cases": _case,
    "case_stands": _case_stands,
}
# Parts that stand in the truth tables only; holds are walked afterwards.
ONLY_TRUTH = {
    "erased", "touches", "resources", "cycles", "cooks", "labels", "holds", "hold_releases", "blobs", "missed",
    "counts", "empties",
}  # fmt: skip
