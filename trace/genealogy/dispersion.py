"""Dispersion: how many hulls each lot reached, how many lots each hull holds, and what a recall of each would take.

Downward dispersion of a lot is the number of hulls that it reached, upward dispersion of a hull the number of lots in
it; both count the same links between lots and hulls, so that each adds up to their number (Dupuy, Botta-Genoulaz and
Guinet 2005, from memory). The worst recall is the largest of all lots, the mean that of a lot taken by chance (after
Dabbene and Gay 2011, from memory). Links are ways along live edges, whether the hull holds some for certain or may.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from trace.genealogy.balance.ends import ON, Ends, edges_below
from trace.genealogy.balance.records import scrapped_among
from trace.genealogy.graph import Graph, Node
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import reached_ids, walk

# All that went into some hulls: who went into whom, and which of them are lots.
BEHIND = f"""
WITH met AS MATERIALIZED ({reached_ids("back")})
SELECT e.child, e.parent FROM met JOIN edge e ON e.child = met.id AND NOT e.aside AND {LIVE}
"""
LOTS = "SELECT u.id FROM unit u WHERE u.id = ANY (%(ids)s::bigint[]) AND u.kind = 'lot' ORDER BY u.id"
# What becomes a hull, as long as it has not: a charge in a tub, a mould that is loaded, a moulding without a plate.
BECOMES = ("charge", "load", "moulding", "part", "hull")


@dataclass(frozen=True, slots=True)
class Dispersion:
    """`down`: the hulls that each lot reached, `up`: the lots in each hull, both by id."""

    down: Mapping[int, int]
    up: Mapping[int, int]

    @property
    def links(self) -> int:
        return sum(self.up.values())

    @property
    def worst(self) -> int:
        return max(self.down.values(), default=0)

    @property
    def mean(self) -> Fraction:
        return Fraction(sum(self.down.values()), len(self.down)) if self.down else Fraction(0)


def dispersion_of(hulls: Collection[int], as_known_on: datetime | None = None) -> Dispersion:
    """Of all lots that reached these hulls."""
    values = {"roots": id_array(sorted(hulls)), "known": known_by(as_known_on)}
    edges = [(child, parent) for child, parent in fetch_rows(BEHIND, values)]
    met = sorted({unit for edge in edges for unit in edge} | set(hulls))
    lots = [unit for (unit,) in fetch_rows(LOTS, {"ids": id_array(met)})]
    return counted(edges, lots, hulls)


def counted(edges: Iterable[tuple[int, int]], lots: Sequence[int], hulls: Collection[int]) -> Dispersion:
    """The same of a graph of (child, parent): each unit passes on which lots are in it, as the bits of one number."""
    above: dict[int, list[int]] = {}
    for child, parent in edges:
        above.setdefault(child, []).append(parent)
    bit = {lot: 1 << n for n, lot in enumerate(lots)}
    inside: dict[int, int] = {}
    for hull in hulls:
        _fill(hull, above, bit, inside)
    down = dict.fromkeys(lots, 0)
    up = {}
    for hull in hulls:
        held = inside[hull]
        up[hull] = held.bit_count()
        for n in _places(held):
            down[lots[n]] += 1
    return Dispersion({lot: count for lot, count in down.items() if count}, up)


def _fill(unit: int, above: Mapping[int, list[int]], bit: Mapping[int, int], inside: dict[int, int]) -> None:
    """What is in one unit, those behind it first; without recursion, since regrind leads back without end."""
    stack = [unit]
    waiting = set()
    while stack:
        one = stack[-1]
        if one in inside:
            stack.pop()
            continue
        open_ = [p for p in above.get(one, ()) if p not in inside and p not in waiting]
        if open_ and one not in waiting:
            waiting.add(one)
            stack += open_
            continue
        stack.pop()
        waiting.discard(one)
        held = bit.get(one, 0)
        for parent in above.get(one, ()):
            held |= inside.get(parent, 0)
        inside[one] = held


def _places(bits: int) -> Iterable[int]:
    """The numbers of the bits that are set."""
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low


@dataclass(frozen=True, slots=True)
class AtStake:
    """What a recall of one lot would take: hulls, and what becomes hulls."""

    lot: Node
    hulls: frozenset[int]
    under_way: frozenset[int]

    @property
    def count(self) -> int:
        return len(self.hulls) + len(self.under_way)


def at_stake(lots: Collection[int], as_known_on: datetime | None = None) -> list[AtStake]:
    """Of each lot, in the order of their ids; what was scrapped is not recalled."""
    found = []
    for lot in sorted(lots):
        graph = walk([lot], "forward", as_known_on)
        found.append(_at_stake(graph, lot, scrapped_among(graph.nodes, as_known_on)))
    return found


def _at_stake(graph: Graph, lot: int, scrapped: Collection[int]) -> AtStake:
    ends = Ends(graph, scrapped, {})
    below = edges_below(graph.edges)
    hulls, under_way = set(), set()
    for unit, node in graph.nodes.items():
        if node.kind not in BECOMES or set(ends.of(unit)) == {"scrap"}:
            continue
        if node.kind == "hull":
            hulls.add(unit)
        elif not any(e.role in ON[node.kind] for e in below.get(unit, ())):
            under_way.add(unit)
    return AtStake(graph.nodes[lot], frozenset(hulls), frozenset(under_way))


def lots_behind(unit: int, as_known_on: datetime | None = None) -> list[Node]:
    """The lots in a hull, a vessel or a container, by id."""
    graph = walk([unit], "back", as_known_on)
    return [node for node in graph.nodes.values() if node.kind == "lot"]

