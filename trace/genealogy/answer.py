"""The answer to a trace: what is in a hull, or what a lot went into, as known on a day.

Reads the truth tables alone and orders everything by identifiers that never change, so that the same
question for the same day is answered with the same text for ever.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

from django.db import connection, transaction
from django.utils.translation import gettext as _

from trace.codes import printable
from trace.genealogy import admitted
from trace.genealogy.admitted import Admitted
from trace.genealogy.amounts import OPEN, Verdict, wholly
from trace.genealogy.find import UnknownCodeError, find_unit
from trace.genealogy.flows import flows
from trace.genealogy.graph import Edge, Graph, Node
from trace.genealogy.live import id_array
from trace.genealogy.missing import Gap, as_doubts, candidates, could_fill, open_gaps, plant_data, suspect_of
from trace.genealogy.places import places
from trace.genealogy.scope import Plan, Share, one_layer, prepare, sweep, unit_of_measure
from trace.genealogy.tree_size import tree_size
from trace.genealogy.walk import REGRIND, Direction, nodes, walk
from trace.genealogy.wide import how_far

# Each ancestor of a hull is judged by a pass of its own, nearest first, until the passes have gone along this
# many edges (a few seconds); through regrind a hull has ancestors without end, in ever smaller shares.
MOST_PASSED = 100_000


@dataclass(frozen=True, slots=True)
class Line:
    """One unit of an answer. Shares are in `uom` (mg, pc, mm): of the suspect in this unit when asked
    forward, of this unit in the hull when asked back.
    """

    node: Node
    verdict: Verdict
    share: Share
    uom: str | None
    place: str | None


@dataclass(frozen=True, slots=True)
class Answer:
    """`root` is the unit asked about; lines and edges are in order of their uids. `tree_size` counts the
    events recorded by `as_known_on`. `event_uids` names the event of each edge.
    """

    code: str
    direction: Direction
    as_known_on: datetime
    tree_size: int
    root: Node
    lines: tuple[Line, ...]
    edges: tuple[Edge, ...]
    gaps: tuple[Admitted, ...]
    event_uids: Mapping[int, str]

    def line(self, unit: int) -> Line | None:
        return next((x for x in self.lines if x.node.id == unit), None)


class TooWideError(Exception):
    """More was made of it than is told in one answer."""

    def __init__(self, code: str, most: int) -> None:
        super().__init__(
            _("%(code)s went into more than %(most)d things.") % {"code": printable(code), "most": most}
        )


def genealogy(
    code: str,
    direction: Direction,
    as_known_on: datetime | None = None,
    *,
    through_regrind: bool = True,
    most: int | None = None,
) -> Answer:
    """Trace the unit that `code` stood for back to its inputs or forward to what was made of it.

    `as_known_on` None takes the time of the newest record. Not through regrind is the quick look; it says
    where it stopped. Raises UnknownCodeError or AmbiguousCodeError (LookupErrors of one sentence), and TooWideError
    when more than `most` units were made of it.
    """
    with one_picture():
        known, size = what_was_known(as_known_on)
        root = find_unit(code, known)
        if most is not None and direction == "forward" and how_far([root], known, most).more:
            raise TooWideError(code, most)
        return of_unit(root, code, direction, known, size, through_regrind=through_regrind)


def of_unit(
    root: int,
    code: str,
    direction: Direction,
    known: datetime,
    tree_size: int,
    *,
    through_regrind: bool = True,
) -> Answer:
    """As `genealogy`, for a unit found already."""
    stop = frozenset() if through_regrind else REGRIND
    graph, found, gaps = _back(root, known, stop) if direction == "back" else _forward(root, known, stop)
    where = places(found, known)
    lines = tuple(
        Line(node, share.verdict, share, uom, where.get(node.id))
        for node, share, uom in sorted(found.values(), key=lambda x: x[0].uid)
    )
    edges = [e for e in graph.edges if e.child in found and e.parent in found]
    uids = _event_uids({e.event for e in edges})
    by_uid = {n.id: n.uid for n, _, _ in found.values()}
    return Answer(
        code, direction, known, tree_size, graph.nodes[root], lines,
        tuple(sorted(edges, key=lambda e: (by_uid[e.child], by_uid[e.parent], e.id))),
        tuple(sorted(set(gaps))), uids,
    )  # fmt: skip


Found = dict[int, tuple[Node, Share, str | None]]


def _forward(root: int, known: datetime, stop: frozenset[str]) -> tuple[Graph, Found, list[Admitted]]:
    graph = walk([root], "forward", known, stop_roles=stop)
    suspect = suspect_of(graph.nodes[root], graph)
    gaps = open_gaps(known)
    gap_units = nodes({g.unit for g in gaps}, known)
    plant = plant_data(known, gap_units.values(), suspect.materials or ())
    filled = [g for g in gaps if could_fill(suspect, g, gap_units[g.unit], plant)]
    if filled and suspect.node.kind == "charge" and flows([root], known)[root].shared_by:
        filled = []  # it is known where all of this charge went
    if filled:
        graph = walk([root, *sorted({g.unit for g in filled} - {root})], "forward", known, stop_roles=stop)
    plan = prepare(graph, flows(graph.nodes, known))
    scope = sweep(plan, root, doubts=as_doubts(filled))
    found: Found = {
        unit: (graph.nodes[unit], share, scope.uom) for unit, share in scope.shares.items() if share.verdict != "cannot"
    }
    words = [admitted.gap(g, graph.nodes[g.unit], fills=True) for g in filled]
    told = {(g.unit, g.what, g.which) for g in filled}
    words += [
        admitted.gap(g, gap_units[g.unit]) for g in gaps if g.unit in found and (g.unit, g.what, g.which) not in told
    ]
    words += [admitted.not_ground(e, graph.nodes) for e in scope.not_followed]
    return graph, found, words + _of_walk(plan, found)


def _back(root: int, known: datetime, stop: frozenset[str]) -> tuple[Graph, Found, list[Admitted]]:
    graph = walk([root], "back", known, stop_roles=stop)
    plan = prepare(graph, flows(graph.nodes, known))
    gaps = open_gaps(known, graph.nodes.keys())
    plant = plant_data(known, graph.nodes.values())
    fills = candidates(gaps, graph, plant, known)
    words = [admitted.gap(g, graph.nodes[g.unit]) for g in gaps]
    found, not_followed, unjudged = _judged(plan, root, fills)
    words += [admitted.not_ground(e, graph.nodes) for e in not_followed]
    if unjudged:
        words.append(admitted.too_many(graph.nodes[root], len(graph.nodes), len(graph.nodes) - len(unjudged)))
        found |= {unit: (graph.nodes[unit], one_layer(OPEN), None) for unit in unjudged}
    for unit, (node, _gaps) in fills.items():
        if unit not in graph.nodes:
            found[unit] = node, one_layer(OPEN), None
    return graph, found, words + _of_walk(plan, found)


def _judged(
    plan: Plan, root: int, fills: Mapping[int, tuple[Node, list[Gap]]]
) -> tuple[Found, list[Edge], list[int]]:
    """The root and each ancestor that it holds or may hold; edges that were not followed; ancestors not reached."""
    found: Found = {root: _itself(plan, root)}
    not_followed: list[Edge] = []
    passed, unjudged = 0, []
    for unit in _nearest_first(plan.graph, root)[1:]:
        if passed > MOST_PASSED:
            unjudged.append(unit)
            continue
        doubts = as_doubts(fills[unit][1]) if unit in fills else None
        scope = sweep(plan, unit, doubts=doubts, only={root})
        passed += scope.passed
        not_followed += scope.not_followed
        share = scope.shares.get(root)
        if share is not None and share.verdict != "cannot":
            found[unit] = plan.graph.nodes[unit], share, scope.uom
    return found, not_followed, unjudged


def _of_walk(plan: Plan, found: Found) -> list[Admitted]:
    """What the walk and the amounts leave open, of the units that are in the answer."""
    graph = plan.graph
    words = [admitted.stopped(graph.nodes[n]) for n in graph.stopped if n in found]
    missing = {n for e in graph.aside for n in (e.child, e.parent)} - graph.nodes.keys()
    names = {**graph.nodes, **nodes(missing)}
    words += [admitted.circle(e, names) for e in graph.aside]
    words += [admitted.in_circle(graph.nodes[n]) for n in plan.circle]
    for edge in graph.edges:
        if edge.child in found and edge.parent in found and admitted.is_unweighed(edge):
            words.append(admitted.unweighed(edge, graph.nodes))
    for unit in found.keys() & plan.flows.keys():
        node = graph.nodes[unit]
        over = plan.flows[unit].over(node.amount)
        if over and node.amount is not None:
            words.append(admitted.over(node, over))
    return words


def _itself(plan: Plan, root: int) -> tuple[Node, Share, str | None]:
    node, uom = plan.graph.nodes[root], unit_of_measure(plan, root)
    own = node.amount if node.uom == uom else plan.mass.get(root) if uom == "mg" else None
    return node, one_layer(wholly(own)), uom


def _nearest_first(graph: Graph, root: int) -> list[int]:
    """The units that went into the root by the fewest steps they took, then by id."""
    above: dict[int, set[int]] = {}
    for edge in graph.edges:
        above.setdefault(edge.child, set()).add(edge.parent)
    order, seen, level = [root], {root}, [root]
    while level:
        level = sorted({p for unit in level for p in above.get(unit, ())} - seen)
        seen.update(level)
        order += level
    return order


def what_was_known(as_known_on: datetime | None = None) -> tuple[datetime, int]:
    """The time an answer stands for and the number of events recorded by then."""
    newest, size = tree_size(as_known_on)
    if newest is None:
        raise UnknownCodeError("Nothing was recorded by that time.")
    return as_known_on or newest, size


def _event_uids(events: set[int]) -> dict[int, str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT id, uid::text FROM event WHERE id = ANY (%s::bigint[])", [id_array(events)])
        return dict(cursor.fetchall())


@contextmanager
def one_picture() -> Iterator[None]:
    """All queries inside see the records as they stand at one moment, whatever is recorded meanwhile."""
    if connection.in_atomic_block:
        yield
        return
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield
