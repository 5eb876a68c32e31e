"""Reckons the figures of a balance out of a walked graph: what each container and each filling of a vessel gave.

Powder and parts are followed container by container. Each draw that was made into something is one way out, whatever
became of it (ends.py); all draws from one filling into one way are one draw, so that no kilogram is counted twice and
the bounds are as close as the records allow. Nothing here reads a database.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from trace.genealogy.amounts import Bounds, Draw
from trace.genealogy.balance.ends import Ends
from trace.genealogy.balance.figures import ENDS, Book, Figure, Part, Record, figure_of, tightened
from trace.genealogy.balance.records import Differs, Said
from trace.genealogy.graph import DRAWN_KINDS, Edge, Flow, Node
from trace.genealogy.scope import Plan, Share, draw_along, fully_mixed, is_part, sum_of, taken

STOCK_KINDS = DRAWN_KINDS | {"regrind"}
# By the book more came out than was in it: nobody booked a difference for that yet.
OVERDRAWN = "over the book"


@dataclass
class Reckoning:
    """`shares` of what is asked about in each unit (a sweep's); `own`: the containers it came in. `said`: the event of
    each edge by id; `differs`: the differences booked, by unit.
    """

    plan: Plan
    shares: Mapping[int, Share]
    uom: str
    own: Collection[int]
    ends: Ends
    said: Mapping[int, Said]
    differs: Mapping[int, list[Differs]]
    stock: frozenset[int] = field(init=False)

    def __post_init__(self) -> None:
        self.stock = stock_of(self.ends)

    def units(self) -> list[int]:
        """The containers and fillings that hold or held any of it, parents first."""
        return [u for u in self.plan.order if u in self.stock and u in self.shares and _holds(self.shares[u].total)]

    def figures(self, received: int | None) -> list[Figure]:
        """One for each way that any of it went, with what is left."""
        ways: dict[str, list[Part]] = {}
        for unit in self.units():
            for way, part in (*self._made(unit), *self._left(unit)):
                ways.setdefault(way, []).append(part)
        found = [figure_of(way, ways[way]) for way in ENDS if way in ways]
        if received is None:
            return found
        gone = [figure.bounds for figure in self.differences()]
        least_lost = -sum(min(bounds.most or 0, 0) for bounds in gone)
        most_lost = -sum(min(bounds.least, 0) for bounds in gone)
        return tightened(found, received + self._over(pure=True) - most_lost, received + self._over() - least_lost)

    def differences(self) -> list[Figure]:
        """What was found more or less than the book says, by cause; below zero is missing."""
        causes: dict[str, list[Part]] = {}
        for unit in self.units():
            for one in self.differs.get(unit, ()):
                causes.setdefault(one.cause, []).append(self._differs(unit, one.amount, one))
            if over := self._overdrawn(unit):
                causes.setdefault(OVERDRAWN, []).append(self._differs(unit, over, None))
        return [figure_of(cause, parts) for cause, parts in sorted(causes.items())]

    def share(self, unit: int) -> Bounds:
        """What of it is in a unit. One that holds more than the ways into it bring holds something of a source that
        nobody recorded besides, though all that is recorded of it is of one lot."""
        share, node = self.shares[unit].total, self.plan.graph.nodes[unit]
        if not share.pure or node.amount is None or node.uom != self.uom:
            return share
        return replace(share, pure=False) if share.best is None or share.best < node.amount else share

    def ratio(self, unit: int) -> Fraction | None:
        """Which part of what leaves a unit is of what is asked about, fully mixed."""
        return fully_mixed(self.plan, unit, self.share(unit), self.uom)

    def book(self, came: int | None) -> Book:
        """The book of the containers asked about; what only stayed in one from one filling to the next is not in it."""
        flows = [self.plan.flows.get(unit, Flow()) for unit in self.own]
        edges = [edge for unit in self.own for edge in self.out_of(unit) if edge.uom == self.uom]
        within = sum(edge.amount or 0 for edge in edges if edge.child in self.own)
        poured = sum(edge.amount or 0 for edge in edges if edge.child in self.stock and edge.child not in self.own)
        left = [self.left(unit) for unit in self.own]
        return Book(
            came=came, gave=sum(flow.drawn for flow in flows) - within, poured=poured,
            differences=sum(flow.difference for flow in flows),
            left=None if None in left else sum(filter(None, left)), unrecorded=sum(f.unrecorded_out for f in flows),
        )  # fmt: skip

    def out_of(self, unit: int) -> list[Edge]:
        """The draws by which a unit gives away a part of it."""
        node = self.plan.graph.nodes[unit]
        return [e for e in self.ends.below.get(unit, ()) if is_part(e, node)]

    def _made(self, unit: int) -> Iterator[tuple[str, Part]]:
        """Of one container what became something else, by what that is now."""
        for way, draws in self._by_way(unit).items():
            together = sum_of(draw for _edge, draw, _part in draws)
            best = sum((part * self._best(edge) for edge, _draw, part in draws), Fraction(0))
            yield way, self._part(unit, together, best, [self._record(edge) for edge, _draw, _part in draws])

    def _by_way(self, unit: int) -> dict[str, list[tuple[Edge, Draw, Fraction]]]:
        """Way -> each draw that went there, how much of it may have, and which part of it is reckoned to have."""
        ways: dict[str, list[tuple[Edge, Draw, Fraction]]] = {}
        for edge in self._drawn(unit):
            draw = self._draw(edge)
            ends = {"back": Fraction(1)} if edge.child in self.own else self.ends.of(edge.child)
            for way, part in ends.items():
                ways.setdefault(way, []).append((edge, draw if part == 1 else Draw(0, draw.high), part))
        return ways

    def _drawn(self, unit: int) -> list[Edge]:
        """The draws that made something of it, what was poured back, and the tipping of a charge that went two ways."""
        node = self.plan.graph.nodes[unit]
        back = self.own if unit not in self.own and node.kind != "lot" else ()
        edges = [e for e in self.ends.below.get(unit, ()) if e.child not in self.stock or e.child in back]
        return [e for e in edges if is_part(e, node) or (node.kind == "charge" and e.role == "charge")]

    def _draw(self, edge: Edge) -> Draw:
        if edge.role == "charge" and edge.amount is None:
            left = max(self.left(edge.parent) or 0, 0)
            return Draw(left, left)
        return draw_along(self.plan, edge, self.uom)

    def _best(self, edge: Edge) -> Fraction:
        """An amount as recorded, though nobody knows out of which of several it was; else what must have been drawn."""
        if edge.amount is not None and edge.uom == self.uom:
            return Fraction(edge.amount)
        return Fraction(self._draw(edge).exact or 0)

    def left(self, unit: int) -> int | None:
        """What is in it by the book, in its own unit of measure; None: there is no book."""
        node = self.plan.graph.nodes[unit]
        if node.amount is None:
            return None
        flow = self.plan.flows.get(unit, Flow())
        return node.amount + flow.difference - flow.drawn

    def _left(self, unit: int) -> Iterator[tuple[str, Part]]:
        node, left = self.plan.graph.nodes[unit], self.left(unit)
        tipped = node.kind == "charge" and any(e.role == "charge" for e in self.ends.below.get(unit, ()))
        way = "charges" if node.kind == "charge" else "stock" if unit in self.own else "vessels"
        if tipped or node.kind == "lot" or node.uom not in (self.uom, None) or (left is not None and left <= 0):
            return
        if left is None:
            share = self.share(unit)
            yield way, Part(node.said, node.uid, None, share, Draw(0, None), Bounds(0, None, share.most))
            return
        yield way, self._part(unit, Draw(left, left), Fraction(left), [])

    def _part(self, unit: int, draw: Draw, best: Fraction, records: list[Record]) -> Part:
        node, share, ratio = self.plan.graph.nodes[unit], self.share(unit), self.ratio(unit)
        bounds = taken(self.plan, unit, share, draw, self.uom)
        bounds = replace(bounds, best=None if ratio is None else ratio * best)
        return Part(node.said, node.uid, node.amount, share, draw, bounds, tuple(records))

    def _differs(self, unit: int, amount: int, one: Differs | None) -> Part:
        """Found more: nobody knows of which lot, where it was mixed. Missing: as much of it as of anything drawn."""
        node, share, ratio = self.plan.graph.nodes[unit], self.share(unit), self.ratio(unit)
        records = []
        if one is not None:
            records = [Record(one.event, one.happened, one.cause, node.said, node.uid, node.kind, amount)]
        if amount > 0:
            bounds = Bounds(amount, Fraction(amount), amount) if share.pure else Bounds()
            return Part(node.said, node.uid, node.amount, share, Draw(0, 0), bounds, tuple(records))
        lost = Draw(-amount, -amount)
        found = taken(self.plan, unit, share, lost, self.uom)
        best = None if ratio is None else ratio * amount
        bounds = Bounds(amount if found.most is None else -found.most, best, -found.least)
        return Part(node.said, node.uid, node.amount, share, lost, bounds, tuple(records))

    def _overdrawn(self, unit: int) -> int:
        """How much more was drawn than the book and the differences booked allow; what came in over its amount is
        missing from it."""
        node = self.plan.graph.nodes[unit]
        flow = self.plan.flows.get(unit, Flow())
        if node.amount is None or node.uom != self.uom:
            return 0
        return max(0, flow.drawn - node.amount - flow.difference)

    def _over(self, *, pure: bool = False) -> int:
        """All that was found over the book; `pure`: where it is of what is asked about for certain."""
        flows = ((unit, self.plan.flows.get(unit, Flow()), self.plan.graph.nodes[unit]) for unit in self.units())
        return sum(
            flow.over(node.amount)
            for unit, flow, node in flows
            if node.uom == self.uom and (self.share(unit).pure or not pure)
        )

    def _record(self, edge: Edge) -> Record:
        event, happened = self.said[edge.id]
        child, last = self.plan.graph.nodes[edge.child], self.ends.last(edge.child)
        then = last.said if last.id != child.id else ""
        shown = last if last.kind == "hull" else child
        return Record(event, happened, edge.role, _code(child), shown.uid, shown.kind, edge.amount, then)


def stock_of(ends: Ends) -> frozenset[int]:
    """The units that are powder or parts still: what is drawn out of them counts, not what went from one to another."""
    nodes = ends.graph.nodes.values()
    found = {n.id for n in nodes if n.kind in STOCK_KINDS}
    return frozenset(found | {n.id for n in nodes if n.kind == "charge" and _spread(n, ends.below.get(n.id, []))})


def _spread(charge: Node, edges: list[Edge]) -> bool:
    """Whether a charge did not go on whole: some of it was poured back, or went two ways."""
    if not edges:
        return False
    whole = all(e.role == "charge" or (e.role == "heel" and e.amount in (None, charge.amount)) for e in edges)
    return not whole or len({e.child for e in edges}) > 1


def _holds(share: Bounds) -> bool:
    return share.certain or share.most != 0


def _code(node: Node) -> str:
    return node.said if node.said != node.uid else node.kind
