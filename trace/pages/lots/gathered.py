"""Everything known of one lot, or of what a vessel holds, at a moment."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from django.db import connection

from trace.genealogy.answer import Answer, Line, of_unit, one_picture, what_was_known
from trace.genealogy.find import UnknownCodeError, find_unit
from trace.genealogy.flows import flows
from trace.genealogy.graph import Flow, Node
from trace.genealogy.live import LIVE, known_by
from trace.genealogy.walk import nodes, walk
from trace.pages.facts.entries import Entry, Row, answers, entries
from trace.pages.facts.holding import Laid, held, laid
from trace.pages.facts.known import Known, known_of

SUBJECTS = frozenset({"lot", "blend", "content", "regrind"})
# A container's content that was received is part of its lot; what a vessel holds is a subject of its own.
RECEIVED = f"""
SELECT e.parent FROM edge e WHERE e.child = %(unit)s AND e.role = 'receive' AND NOT e.aside AND {LIVE}
ORDER BY e.id LIMIT 1
"""
CARRIERS = """
SELECT u.id, c.kind FROM unit u JOIN carrier c ON c.id = u.carrier WHERE u.id = ANY (%(ids)s)
"""
HULLS = """
SELECT count(*) FROM unit u JOIN event e ON e.id = u.event AND e.recorded <= %(known)s::timestamptz
WHERE u.kind = 'hull'
"""


@dataclass(frozen=True)
class GatheredLot:
    """`answer` is the forward trace of the lot. `flows` are those of its containers and of what it was mixed
    into; `carriers` says what they are in. `held`: units under any hold. `all_hulls` counts every hull there was.
    `behind`: the lots that came together in a vessel or a blend.
    """

    answer: Answer
    flows: Mapping[int, Flow]
    carriers: Mapping[int, str]
    entries: tuple[Entry, ...]
    known: Known
    holds: tuple[Laid, ...]
    held: frozenset[int]
    answers: Mapping[int, Row]
    all_hulls: int
    asked: datetime | None
    behind: tuple[Node, ...] = ()

    @property
    def lot(self) -> Node:
        return self.answer.root

    @cached_property
    def lines(self) -> dict[int, Line]:
        return {line.node.id: line for line in self.answer.lines}

    @cached_property
    def hulls(self) -> list[Line]:
        return [line for line in self.answer.lines if line.node.kind == "hull"]

    @cached_property
    def containers(self) -> list[Node]:
        """What the lot came in: the contents received of it, or the content itself."""
        if self.lot.kind != "lot":
            return [self.lot]
        own = [e.child for e in self.answer.edges if e.parent == self.lot.id and e.role == "receive"]
        return [self.lines[unit].node for unit in own]

    @cached_property
    def mixed(self) -> list[Node]:
        """Other containers and vessels that hold or held some of it."""
        own = {n.id for n in self.containers}
        return [
            line.node
            for line in self.answer.lines
            if line.node.kind in ("content", "blend", "regrind") and line.node.id not in own | {self.lot.id}
        ]

    def left(self, node: Node) -> int | None:
        """What the book says is in it still: amount and differences less what was drawn; None: no book."""
        if node.amount is None:
            return None
        flow = self.flows.get(node.id, Flow())
        return node.amount + flow.difference - flow.drawn


class NoLotError(UnknownCodeError):
    """The code stands for something else than a lot or a container: `node`."""

    def __init__(self, node: Node) -> None:
        super().__init__(f"{node.code} is a {node.kind}, no lot.")
        self.node = node


def gather_lot(code: str, as_known_on: datetime | None = None) -> GatheredLot:
    """Read all of one lot, by its number or by a label of one of its containers.

    Raises NoLotError, UnknownCodeError or AmbiguousCodeError (LookupErrors of one sentence).
    """
    with one_picture():
        at, size = what_was_known(as_known_on)
        unit = find_unit(code, at)
        lot = _lot_of(unit, at)
        if lot is None:
            node = nodes([unit], at)[unit]
            if node.kind not in SUBJECTS:
                raise NoLotError(node)
        answer = of_unit(lot or unit, code, "forward", at, size)
        return _gather(answer, as_known_on)


def _lot_of(unit: int, at: datetime) -> int | None:
    with connection.cursor() as cursor:
        cursor.execute(RECEIVED, {"unit": unit, "known": known_by(at)})
        row = cursor.fetchone()
        return row[0] if row else None


def _gather(answer: Answer, asked: datetime | None) -> GatheredLot:
    at = answer.as_known_on
    stock = {x.node.id for x in answer.lines if x.node.kind in SUBJECTS}
    own = {answer.root.id} | {e.child for e in answer.edges if e.parent == answer.root.id and e.role == "receive"}
    told = entries(inner=(), stock=own, as_known_on=at)
    holds = laid(own, at)
    hulls = {x.node.id for x in answer.lines if x.node.kind == "hull"}
    said = answers([e.id for e in told if e.flagged])
    above = walk([answer.root.id], "back", at).nodes.values() if answer.root.kind != "lot" else ()
    behind = tuple(n for n in above if n.kind == "lot")
    abouts = [n.about for n in behind]
    abouts += [x.node.about for x in answer.lines if x.node.id in stock or x.node.kind in ("hull", "consignment")]
    places = {x.place for x in answer.lines if x.node.id in stock | hulls}
    with connection.cursor() as cursor:
        cursor.execute(CARRIERS, {"ids": sorted(stock)})
        carriers = dict(cursor.fetchall())
        cursor.execute(HULLS, {"known": known_by(at)})
        every = cursor.fetchone()[0]
    return GatheredLot(
        answer, flows(stock, at), carriers, tuple(told),
        known_of(told, abouts, holds, said.values(), places, at),
        tuple(holds), frozenset(held(hulls | own, at)), said, every, asked, behind,
    )  # fmt: skip
