"""Which hulls hold something of some units, or may: reckoned exactly, or by reach alone where too much came of them.

Nothing here goes on into packs and consignments: hulls are what is asked about.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from trace.genealogy import admitted
from trace.genealogy.admitted import Admitted
from trace.genealogy.all_ways import can_be_read, hulls_led_to
from trace.genealogy.amounts import Verdict
from trace.genealogy.causes import some_of
from trace.genealogy.flows import flows
from trace.genealogy.graph import Edge, Graph
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.missing import Gap, as_doubts
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.scope import Plan, Share, prepare, sweep, unit_of_measure
from trace.genealogy.walk import REGRIND, nodes, reached_ids, walk
from trace.genealogy.wide import HowFar, how_far

PACKING = frozenset({"pack", "ship"})
# So many units are reckoned with while somebody waits (some three seconds). Of what goes further, the nearest so many.
MOST_RECKONED, NEAREST = 25_000, 6_000
# Past so many units it is quicker to read all ways than to look up those of each.
FAR = 60_000

HULLS = f"""
SELECT u.id FROM unit u WHERE u.kind = 'hull' AND u.id = ANY (ARRAY(
  {reached_ids("forward", stops=True)}))
"""
NEXT = f"""
SELECT e.id, e.child, e.parent, e.event, e.role, e.layer, e.position, e.amount, e.uom FROM edge e
WHERE e.parent = ANY (%(units)s::bigint[]) AND e.role <> ALL (%(stop)s::text[]) AND NOT e.aside AND {LIVE}
"""


@dataclass(frozen=True, slots=True)
class Carried:
    """The hulls reached, each certain or may. `shares`, in `uom`: how much, where it was reckoned; `units`: all that
    hold some, or may. `wide`: it went too far for that, so that some that are certain are called may."""

    verdicts: Mapping[int, Verdict]
    shares: Mapping[int, Share] = field(default_factory=dict)
    uom: str | None = None
    words: tuple[Admitted, ...] = ()
    units: frozenset[int] = frozenset()
    wide: bool = False


def reached_hulls(units: Collection[int], known: datetime, *, through_regrind: bool = True) -> set[int]:
    """The hulls to which any way leads from these units."""
    if not units:
        return set()
    return _hulls(units, PACKING | (frozenset() if through_regrind else REGRIND), known)


def _hulls(roots: Collection[int], stop: frozenset[str], known: datetime) -> set[int]:
    """The hulls to which ways lead: from unit to unit, or by all ways at once where that is far."""
    if can_be_read() and how_far(roots, known, FAR).more:
        return hulls_led_to(roots, known, stop=stop)
    values = {"roots": id_array(sorted(roots)), "known": known_by(known), "stop_roles": sorted(stop)}
    return {hull for (hull,) in fetch_rows(HULLS, values)}


def carried(
    units: Collection[int],
    gaps: Collection[Gap],
    known: datetime,
    *,
    through_regrind: bool = True,
    far: HowFar | None = None,
) -> Carried:
    """What came of these units as one, and what the gaps leave open besides; `far`: how far the units went, where that
    was asked."""
    roots = sorted({*units, *(gap.unit for gap in gaps)})
    if not roots:
        return Carried({})
    stop = PACKING | (frozenset() if through_regrind else REGRIND)
    if _too_far(far) or ((gaps or far is None) and how_far(roots, known, MOST_RECKONED).more):
        return _wide(units, roots, stop, known)
    graph = walk(roots, "forward", known, stop_roles=stop)
    plan = prepare(graph, flows(graph.nodes, known))
    verdicts: dict[int, Verdict] = {}
    shares: dict[int, Share] = {}
    measures = _by_measure(plan, units)
    words: list[Admitted] = []
    holding: set[int] = set()
    for _uom, group in measures:
        scope = sweep(plan, group, doubts=as_doubts(gaps))
        some = {unit: share for unit, share in scope.shares.items() if share.verdict != "cannot"}
        holding |= some.keys()
        for unit, share in some.items():
            if graph.nodes[unit].kind == "hull":
                verdicts[unit] = some_of((verdicts.get(unit, "cannot"), share.verdict))
                shares[unit] = share
        words += _words(plan, some, scope.not_followed)
    if len(measures) > 1:
        return Carried(verdicts, words=tuple(words), units=frozenset(holding))
    return Carried(verdicts, shares, measures[0][0], tuple(words), frozenset(holding))


def _too_far(far: HowFar | None) -> bool:
    return far is not None and (far.more or far.units > MOST_RECKONED)


def _by_measure(plan: Plan, units: Collection[int]) -> list[tuple[str | None, list[int]]]:
    """The units in groups of one unit of measure; one empty group where none is known by then."""
    groups: dict[str | None, list[int]] = {}
    for unit in sorted(units):
        if unit in plan.graph.nodes:
            groups.setdefault(unit_of_measure(plan, unit), []).append(unit)
    return list(groups.items()) or [(None, [])]


def _words(plan: Plan, shares: Mapping[int, Share], not_followed: Collection[Edge]) -> list[Admitted]:
    """What the walk and the amounts leave open, of the units that hold something of it."""
    graph = plan.graph
    words = [admitted.not_ground(edge, graph.nodes) for edge in not_followed]
    around = {end for edge in graph.aside for end in (edge.child, edge.parent)}
    names = {**graph.nodes, **nodes(around - graph.nodes.keys())}
    words += [admitted.circle(edge, names) for edge in graph.aside]
    words += [admitted.in_circle(graph.nodes[unit]) for unit in plan.circle]
    words += [
        admitted.unweighed(edge, graph.nodes)
        for edge in graph.edges
        if edge.child in shares and edge.parent in shares and admitted.is_unweighed(edge)
    ]
    for unit in shares.keys() & plan.flows.keys():
        node = graph.nodes[unit]
        over = plan.flows[unit].over(node.amount)
        if over and node.amount is not None:
            words.append(admitted.over(node, over))
    return words


def _wide(units: Collection[int], roots: Collection[int], stop: frozenset[str], known: datetime) -> Carried:
    """All that were reached may hold it; those among the nearest that hold it under every flow do for certain."""
    verdicts: dict[int, Verdict] = dict.fromkeys(_hulls(roots, stop, known), "may")
    verdicts.update(dict.fromkeys(_nearest_certain(units, stop, known), "certain"))
    return Carried(verdicts, wide=True)


def _nearest_certain(units: Collection[int], stop: frozenset[str], known: datetime) -> set[int]:
    """Hulls that hold something of these units whatever came to them by other ways.

    Only from a unit that holds some for certain does any come into another for certain: the walk goes on from these,
    step by step. What came by ways it does not see can take from no lower bound.
    """
    met = nodes(units, known)
    edges: dict[int, Edge] = {}
    shares: dict[int, Share] = {}
    waiting, walked = set(met), set[int]()
    while waiting and len(met) <= NEAREST:
        asked = {"units": id_array(sorted(waiting)), "stop": sorted(stop), "known": known_by(known)}
        walked |= waiting
        edges.update((row[0], Edge(*row)) for row in fetch_rows(NEXT, asked))
        met |= nodes({edge.child for edge in edges.values()} - met.keys(), known)
        shares |= _sure(units, Graph(tuple(units), met, tuple(e for e in edges.values() if e.child in met)), known)
        waiting = shares.keys() - walked
    return {unit for unit, share in shares.items() if met[unit].kind == "hull" and share.verdict == "certain"}


def _sure(units: Collection[int], graph: Graph, known: datetime) -> dict[int, Share]:
    """The shares of what holds some for certain, in a graph of which the rest is not known."""
    plan = prepare(graph, flows(graph.nodes, known))
    return {
        unit: share
        for _uom, group in _by_measure(plan, units)
        for unit, share in sweep(plan, group).shares.items()
        if _goes_on(share)
    }


def _goes_on(share: Share) -> bool:
    """Whether any of it is in there whatever else came in, or nothing else is."""
    return any(bounds.certain or bounds.least > 0 or bounds.pure for bounds in (share.total, *share.layers.values()))
