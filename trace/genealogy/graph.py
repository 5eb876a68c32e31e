"""What a walk hands over: units, the edges between them, and what went into and out of each."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, NamedTuple

from trace.codes import printed

# Part of the parent goes on, as much as the edge says.
PART_ROLES = frozenset(
    {
        "receive", "decant", "heel", "topup", "draw", "ingredient", "insert", "graphic", "regrind", "sample",
        "scrap", "return",
    }
)  # fmt: skip
# Drawn out of what a carrier holds, by the amount or piece by piece.
BY_AMOUNT = frozenset({"draw", "topup", "insert", "graphic", "fit", "scrap", "return", "sample"})
# All of the parent goes on, or, with several children of these roles, all of it is shared among them.
SHARED_ROLES = frozenset({"charge", "cavity", "cut", "bind", "join"})
# Ways by which the material of a layer, a content or a moulding arrives; what `pure` is judged by.
MATERIAL_ROLES = (PART_ROLES - {"insert", "graphic"}) | SHARED_ROLES
# Why there proved to be more or less in a unit than the book says. Any other difference puts the book itself right.
AS_FOUND = ("fill difference", "not found when emptied", "counted")
# A container or lot is never fitted whole: a `fit` edge from one of these takes a part of it.
DRAWN_KINDS = frozenset({"lot", "content", "blend"})


class Node(NamedTuple):
    """A unit. `amount` in whole `uom` (mg, pc, mm); `labels` newest first; `serial` of a hull or plate."""

    id: int
    uid: str
    kind: str
    lot_no: str | None
    about: Mapping[str, Any]
    amount: int | None
    uom: str | None
    carrier: int | None
    event: int
    happened: datetime
    labels: tuple[str, ...] = ()
    serial: str | None = None

    @property
    def code(self) -> str:
        """What a person would ask by: the serial, a label, the moulding or lot number, else the uid."""
        return self.serial or next(iter(self.labels), None) or self.lot_no or self.uid

    @property
    def said(self) -> str:
        """The code as it is printed; of what has none the mould it was in or the order it was for, else the uid."""
        if self.code != self.uid:
            return printed(self.code)
        return str(self.about.get("mould") or self.about.get("order") or self.uid)


class Edge(NamedTuple):
    """Parent went into child: `amount` in `uom` of it, None where the record does not say.

    `aside`: it would close a circle, so it is kept as a fact and never followed.
    """

    id: int
    child: int
    parent: int
    event: int
    role: str
    layer: str | None = None
    position: str | None = None
    amount: int | None = None
    uom: str | None = None
    aside: bool = False

    @property
    def key(self) -> str:
        """The layer or position that this edge fills."""
        return self.layer or self.position or ""


@dataclass(frozen=True, slots=True)
class Flow:
    """What the records say went out of and into one unit, whoever was asked about.

    `drawn` and `unrecorded_out`: parts taken in the unit's own uom, and parts whose amount nobody recorded.
    `gain` and `difference`: fill differences and counts, the gains alone and all together; `put_right`: of these what
    puts the book itself right, and was neither found nor lost. `shared_by`: children that share all of it. `into`: live
    edges that bring material, by (layer or ""), of which `into_amount` is recorded (in the unit's own uom) and
    `into_unrecorded` edges are not. `charged`: mg of all charges of a load. `either`: (role, layer, position) of draws
    into it that came out of one of several units, nobody knows which: one of their edges has the amount, the others
    have none.
    """

    drawn: int = 0
    unrecorded_out: int = 0
    gain: int = 0
    difference: int = 0
    put_right: int = 0
    shared_by: int = 0
    into: Mapping[str, int] = field(default_factory=dict)
    into_amount: int = 0
    into_unrecorded: int = 0
    charged: int | None = None
    either: frozenset[tuple[str, str | None, str | None]] = frozenset()

    def over(self, amount: int | None) -> int:
        """What was in the unit above its book amount: gains, and draws beyond amount and differences."""
        if amount is None:
            return self.gain
        return self.gain + max(0, self.drawn - amount - self.difference)


@dataclass(frozen=True, slots=True)
class Graph:
    """The live sub-graph a walk reached. `roots` are where it began; `aside` the circles it met and left out.

    `stopped` are nodes at which the walk was told not to go on, though it could have.
    """

    roots: tuple[int, ...]
    nodes: Mapping[int, Node]
    edges: tuple[Edge, ...]
    aside: tuple[Edge, ...] = ()
    stopped: frozenset[int] = frozenset()
