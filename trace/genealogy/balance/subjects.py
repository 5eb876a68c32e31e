"""The balance of what a code stands for: a lot with its containers, a container, or a vessel with all its fillings."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from fractions import Fraction

from django.utils.translation import gettext as _

from trace.genealogy import admitted
from trace.genealogy.admitted import Admitted
from trace.genealogy.amounts import Bounds, Draw
from trace.genealogy.answer import TooWideError, one_picture, what_was_known
from trace.genealogy.balance.ends import Ends
from trace.genealogy.balance.figures import CAME, Balance, Figure, Part, Record, best_of, figure_of
from trace.genealogy.balance.reckoning import Reckoning
from trace.genealogy.balance.records import (
    Differs,
    Said,
    differences_of,
    edges_into,
    looked_at,
    made_by,
    said_by,
    scrapped_among,
)
from trace.genealogy.balance.weighed import by_weighing
from trace.genealogy.find import UnknownCodeError, carrier_of, fillings_of, find_unit
from trace.genealogy.flows import flows
from trace.genealogy.graph import PART_ROLES, Edge, Node
from trace.genealogy.scope import Plan, prepare, sweep, unit_of_measure
from trace.genealogy.walk import REGRIND, nodes, walk
from trace.genealogy.wide import how_far

SUBJECTS = frozenset({"lot", "blend", "content", "regrind"})
KEPT = frozenset({"container", "vessel", "roll", "returnable"})


class NoBalanceError(UnknownCodeError):
    """The code stands for something that has no balance of its own; the text is one sentence."""


def balance_of(code: str, as_known_on: datetime | None = None, *, most: int | None = None) -> Balance:
    """The balance of the lot, container or vessel that `code` stood for then.

    A container that was received is asked about by itself, a lot with all its containers by its number. Raises
    NoBalanceError, UnknownCodeError or AmbiguousCodeError (LookupErrors of one sentence), and TooWideError where more
    than `most` units were made of it.
    """
    with one_picture():
        known, size = what_was_known(as_known_on)
        subject, roots = _subject(code, known)
        if most is not None and how_far(roots, known, most).more:
            raise TooWideError(code, most)
        return of_units(subject, code, roots, known, size)


def _subject(code: str, known: datetime) -> tuple[str, list[int]]:
    carrier = carrier_of(code, known)
    if carrier is not None and carrier[1] in KEPT:
        fillings = fillings_of(carrier[0], known)
        if fillings:
            return ("vessel" if carrier[1] == "vessel" else "container"), fillings
    unit = find_unit(code, known)
    node = nodes([unit], known)[unit]
    if node.kind not in SUBJECTS:
        raise NoBalanceError(
            _("%(code)s is no lot, container or vessel: what went into it stands on its own page.")
            % {"code": node.said}
        )
    return node.kind, [unit]


def of_units(subject: str, code: str, roots: Sequence[int], known: datetime, size: int) -> Balance:
    """As balance_of, for units found already: a lot, or all fillings of one carrier in their order."""
    graph = walk(roots, "forward", known, stop_roles=REGRIND)
    plan = prepare(graph, flows(graph.nodes, known))
    uom = unit_of_measure(plan, roots[-1]) or "mg"
    shares = sweep(plan, roots).shares
    ends = Ends(graph, scrapped_among(graph.nodes, known), plan.mass)
    lots = {root for root in roots if graph.nodes[root].kind == "lot"}
    own = {e.child for e in graph.edges if e.parent in lots and e.role == "receive"} | (set(roots) - lots)
    said = said_by(graph.edges)
    differs: dict[int, list[Differs]] = {}
    for one in differences_of(graph.nodes, known):
        differs.setdefault(one.unit, []).append(one)
    reckoning = Reckoning(plan, shares, uom, own, ends, said, differs)
    came = _received(graph.nodes, graph.edges, lots, said) if lots else _into(roots, graph.nodes, known)
    received = [figure.bounds.most for figure in came]
    total = None if None in received else sum(filter(None, received))
    looked = looked_at(reckoning.units(), known)
    figures, differences = reckoning.figures(total), reckoning.differences()
    root = graph.nodes[roots[-1]]
    return Balance(
        subject=subject, code=code, name=_name(subject, root), material=str(root.about.get("material") or ""), uom=uom,
        as_known_on=known, tree_size=size, came=tuple(came), ends=tuple(figures), differences=tuple(differences),
        unexplained=_unexplained(differences), uncertainty=by_weighing(reckoning, looked, known), counted=bool(looked),
        book=reckoning.book(total), gaps=tuple(_gaps(plan, reckoning)),
    )  # fmt: skip


def _name(subject: str, root: Node) -> str:
    return root.lot_no or root.said if subject == "lot" else root.said


def _unexplained(differences: Sequence[Figure]) -> Bounds:
    """What is missing, all causes together; below zero there is more than came."""
    best = best_of(figure.bounds for figure in differences)
    most = [figure.bounds.most for figure in differences]
    return Bounds(
        -sum(filter(None, most)), None if best is None else -best, -sum(figure.bounds.least for figure in differences)
    )


Came = tuple[str, Node, int | None, Said]


def _received(
    units: Mapping[int, Node], edges: Sequence[Edge], lots: Collection[int], said: Mapping[int, Said]
) -> list[Figure]:
    """What came of a lot, a record for each container."""
    return _grouped(
        (_way(units[e.child]), units[e.child], units[e.child].amount, said[e.id])
        for e in edges
        if e.parent in lots and e.role == "receive"
    )


def _into(roots: Sequence[int], units: Mapping[int, Node], known: datetime) -> list[Figure]:
    """What went into a carrier, filling by filling; what only stayed in it from one to the next did not come."""
    edges = edges_into(roots, known)
    inside = set(roots)
    outer = [e for e in edges if e.parent not in inside and e.role in PART_ROLES and e.amount is not None]
    return _grouped([*_from_others(outer, units, known), *_from_nowhere(edges, [units[unit] for unit in roots])])


def _from_others(edges: Sequence[Edge], units: Mapping[int, Node], known: datetime) -> Iterator[Came]:
    others, said = nodes({e.parent for e in edges}, known), said_by(edges)
    for edge in edges:
        if edge.role == "receive":
            yield _way(units[edge.child]), units[edge.child], edge.amount, said[edge.id]
        else:
            yield "topped up", others[edge.parent], edge.amount, said[edge.id]


def _from_nowhere(edges: Sequence[Edge], fillings: Sequence[Node]) -> Iterator[Came]:
    """What fillings hold that no record says the source of."""
    made = made_by({node.event for node in fillings})
    for node in fillings:
        into = sum(e.amount or 0 for e in edges if e.child == node.id and e.uom == node.uom)
        if node.amount is None:
            yield "unknown source", node, None, made[node.event]
        elif node.amount > into:
            yield "unknown source", node, node.amount - into, made[node.event]


def _grouped(came: Iterable[Came]) -> list[Figure]:
    """A figure for each way in; where an amount was not recorded, nobody knows how much came that way."""
    ways: dict[str, list[Part]] = {}
    for way, node, amount, said in came:
        record = Record(said.event, said.happened, way, node.said, node.uid, node.kind, amount)
        bounds = Bounds(amount or 0, None if amount is None else Fraction(amount), amount)
        draw = Draw(amount or 0, amount)
        ways.setdefault(way, []).append(Part(node.said, node.uid, amount, bounds, draw, bounds, (record,)))
    return [figure_of(way, ways[way]) for way in CAME if way in ways]


def _way(content: Node) -> str:
    return "at the start" if content.about.get("origin") == "before records" else "received"


def _gaps(plan: Plan, reckoning: Reckoning) -> list[Admitted]:
    """What stands in the way of a full account."""
    found = [
        admitted.unweighed(edge, plan.graph.nodes)
        for unit in reckoning.units()
        for edge in reckoning.out_of(unit)
        if admitted.is_unweighed(edge) and edge.role != "heel"
    ]
    found += [admitted.in_circle(plan.graph.nodes[unit]) for unit in plan.circle]
    return sorted(set(found))
