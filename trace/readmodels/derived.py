"""What the truth's tables must hold, worked out in plain Python from events' bytes: nothing here asks the database.

The door of the database (migration 0004) works the same out in SQL, so that each is a check on the other. Rows are
named by uid and key and not by database ids: a row is a tuple whose first parts, as many as KEYS says, tell which it
is.
"""

import json
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from trace.chain import canonical, leaf_hash
from trace.readmodels.rows import Row, moment

Said = Mapping[str, Any]
Derived = tuple[Any, ...]

# Table -> how many of a row's first parts tell it from its event's others.
KEYS = {
    "event": 0, "resource": 2, "revision": 2, "carrier": 1, "unit": 1, "edge": 1, "edge_void": 2, "difference": 2,
    "event_unit": 2, "event_resource": 2, "cycle": 1, "cook": 2, "label": 1, "serial": 1, "hold": 1, "hold_release": 2,
}  # fmt: skip
# Table -> the part of `rows` it comes out of, and one row of it from one row of the part. `n` counts the part's rows.
PARTS: dict[str, tuple[str, Callable[[Said, int, Row], Derived]]] = {
    "revision": (
        "things",
        lambda _s, _n, r: (r["kind"], r["key"], r["version"], r["body"], moment(r["valid_from"])),
    ),
    "carrier": ("carriers", lambda _s, _n, r: (r["uid"], r["kind"])),
    "unit": (
        "units",
        lambda _s, _n, r: (
            r["uid"], r["carrier"], r["kind"], r["lot_no"], r["amount"], r["uom"], _one_text(r["about"]),
        ),
    ),
    "edge": (
        "edges",
        lambda s, n, r: (
            n, r["child"], r["parent"], r["role"], r["layer"], r["position"], r["amount"], r["uom"],
            r.get("aside", False), moment(s["recorded"]),
        ),
    ),
    "edge_void": ("voids", lambda s, _n, r: (r["event"], r["n"], moment(s["recorded"]))),
    "difference": ("differences", lambda _s, _n, r: (r["unit"], r["cause"], r["amount"], r["uom"])),
    "event_unit": ("touches", lambda _s, _n, r: (r["unit"], r["role"])),
    "event_resource": ("resources", lambda _s, _n, r: (r["thing"], r["role"])),
    "cycle": ("cycles", lambda _s, _n, r: (r["uid"], r["number"])),
    "cook": ("cooks", lambda _s, _n, r: (r["cycle"], r["unit"], r["position"])),
    "label": ("labels", lambda _s, _n, r: (r["code"], r["carrier"], r["unit"], r["resource"])),
    "serial": ("serials", lambda _s, _n, r: (r["text"], r["plate"], r["format"], r["product"], r["month"])),
    "hold": ("holds", lambda _s, _n, r: (r["uid"], r["unit"], r["rule"])),
    "hold_release": ("hold_releases", lambda _s, _n, r: (r["hold"], r["unit"])),
}  # fmt: skip


def derived(event: int, said: Said, body: str) -> Iterable[tuple[str, int, Derived]]:
    """(table, event's id, row) for every row of the truth that an event's bytes make."""
    yield "event", event, _event(said, body)
    rows = said["rows"]
    for thing in rows.get("things", ()):
        if thing["uid"]:
            yield "resource", event, (thing["kind"], thing["key"], thing["uid"])
    for table, (part, row) in PARTS.items():
        for n, found in enumerate(rows.get(part, ())):
            yield table, event, row(said, n, found)


def _event(said: Said, body: str) -> Derived:
    """The columns of the event itself."""
    return (
        said["uid"], said["kind"], said["ver"], moment(said["happened"]), moment(said["recorded"]),
        said["offset_min"], said["unsure_ms"], said["install"], said["seq"], said["person"], said["station"],
        said["corrects"], said["why"], leaf_hash(body.encode()),
    )  # fmt: skip


def is_canonical(body: str, said: Said) -> bool:
    """True when the bytes are the one way to write what they say."""
    quick = json.dumps(said, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return quick == body or canonical(said) == body


def _one_text(part: Any) -> str:
    return json.dumps(part, sort_keys=True, separators=(",", ":"))
