"""Builds small histories by hand, below recording: named units, edges, withdrawals, times of recording.

    draw = Drawing()
    draw.lot("S1"); draw.content("BAG", 25 * KG); draw.edge("BAG", "S1", "receive", 25 * KG)
    draw.at(3).void("BAG", "S1"); draw.save()

Day n is START + n days; what follows `at(n)` happened and was recorded then, unless told otherwise. `save()`
inserts all of it below the door; `graph()` and `flows()` give the same history without a database, worked out in
plain Python, as the check on the SQL.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, Self
from uuid import UUID

from tests.below import below_the_door
from trace.codes import uuid7
from trace.genealogy.graph import (
    BY_AMOUNT,
    DRAWN_KINDS,
    MATERIAL_ROLES,
    PART_ROLES,
    SHARED_ROLES,
    Edge,
    Flow,
    Graph,
    Node,
)

START = datetime(2026, 1, 5, 8, 0, tzinfo=UTC)
KG = 1_000_000


def stamp(moment: datetime) -> str:
    """The one form in which a time stands in the bytes of an event."""
    return moment.strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def day(n: float) -> datetime:
    return START + timedelta(days=n)


@dataclass
class Happened:
    """An event to be inserted: its number is its place in the list, from 1."""

    uid: UUID
    kind: str
    happened: datetime
    recorded: datetime
    rows: dict[str, Any] = field(default_factory=dict)
    touches: list[tuple[str, str]] = field(default_factory=list)


@dataclass
class Drawn:
    """An edge by names, the event that made it and when that was recorded; `void` once it was withdrawn."""

    edge: Edge
    recorded: datetime
    aside: bool
    void: tuple[int, datetime] | None = None


class Drawing:
    """A history in the making. Ids are given here, so that tests can set them out of order."""

    def __init__(self) -> None:
        self.now = self.recorded = START
        self.events: list[Happened] = []
        self.units: dict[str, Node] = {}
        self.edges: list[Drawn] = []
        self.differences: list[tuple[int, str, int, str]] = []
        self.labels: list[tuple[str, str | None, int | None, int]] = []
        self.serials: list[tuple[str, str, int]] = []
        self.carriers: dict[str, tuple[int, str]] = {}
        self.resources: list[tuple[int, str, str, str]] = []
        self.used: list[tuple[int, str, str, str]] = []
        self.made: dict[str, datetime] = {}

    def at(self, n: float, *, recorded: float | None = None) -> Self:
        """From here on things happen on day n and are recorded then, or on day `recorded` when late."""
        self.now, self.recorded = day(n), day(n if recorded is None else recorded)
        return self

    def event(self, kind: str, rows: dict[str, Any] | None = None, touches: Iterable[tuple[str, str]] = ()) -> int:
        self.events.append(Happened(uuid7(), kind, self.now, self.recorded, rows or {}, list(touches)))
        return len(self.events)

    def unit(
        self,
        name: str,
        kind: str,
        amount: int | None = None,
        uom: str = "mg",
        *,
        lot_no: str | None = None,
        carrier: str | None = None,
        about: Mapping[str, Any] | None = None,
    ) -> int:
        """A unit called `name`; returns its id, which is its place among the units."""
        event = self.event("made")
        node = Node(
            len(self.units) + 1, str(uuid7()), kind, lot_no, about or {}, amount,
            uom if amount is not None else None, self.carriers[carrier][0] if carrier else None,
            event, self.now,
        )  # fmt: skip
        self.units[name] = node
        self.made[name] = self.recorded
        if carrier:
            entry = {"content": node.uid, "since": stamp(self.now)}
            self.events[-1].rows["logs"] = [
                {"carrier": self.carriers[carrier][1], "replace": False, "entries": [entry]}
            ]
        return node.id

    def lot(self, name: str, **about: Any) -> int:
        return self.unit(name, "lot", lot_no=name, about=about)

    def content(self, name: str, amount: int | None, uom: str = "mg", **about: Any) -> int:
        return self.unit(name, "content", amount, uom, about=about)

    def edge(
        self,
        child: str,
        parent: str,
        role: str,
        amount: int | None = None,
        uom: str = "mg",
        *,
        layer: str | None = None,
        position: str | None = None,
        aside: bool = False,
    ) -> int:
        """Parent went into child; returns the id of the edge, which is its place among the edges."""
        edge = Edge(
            len(self.edges) + 1, self.units[child].id, self.units[parent].id, self.event("edge"), role, layer,
            position, amount, uom if amount is not None else None,
        )  # fmt: skip
        self.edges.append(Drawn(edge, self.recorded, aside))
        return edge.id

    def void(self, child: str, parent: str, role: str | None = None) -> None:
        """Withdraw the edges that stand between the two."""
        ends = self.units[child].id, self.units[parent].id
        event = self.event("corrected")
        for drawn in self.edges:
            edge = drawn.edge
            if (edge.child, edge.parent) == ends and role in (None, edge.role) and drawn.void is None:
                drawn.void = event, self.recorded

    def difference(self, unit: str, amount: int, cause: str = "counted") -> None:
        self.differences.append((self.event("counted"), unit, amount, cause))

    def carrier(self, name: str, code: str) -> None:
        """A box, tub or silo with a label."""
        event = self.event("carrier")
        self.carriers[name] = len(self.carriers) + 1, str(uuid7())
        self.labels.append((code, None, self.carriers[name][0], event))

    def label(self, code: str, unit: str) -> None:
        self.labels.append((code, unit, None, self.event("labelled")))

    def serial(self, text: str, plate: str) -> None:
        self.serials.append((text, plate, self.event("plate")))

    def place(self, unit: str, place: str) -> None:
        uid = self.units[unit].uid
        self.event("moved", {"places": [{"unit": uid, "place": place}]}, [(unit, "placed")])

    def gap(self, unit: str, what: str, which: str) -> None:
        self._gap(unit, what, which, "gaps", "gap")

    def close_gap(self, unit: str, what: str, which: str) -> None:
        self._gap(unit, what, which, "gaps_closed", "gap closed")

    def _gap(self, unit: str, what: str, which: str, part: str, role: str) -> None:
        self.event(role, {part: [{"unit": self.units[unit].uid, "what": what, "which": which}]}, [(unit, role)])

    def thing(self, kind: str, key: str, body: Mapping[str, Any]) -> None:
        """Plant data, version 1."""
        self.resources.append((self.event("plant data"), kind, key, json.dumps(body)))

    def act(self, kind: str, units: str, **things: str) -> int:
        """An act that touched these units with things of the plant, each by its role: arm="machine:S1"."""
        event = self.event(kind, touches=[(unit, "status") for unit in units.split()])
        self.used += [(event, role, *thing.split(":")) for role, thing in things.items()]  # type: ignore[misc]
        return event

    def id(self, name: str) -> int:
        return self.units[name].id

    def ids(self, names: str) -> set[int]:
        """The ids of names written with blanks between."""
        return {self.units[n].id for n in names.split()}

    def name(self, unit: int) -> str:
        return list(self.units)[unit - 1]

    # -- the same history without a database --------------------------------------------------------------

    def live(self, known: datetime | None = None) -> list[Edge]:
        """Edges that stand on a day: recorded by then, not withdrawn by then, not aside."""
        return [
            d.edge
            for d in self.edges
            if not d.aside
            and (known is None or d.recorded <= known)
            and not (d.void and (known is None or d.void[1] <= known))
        ]

    def graph(self, root: str, known: datetime | None = None) -> Graph:
        """The whole live history, as a walk that reached everything would give it."""
        nodes = {n.id: n for name, n in self.units.items() if known is None or self.made[name] <= known}
        return Graph((self.id(root),), nodes, tuple(self.live(known)))

    def flows(self, known: datetime | None = None) -> dict[int, Flow]:
        return {n.id: self._flow(n, known) for n in self.units.values()}

    def _flow(self, node: Node, known: datetime | None) -> Flow:
        uom = node.uom or "mg"
        out = [e for e in self.live(known) if e.parent == node.id]
        drawn = [e for e in out if e.role in PART_ROLES or (e.role == "fit" and node.kind in DRAWN_KINDS)]
        into = [e for e in self.live(known) if e.child == node.id and e.role in MATERIAL_ROLES]
        keys = [(e.layer or "") if e.role == "charge" else "" for e in into]
        charges = [
            e.amount if e.uom == "mg" else self.units[self.name(e.parent)].amount for e in into if e.role == "charge"
        ]
        told = [
            (amount, cause)
            for event, unit, amount, cause in self.differences
            if unit == self.name(node.id) and (known is None or self.events[event - 1].recorded <= known)
        ]
        ways: dict[tuple[str, str | None, str | None], list[int | None]] = {}
        for e in self.live(known):
            if e.child == node.id and e.role in BY_AMOUNT:
                ways.setdefault((e.role, e.layer, e.position), []).append(e.amount)
        return Flow(
            drawn=sum(e.amount or 0 for e in drawn if e.uom == uom),
            unrecorded_out=sum(e.uom != uom for e in drawn),
            gain=sum(a for a, _cause in told if a > 0),
            difference=sum(a for a, _cause in told),
            put_right=sum(a for a, cause in told if cause == "put right"),
            shared_by=len({e.child for e in out if e.role in SHARED_ROLES}),
            into={k: keys.count(k) for k in sorted(set(keys))},
            into_amount=sum(e.amount or 0 for e in into if e.uom == uom),
            into_unrecorded=sum(e.uom != uom for e in into),
            charged=sum(c for c in charges if c is not None) if charges and None not in charges else None,
            either=frozenset(w for w, took in ways.items() if None in took and any(a is not None for a in took)),
        )

    # -- into the database --------------------------------------------------------------------------------

    def save(self) -> None:
        """Insert everything, ids as given here shifted to lie behind what is already in the tables."""
        with below_the_door() as cursor:
            insert(cursor, self)


def insert(cursor: Any, drawing: Drawing) -> None:
    """One INSERT a table. The tests' database is empty of records, so ids can be the drawing's own."""

    def rows(table: str, columns: str, values: list[tuple[Any, ...]]) -> None:
        if values:
            marks = ", ".join(["(" + ", ".join(["%s"] * len(values[0])) + ")"] * len(values))
            override = "OVERRIDING SYSTEM VALUE" if columns.startswith("id,") else ""
            cursor.execute(
                f"INSERT INTO {table} ({columns}) {override} VALUES {marks}",
                [v for row in values for v in row],
            )

    d = drawing
    rows("event", "id, body", [(n, body(e)) for n, e in enumerate(d.events, 1)])
    rows("carrier", "id, uid, kind, event", [(n, uid, "container", 1) for n, uid in d.carriers.values()])
    rows(
        "unit",
        "id, uid, carrier, kind, lot_no, amount, uom, about, event",
        [
            (u.id, u.uid, u.carrier, u.kind, u.lot_no, u.amount, u.uom, json.dumps(dict(u.about)), u.event)
            for u in d.units.values()
        ],
    )
    rows(
        "edge",
        "id, child, parent, event, n, role, layer, position, amount, uom, aside, recorded",
        [
            (
                e.id,
                e.child,
                e.parent,
                e.event,
                0,
                e.role,
                e.layer,
                e.position,
                e.amount,
                e.uom,
                x.aside,
                x.recorded,
            )
            for x in d.edges
            for e in [x.edge]
        ],
    )
    rows(
        "edge_void",
        "edge, event, recorded",
        [(x.edge.id, x.void[0], x.void[1]) for x in d.edges if x.void],
    )
    rows(
        "difference",
        "event, unit, amount, uom, cause",
        [(e, d.id(u), a, d.units[u].uom or "mg", cause) for e, u, a, cause in d.differences],
    )
    rows(
        "event_unit",
        "event, unit, role",
        [(n, d.id(u), role) for n, e in enumerate(d.events, 1) for u, role in e.touches],
    )
    rows(
        "label",
        "code, unit, carrier, event",
        [(code, d.id(unit) if unit else None, carrier, event) for code, unit, carrier, event in d.labels],
    )
    rows(
        "serial",
        "text, plate, format, product, event",
        [(text, d.id(plate), "plant", "T430", event) for text, plate, event in d.serials],
    )
    rows(
        "resource",
        "id, uid, kind, key, event",
        [(n, uuid7(), kind, key, event) for n, (event, kind, key, _) in enumerate(d.resources, 1)],
    )
    numbers = {(kind, key): n for n, (_, kind, key, _) in enumerate(d.resources, 1)}
    rows(
        "event_resource",
        "event, resource, role",
        [(event, numbers[kind, key], role) for event, role, kind, key in d.used],
    )
    rows(
        "revision",
        "thing, version, body, valid_from, event",
        [(n, 1, text, START, event) for n, (event, _, _, text) in enumerate(d.resources, 1)],
    )


def body(event: Happened) -> str:
    return json.dumps(
        {
            "uid": str(event.uid),
            "kind": event.kind,
            "ver": 1,
            "happened": stamp(event.happened),
            "offset_min": 0,
            "unsure_ms": 0,
            "recorded": stamp(event.recorded),
            "rows": event.rows,
        }
    )
