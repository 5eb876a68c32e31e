"""Everything known of one hull at a moment, read from the truth tables in a bounded number of queries."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from trace.genealogy.answer import Answer, Line, of_unit, one_picture, what_was_known
from trace.genealogy.find import UnknownCodeError, find_unit
from trace.genealogy.graph import Edge, Node
from trace.sheets.facts.around import packs_around
from trace.sheets.facts.checks import Standing, checks
from trace.sheets.facts.entries import Entry, Row, answers, closed, entries
from trace.sheets.facts.holding import Laid, laid, reached
from trace.sheets.facts.known import Known, known_of
from trace.sheets.facts.revisions import Revisions

STOCK_KINDS = frozenset({"lot", "content", "blend", "regrind"})


@dataclass(frozen=True)
class Gathered:
    """One hull as known at `answer.as_known_on`. `around` are its packs and consignments, `holds` those that
    reach it or a pack it is in. `checks` are by (instrument, time of use); `answers` by event id. `asked` is
    the moment as it was asked for (None: now), which links carry on. `closed`: discrepancies looked at.
    """

    answer: Answer
    around: Mapping[int, Node]
    around_edges: tuple[Edge, ...]
    entries: tuple[Entry, ...]
    known: Known
    checks: Mapping[tuple[str, datetime], Standing]
    holds: tuple[Laid, ...]
    answers: Mapping[int, Row]
    asked: datetime | None
    closed: frozenset[tuple[str, int]] = frozenset()

    @property
    def hull(self) -> Node:
        return self.answer.root

    @cached_property
    def lines(self) -> dict[int, Line]:
        """The lines of units that are in the hull's tree (what merely could fill a gap is in `possible`)."""
        inside = {self.hull.id, *(e.parent for e in self.answer.edges)}
        return {line.node.id: line for line in self.answer.lines if line.node.id in inside}

    @cached_property
    def possible(self) -> list[Line]:
        """Lots that stand in no record of the hull, but could be what a missing record does not tell."""
        return [line for line in self.answer.lines if line.node.id not in self.lines]

    @cached_property
    def by_uid(self) -> dict[str, Node]:
        return {line.node.uid: line.node for line in self.lines.values()}

    def of_kind(self, *kinds: str) -> list[Node]:
        return [line.node for line in self.lines.values() if line.node.kind in kinds]

    @cached_property
    def cooked(self) -> list[Node]:
        """What of this hull may have been in an oven: loads, mouldings, parts, the hull itself."""
        return [*self.of_kind("load"), *self.of_kind("moulding", "part"), self.hull]

    @cached_property
    def into_loads(self) -> list[Edge]:
        """The edges by which charges, inserts and graphics went into the loads."""
        loads = {n.id for n in self.of_kind("load")}
        return [e for e in self.answer.edges if e.child in loads]

    @cached_property
    def plant(self) -> Revisions:
        return self.known.plant

    @cached_property
    def begun(self) -> datetime:
        """When the making of the hull began: its first load was made ready, else the hull was made."""
        return min((n.happened for n in self.of_kind("load")), default=self.hull.happened)

    @cached_property
    def recipe(self) -> Mapping[str, object]:
        """The product's body at the revision in force when the load was made ready."""
        about = next((n.about for n in self.of_kind("load")), self.hull.about)
        return self.plant.version("product", about.get("product"), about.get("recipe"))

    def suspects(self) -> set[int]:
        """Units under a hold that reaches this hull, on the way from where it was laid."""
        edges = (*self.answer.edges, *self.around_edges)
        return {unit for hold in self.holds for unit in reached(hold, edges)}


def gather(code: str, as_known_on: datetime | None = None) -> Gathered:
    """Read all of one hull. Raises UnknownCodeError or AmbiguousCodeError (LookupErrors of one sentence)."""
    with one_picture():
        known, size = what_was_known(as_known_on)
        root = find_unit(code, known)
        answer = of_unit(root, code, "back", known, size)
        if answer.root.kind != "hull":
            raise NoHullError(answer.root)
        return _gather(answer, as_known_on)


def gather_making(code: str, as_known_on: datetime | None = None) -> Gathered:
    """The same of a charge, a loaded mould, a moulding or a part, which stands where the hull would.

    Raises as find_unit; to be called within one picture.
    """
    known, size = what_was_known(as_known_on)
    return _gather(of_unit(find_unit(code, known), code, "back", known, size), as_known_on)


class NoHullError(UnknownCodeError):
    """The code stands for something else than a hull: `node`."""

    def __init__(self, node: Node) -> None:
        super().__init__(f"{node.code} is a {node.kind}, no hull.")
        self.node = node


def _gather(answer: Answer, asked: datetime | None) -> Gathered:
    at, hull = answer.as_known_on, answer.root.id
    around, onward = packs_around(hull, at)
    inside = {hull, *(e.parent for e in answer.edges)}
    nodes = {line.node.id: line.node for line in answer.lines if line.node.id in inside}
    stock = {n.id for n in nodes.values() if n.kind in STOCK_KINDS}
    told = entries(
        inner={*(nodes.keys() - stock), *around},
        stock=stock,
        events={e.event for e in answer.edges},
        as_known_on=at,
    )
    holds = _holds(nodes, around, (*answer.edges, *onward), hull, at)
    abouts = [*(line.node.about for line in answer.lines), *(n.about for n in around.values())]
    said = answers([e.id for e in told if e.flagged])
    known = known_of(told, abouts, holds, said.values(), {line.place for line in answer.lines}, at)
    uses = {(key, e.happened) for e in told for role in ("scale", "logger") for key in e.resources(role)}
    return Gathered(
        answer, around, onward, tuple(told),
        known, checks(uses, at), tuple(holds),
        said, asked, frozenset(closed([e.uid for e in told if e.part("discrepancies")], at)),
    )  # fmt: skip


def _holds(
    nodes: Mapping[int, Node], around: Mapping[int, Node], edges: tuple[Edge, ...], hull: int, at: datetime
) -> list[Laid]:
    """Those that come down to the hull, and those on a pack or load it went into."""
    found = laid([*nodes, *around], at)
    return [h for h in found if h.unit in around or hull in reached(h, edges)]
