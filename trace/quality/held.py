"""What every hull of many holds of every unit behind it, in one pass over all of them together.

The bounds are those of trace/genealogy/scope.py (least, best, certain, pure), which passes one suspect on through a
graph; here all units are suspects at once, as flat arrays, level by level with every parent before its children. Only
how sure and how much is kept: no bound from above. Where several draws out of one mixed content go into one hull, each
is judged alone, so that what is certain of them only together is told as possible; so is what a book that does not
add up leaves no room for. No hull is told to hold none of what it may hold, but for traces: shares under a millionth
are left out (`left_out` of them).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trace.genealogy.graph import DRAWN_KINDS, MATERIAL_ROLES, PART_ROLES, SHARED_ROLES, Edge, Flow, Graph, Node
from trace.quality.exact import Floats, Ints
from trace.quality.incidence import Flags

TRACE = 1e-6
UOMS: Mapping[str | None, int] = {None: 0, "mg": 1, "pc": 2, "mm": 3}
INTO_PLACE = frozenset({"insert", "graphic", "fit"})
NO_FLOW = Flow()


class Pairs(NamedTuple):
    """`source` is in `unit`, in `part` (0: of no layer or position): at least `least`, `best` when well mixed (nan:
    nobody can say), in the source's own unit of measure; whether for certain, and whether there is nothing else
    there."""

    unit: Ints
    source: Ints
    part: Ints
    least: Floats
    best: Floats
    certain: Flags
    pure: Flags

    def take(self, index: NDArray[np.integer] | Flags) -> "Pairs":
        return Pairs._make(column[index] for column in self)


@dataclass(frozen=True, slots=True)
class Held:
    """Pairs of the units that were asked for. `units` are the ids behind the numbers, `parts` the names of parts."""

    units: Ints
    parts: tuple[str, ...]
    pairs: Pairs
    left_out: int


NOTHING = Pairs._make(np.zeros(0, t) for t in (*[np.int64] * 3, *[np.float64] * 2, *[np.bool_] * 2))


def held(graph: Graph, flows: Mapping[int, Flow], wanted: NDArray[np.integer]) -> Held:
    """What the units `wanted` (ids) hold of every unit of the graph, themselves too. Units that stand in a circle
    hold, as far as this tells, nothing of each other."""
    books = _Books(graph, flows)
    left_out = 0
    for level in books.levels():
        found, dropped = _level(books, level)
        books.keep(found, level)
        left_out += dropped
    numbers = np.searchsorted(books.ids, np.asarray(wanted, np.int64))
    return Held(books.ids, tuple(books.parts), books.of(numbers), left_out)


class _Books:
    """The graph as arrays by number of unit and of edge, and the pairs found so far, unit by unit."""

    def __init__(self, graph: Graph, flows: Mapping[int, Flow]) -> None:
        self.ids = np.array(sorted(graph.nodes), np.int64)
        nodes = [graph.nodes[int(unit)] for unit in self.ids]
        flow = [flows.get(node.id, NO_FLOW) for node in nodes]
        edges = [e for e in graph.edges if e.child in graph.nodes and e.parent in graph.nodes]
        self.parts = ["", *sorted({e.key for e in edges if e.key})]
        self._units(nodes, flow)
        self._edges(edges, graph, flows)
        self.store = NOTHING
        self.size = 0
        self.at = np.zeros(len(nodes), np.int64)
        self.count = np.zeros(len(nodes), np.int64)

    def _units(self, nodes: list[Node], flow: list[Flow]) -> None:
        self.amount = np.array([np.nan if n.amount is None else n.amount for n in nodes], np.float64)
        self.uom = np.array([UOMS[n.uom] for n in nodes], np.int64)
        self.over = np.array([f.over(n.amount) for n, f in zip(nodes, flow, strict=True)], np.float64)
        self.into = np.array([sum(f.into.values()) for f in flow], np.int64)
        self.into_amount = np.array([f.into_amount for f in flow], np.float64)
        self.into_unrecorded = np.array([f.into_unrecorded for f in flow], np.int64)
        self.shared_by = np.array([f.shared_by for f in flow], np.int64)
        self.removed = np.array([np.nan if f.unrecorded_out else f.drawn for f in flow], np.float64)
        self.less = np.array([min(0, f.put_right) for f in flow], np.float64)

    def _edges(self, edges: list[Edge], graph: Graph, flows: Mapping[int, Flow]) -> None:
        number = {int(unit): n for n, unit in enumerate(self.ids)}
        part = {name: n for n, name in enumerate(self.parts)}
        ends = np.array([(number[e.child], number[e.parent], part[e.key]) for e in edges], np.int64).reshape(-1, 3)
        self.child, self.parent, self.part = ends.T.copy()
        self.drawn = _flags(e.role in PART_ROLES or _fitted(e, graph) for e in edges)
        self.charge = _flags(e.role == "charge" for e in edges)
        self.placed = _flags(e.role in INTO_PLACE for e in edges)
        self.shared = _flags(e.role in SHARED_ROLES for e in edges)
        self.material = _flags(e.role in MATERIAL_ROLES for e in edges)
        self.heel = _flags(e.role == "heel" and e.amount is None for e in edges)
        self.either = _flags(_either(e, graph, flows) for e in edges)
        self.much = np.array([np.nan if e.amount is None else e.amount for e in edges], np.float64)
        self.much_uom = np.array([UOMS[e.uom] for e in edges], np.int64)
        self._measured()
        self._explained()
        self._limits()
        self._ways_into_layers()

    def _measured(self) -> None:
        """A unit without an amount of its own is measured as the first draw from it is."""
        for n in np.flatnonzero(self.drawn & (self.much_uom > 0))[::-1]:
            if np.isnan(self.amount[self.parent[n]]):
                self.uom[self.parent[n]] = self.much_uom[n]

    def _explained(self) -> None:
        """Whether the recorded ways in account for all that a unit weighs."""
        heels = np.bincount(self.child[self.heel], minlength=len(self.ids))
        enough = self.into_amount >= self.amount + self.less
        self.explained = (self.into_unrecorded > heels) | np.isnan(self.amount) | enough
        self.by_charge = np.bincount(self.child[self.charge], minlength=len(self.ids)) > 0

    def _limits(self) -> None:
        """All there ever was of each unit, finds over the book too, and all that there is room for in it."""
        over = np.bincount(self.uom, self.over, len(UOMS))[self.uom]
        own = np.where((self.uom == UOMS["mg"]) & (self.removed > 0), self.removed, np.nan)
        self.all_of = np.where(np.isnan(self.amount), own, self.amount) + over
        self.room = np.fmax(self.amount, self.into_amount) + self.over
        self.room[np.isnan(self.amount)] = np.nan

    def _ways_into_layers(self) -> None:
        """How many charges go into each layer of each load."""
        key = self.child[self.charge] * len(self.parts) + self.part[self.charge]
        self.layer_keys, self.layer_ways = np.unique(key, return_counts=True)

    def ways_into(self, unit: Ints, part: Ints) -> Ints:
        """How many ways must bring nothing but a source so that this part of the unit is of it alone."""
        key = unit * len(self.parts) + part
        at = np.minimum(np.searchsorted(self.layer_keys, key), max(0, len(self.layer_keys) - 1))
        there = self.layer_keys[at] == key if len(self.layer_keys) else np.zeros(len(key), np.bool_)
        layers = np.where(there, self.layer_ways[at], 0) if len(self.layer_keys) else np.zeros(len(key), np.int64)
        return np.where(self.by_charge[unit], layers, self.into[unit])

    def levels(self) -> list[Ints]:
        """The units with every parent in an earlier level (Kahn 1962); what stands in a circle is in none."""
        waiting = np.bincount(self.child, minlength=len(self.ids))
        order = np.argsort(self.parent, kind="stable")
        starts = np.searchsorted(self.parent[order], np.arange(len(self.ids) + 1))
        found, ready = [], np.flatnonzero(waiting == 0)
        while len(ready):
            found.append(ready)
            _which, edges = _spread(starts[ready], starts[ready + 1] - starts[ready])
            children = self.child[order[edges]]
            np.subtract.at(waiting, children, 1)
            ready = np.unique(children[waiting[children] == 0])
        self._by_child = np.argsort(self.child, kind="stable")
        self._into_starts = np.searchsorted(self.child[self._by_child], np.arange(len(self.ids) + 1))
        return found

    def edges_into(self, units: Ints) -> Ints:
        _which, places = _spread(self._into_starts[units], self._into_starts[units + 1] - self._into_starts[units])
        return self._by_child[places]

    def keep(self, found: Pairs, level: Ints) -> None:
        """Remember the pairs of one level, which stand in the order of their units."""
        ends = np.searchsorted(found.unit, level, side="right")
        first = np.searchsorted(found.unit, level)
        self.at[level], self.count[level] = self.size + first, ends - first
        size = self.size + len(found.unit)
        if size > len(self.store.unit):
            self.store = Pairs._make(np.resize(column, max(size, 2 * self.size)) for column in self.store)
        for column, more in zip(self.store, found, strict=True):
            column[self.size : size] = more
        self.size = size

    def of(self, units: Ints) -> Pairs:
        return self.along(units)[1]

    def along(self, units: Ints) -> tuple[Ints, Pairs]:
        """The pairs of each of these units in turn, and at which of them each stands."""
        which, places = _spread(self.at[units], self.count[units])
        return which, self.store.take(places)


def _flags(said: Iterable[bool]) -> Flags:
    return np.fromiter(said, np.bool_)


def _fitted(edge: Edge, graph: Graph) -> bool:
    return edge.role == "fit" and graph.nodes[edge.parent].kind in DRAWN_KINDS


def _either(edge: Edge, graph: Graph, flows: Mapping[int, Flow]) -> bool:
    """Whether the draw came out of this unit or another, as scope.py says it."""
    node, flow = graph.nodes[edge.child], flows.get(edge.child, NO_FLOW)
    all_said = node.amount is None or flow.into_amount >= node.amount
    return all_said and (edge.role, edge.layer, edge.position) in flow.either


def _spread(starts: Ints, counts: Ints) -> tuple[Ints, Ints]:
    """(0 0 0 1 1 …, every place from each start on) for so many places from each start."""
    which = np.repeat(np.arange(len(starts)), counts)
    before = np.cumsum(counts) - counts
    return which, np.repeat(starts - before, counts) + np.arange(int(counts.sum()))


def _level(books: _Books, level: Ints) -> tuple[Pairs, int]:
    """The pairs of the units of one level, in the order of (unit, source, part), and how many traces were left out."""
    edges = books.edges_into(level)
    which, above = books.along(books.parent[edges])
    arriving = _passed(books, edges[which], above)
    together = _together(books, arriving, edges[which])
    trace = (together.best < TRACE * books.amount[together.unit]) & ~together.certain
    trace &= books.uom[together.unit] == books.uom[together.source]
    own = _own(books, level)
    both = Pairs._make(np.concatenate(columns) for columns in zip(own, together.take(~trace), strict=True))
    return both.take(np.lexsort((both.part, both.source, both.unit))), int(trace.sum())


def _own(books: _Books, level: Ints) -> Pairs:
    """Each unit holds all of itself."""
    amount, yes = books.amount[level], np.ones(len(level), np.bool_)
    return Pairs(level, level, np.zeros(len(level), np.int64), np.nan_to_num(amount), amount, yes, yes)


def _passed(books: _Books, edge: Ints, share: Pairs) -> Pairs:
    """What goes along each edge of each pair of the unit above it."""
    drawn = books.drawn[edge]
    by_draw, whole = _drawn(books, edge, share), _whole(books, edge, share)
    part = np.where(drawn, np.where(books.placed[edge], books.part[edge], 0),
                    np.where(books.charge[edge], books.part[edge], share.part))  # fmt: skip
    chosen = [np.where(drawn, one, other) for one, other in zip(by_draw, whole, strict=True)]
    return Pairs(books.child[edge], share.source, part, *chosen)


Values = tuple[Floats, Floats, Flags, Flags]


def _drawn(books: _Books, edge: Ints, share: Pairs) -> Values:
    """Part of the parent: amounts.part for every pair."""
    parent, uom = books.parent[edge], books.uom[share.source]
    low, high = _draws(books, edge, uom)
    same = books.uom[parent] == uom
    total = np.where(same, np.fmax(books.amount[parent], books.into_amount[parent]), np.nan)
    total = np.where(np.isnan(books.amount[parent]), np.nan, total)
    over = np.where(same, books.over[parent], 0)
    doubtful = (books.into_unrecorded[parent] > 0) & (books.into_amount[parent] >= total)
    known = (total > 0) & (over == 0) & ~doubtful
    least = np.where(known, np.maximum(0, low - (total - share.least)), 0)
    exact = np.where(low == high, low, np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        best = exact * share.best / (total + over)
    least, best = np.where(share.pure, low, np.nan_to_num(least)), np.where(share.pure, exact, best)
    certain = share.pure | (least > 0)
    # Nobody knows whether a heel was left, or out of which of two it came.
    certain &= ~(books.heel[edge] | books.either[edge])
    return least, best, certain, share.pure


def _draws(books: _Books, edge: Ints, uom: Ints) -> tuple[Floats, Floats]:
    """The least and the most that each draw can have taken: as recorded, else what its child lacks."""
    child = books.child[edge]
    told = np.where(books.much_uom[edge] == uom, books.much[edge], np.nan)
    rest = books.amount[child] - books.into_amount[child]
    follows = np.isnan(books.much[edge]) & books.material[edge] & (books.uom[child] == uom) & (rest > 0)
    single = follows & (books.into_unrecorded[child] == 1)
    low = np.where(single, rest, np.where(np.isnan(told), 0, told))
    high = np.where(follows, rest, np.where(np.isnan(told), np.inf, told))
    return np.where(books.either[edge], 0, low), high


def _whole(books: _Books, edge: Ints, share: Pairs) -> Values:
    """All of the parent, less what was cut off it, shared out where it has several children."""
    parent = books.parent[edge]
    own = np.where(books.uom[parent] == 0, 1, books.uom[parent]) == books.uom[share.source]
    removed = np.where(own, books.removed[parent], 0)
    cut = ~(removed == 0)
    least = np.where(cut, np.nan_to_num(np.maximum(0, share.least - removed)), share.least)
    certain = np.where(cut, share.pure | (least > 0), share.certain)
    ways = np.where(books.shared[edge], np.maximum(1, books.shared_by[parent]), 1)
    several = ways > 1
    return np.where(several, 0, least), share.best / ways, np.where(several, share.pure, certain), share.pure


def _together(books: _Books, share: Pairs, edge: Ints) -> Pairs:
    """What all ways into each part of each unit bring together."""
    if not len(edge):
        return NOTHING
    order = np.lexsort((share.part, share.source, share.unit))
    share, edge = share.take(order), edge[order]
    changes = (np.diff(share.unit) != 0) | (np.diff(share.source) != 0) | (np.diff(share.part) != 0)
    starts = np.flatnonzero(np.concatenate([[True], changes]))
    unit, source, part = share.unit[starts], share.source[starts], share.part[starts]
    pure_ways = np.add.reduceat((share.pure & books.material[edge]).astype(np.int64), starts)
    wanted = books.ways_into(unit, part)
    pure = (wanted > 0) & (pure_ways == wanted) & books.explained[unit]
    certain = np.logical_or.reduceat(share.certain, starts)
    least, best = np.add.reduceat(share.least, starts), np.add.reduceat(share.best, starts)
    room = np.where(books.uom[unit] == books.uom[source], books.room[unit], np.nan)
    most = np.fmin(books.all_of[source], room)
    least = np.fmin(least, most)
    best = np.where(np.isnan(best), np.nan, np.maximum(np.fmin(best, most), least))
    certain |= pure & (np.nan_to_num(books.amount[unit]) > 0)
    return Pairs(unit, source, part, least, best, certain | (least > 0), pure)
