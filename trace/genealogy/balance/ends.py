"""Where material is now that was taken out of a container: in a hull, a moulding, a mould, a tub, or scrap.

Follows what was made of it, unit by unit, as far as the records go. Where one thing became several, nobody recorded how
it was shared out: each has an equal part, and `sure` says that this is no more than that.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from trace.genealogy.graph import Edge, Graph, Node

# What something made goes on as, by its kind; what it is counted as while it does not.
ON: Mapping[str, frozenset[str]] = {
    "charge": frozenset({"heel", "charge"}), "load": frozenset({"cavity"}),
    "moulding": frozenset({"bind", "join", "cut"}), "part": frozenset({"bind", "join", "cut"}),
}  # fmt: skip
WAY: Mapping[str, str] = {
    "charge": "charges", "load": "moulds", "moulding": "mouldings", "part": "mouldings", "hull": "hulls",
    "sample": "samples", "scrap": "scrap", "regrind": "regrind", "return": "returned",
}  # fmt: skip
# What is taken off something made, by the amount.
OFF = frozenset({"sample", "scrap", "regrind", "return"})
# A charge that is poured back is powder again.
BACK = frozenset({"topup", "decant"})


@dataclass
class Ends:
    """`scrapped`: units that were scrapped; `mass`: mg of what was made, where the records give it."""

    graph: Graph
    scrapped: Collection[int]
    mass: Mapping[int, int]
    below: Mapping[int, list[Edge]] = field(init=False)
    _known: dict[int, dict[str, Fraction]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.below = edges_below(self.graph.edges)

    def of(self, unit: int) -> Mapping[str, Fraction]:
        """Way -> the part of the unit that is there; they add up to 1."""
        if unit not in self._known:
            # A circle of records leads back here: it ends nowhere that is known.
            self._known[unit] = {"elsewhere": Fraction(1)}
            self._known[unit] = self._of(self.graph.nodes[unit])
        return self._known[unit]

    def last(self, unit: int) -> Node:
        """The last thing that it became, the first where it became several."""
        seen = {unit}
        while True:
            on = [e.child for e in self._on(self.graph.nodes[unit]) if e.child not in seen]
            if not on:
                return self.graph.nodes[unit]
            unit = on[0]
            seen.add(unit)

    def _on(self, node: Node) -> list[Edge]:
        return [e for e in self.below.get(node.id, ()) if e.role in ON.get(node.kind, ())]

    def _of(self, node: Node) -> dict[str, Fraction]:
        found: dict[str, Fraction] = {}
        rest = Fraction(1)
        for edge in self.below.get(node.id, ()):
            mass = self.mass.get(node.id)
            back = node.kind == "charge" and edge.role in BACK
            if (edge.role in OFF or back) and edge.amount is not None and mass:
                off = min(rest, Fraction(edge.amount, mass))
                _add(found, {"back": Fraction(1)} if back else self.of(edge.child), off)
                rest -= off
        children = list(dict.fromkeys(e.child for e in self._on(node)))
        for child in children:
            _add(found, self.of(child), rest / len(children))
        if not children:
            given_up = node.id in self.scrapped or bool(node.about.get("aborted"))
            _add(found, {"scrap" if given_up else WAY.get(node.kind, "elsewhere"): Fraction(1)}, rest)
        return {way: part for way, part in found.items() if part}


def _add(found: dict[str, Fraction], parts: Mapping[str, Fraction], weight: Fraction) -> None:
    for way, part in parts.items():
        found[way] = found.get(way, Fraction(0)) + part * weight


def edges_below(edges: Iterable[Edge]) -> dict[int, list[Edge]]:
    """The edges out of each unit."""
    below: dict[int, list[Edge]] = {}
    for edge in edges:
        below.setdefault(edge.parent, []).append(edge)
    return below
