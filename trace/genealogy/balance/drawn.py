"""Balances of draws alone, by material: what was weighed and placed for a works order, what a plant used on some days.

No vessel has to be unmixed for these: every figure is the sum of recorded amounts, exact to the milligram.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from trace.genealogy.amounts import Bounds, Draw
from trace.genealogy.balance.ends import Ends
from trace.genealogy.balance.figures import ENDS, Balance, Book, Figure, Part, Record, Uncertainty, figure_of
from trace.genealogy.balance.records import Said, scrapped_among
from trace.genealogy.flows import flows
from trace.genealogy.graph import Edge, Graph, Node
from trace.genealogy.mixes import said_of
from trace.genealogy.scope import prepare
from trace.genealogy.walk import REGRIND, walk

Measure = tuple[str, str]  # material, unit of measure
UNMEASURED = Uncertainty()


@dataclass(frozen=True, slots=True)
class Line:
    """One amount of one material on one way, with the record that says it; `unit` is the container it concerns."""

    way: str
    unit: Node
    amount: Fraction
    record: Record


def measure_of(node: Node, uom: str | None) -> Measure:
    about = node.about
    materials = about.get("materials") or ([about["material"]] if about.get("material") else [])
    return str(said_of(materials)["material"] or ""), uom or node.uom or "mg"


def powder_first(item: tuple[Measure, object]) -> tuple[bool, Measure]:
    return item[0][1] != "mg", item[0]


def ends_of(units: Collection[int], known: datetime) -> Ends:
    """Where all that was made of these units is now."""
    graph = walk(sorted(units), "forward", known, stop_roles=REGRIND) if units else Graph((), {}, ())
    plan = prepare(graph, flows(graph.nodes, known))
    return Ends(graph, scrapped_among(graph.nodes, known), plan.mass)


def line_in(way: str, edge: Edge, unit: Node, said: Said) -> Line:
    """What came along an edge out of `unit`, by the record that says it."""
    record = Record(said.event, said.happened, edge.role, unit.said, unit.uid, unit.kind, edge.amount)
    return Line(way, unit, Fraction(edge.amount or 0), record)


def lines_out(edges: Iterable[Edge], units: Mapping[int, Node], ends: Ends, said: Mapping[int, Said]) -> list[Line]:
    """Each draw on the ways that what it made went; an amount on two ways is shared out as `Ends` does."""
    found = []
    for edge in edges:
        child, last = ends.graph.nodes[edge.child], ends.last(edge.child)
        event, happened = said[edge.id]
        shown = last if last.kind == "hull" else child
        then = last.said if last.id != child.id else ""
        code = child.said if child.said != child.uid else child.kind
        record = Record(event, happened, edge.role, code, shown.uid, shown.kind, edge.amount, then)
        for way, part in ends.of(edge.child).items():
            found.append(Line(way, units[edge.parent], part * (edge.amount or 0), record))
    return found


def figures(lines: Iterable[Line], order: Sequence[str]) -> tuple[Figure, ...]:
    """A figure for each way, in this order, with a part for each container."""
    ways: dict[str, dict[int, list[Line]]] = {}
    for line in lines:
        ways.setdefault(line.way, {}).setdefault(line.unit.id, []).append(line)
    known = [way for way in order if way in ways] + sorted(way for way in ways if way not in order)
    return tuple(figure_of(way, [_part(some) for some in ways[way].values()]) for way in known)


def _part(lines: list[Line]) -> Part:
    node, amount = lines[0].unit, sum((line.amount for line in lines), Fraction(0))
    whole = round(amount)
    bounds = Bounds(whole, amount, whole)
    share = Bounds(0, None, None, certain=True, pure=True)
    records = tuple(line.record for line in lines)
    return Part(node.said, node.uid, node.amount, share, Draw(whole, whole), bounds, records)


@dataclass(frozen=True, slots=True)
class Asked:
    """What all balances of one question have in common."""

    subject: str
    code: str
    known: datetime
    size: int

    def balance(
        self,
        measure: Measure,
        came: Sequence[Line],
        ends: Sequence[Line],
        differences: Sequence[Line],
        left: int,
        unrecorded: int = 0,
        uncertainty: Uncertainty = UNMEASURED,
    ) -> Balance:
        """`left`: what is in stock at the end, already among the ends. `unrecorded` draws have no amount."""
        total = int(sum((line.amount for line in came), Fraction(0)))
        more = int(sum((line.amount for line in differences), Fraction(0)))
        drawn = int(sum((line.amount for line in ends), Fraction(0)))
        material, uom = measure
        return Balance(
            subject=self.subject, code=self.code, name=self.code, material=material, uom=uom, as_known_on=self.known,
            tree_size=self.size, came=figures(came, ()), ends=figures(ends, ENDS),
            differences=figures(differences, ()), unexplained=Bounds(-more, Fraction(-more), -more),
            uncertainty=uncertainty, counted=bool(differences),
            book=Book(total, drawn - left, 0, more, left, unrecorded),
        )  # fmt: skip
