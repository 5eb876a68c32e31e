"""Says how much of a suspect, or of several, is in each unit of a walked graph: certain, may or cannot, by layer.

One pass over the units in an order in which every parent comes before its children. Sums of paths would
count the same kilogram once for every way it took; passing shares on merges the ways at each unit.
"""

from collections import deque
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from trace.genealogy.amounts import (
    NOTHING,
    OPEN,
    Bounds,
    Draw,
    Verdict,
    capped,
    part,
    recorded_draw,
    split,
    together,
    unrecorded_draw,
    whole,
    wholly,
)
from trace.genealogy.graph import (
    DRAWN_KINDS,
    MATERIAL_ROLES,
    PART_ROLES,
    SHARED_ROLES,
    Edge,
    Flow,
    Graph,
    Node,
)

EMPTY = Flow()
# The ways into one unit: what each parent passes on to it, with the edges along which that comes.
Ways = list[tuple["Share", tuple[Edge, ...]]]
# Inserts and graphics are cut out before trimmings and scrap are ground (common practice): pieces do not
# pass.
GROUND = frozenset({"regrind"})


@dataclass(frozen=True, slots=True)
class Share:
    """Of the suspect in one unit: by layer or position (key "" where the unit has none), and all together.

    The whole is bounded on its own, not added up: eight inserts taken from a mixed box may hold some of a lot
    for certain although no single one does.
    """

    layers: Mapping[str, Bounds]
    total: Bounds

    @property
    def verdict(self) -> Verdict:
        return self.total.verdict


def one_layer(bounds: Bounds, layer: str = "") -> Share:
    return Share({layer: bounds}, bounds)


@dataclass(frozen=True, slots=True)
class Plan:
    """A graph made ready for passes: units with every parent first, the bundles of edges out of each, masses.

    `circle` holds units that stand in a circle although none should: they are never given an answer of
    cannot. `mass` is milligrams, of loads, mouldings and hulls too where the records give it.
    """

    graph: Graph
    flows: Mapping[int, Flow]
    order: tuple[int, ...]
    place: Mapping[int, int]
    out: Mapping[int, tuple[tuple[int, tuple[Edge, ...]], ...]]
    mass: Mapping[int, int]
    circle: frozenset[int]


@dataclass(frozen=True, slots=True)
class Swept:
    """The answer of one pass: shares by unit (units without one hold nothing of the suspects), in unit `uom`.

    `not_followed` are the edges into regrind past which pieces were not followed; `passed` is the number of
    edges that were.
    """

    suspects: tuple[int, ...]
    uom: str | None
    shares: Mapping[int, Share]
    not_followed: tuple[Edge, ...] = ()
    passed: int = 0


def prepare(graph: Graph, flows: Mapping[int, Flow]) -> Plan:
    """Order the units, bundle parallel edges and weigh what has no weight of its own."""
    bundles: dict[int, dict[int, list[Edge]]] = {}
    above: dict[int, list[Edge]] = {}
    for edge in graph.edges:
        bundles.setdefault(edge.parent, {}).setdefault(edge.child, []).append(edge)
        above.setdefault(edge.child, []).append(edge)
    order = _parents_first(graph, bundles, above)
    mass: dict[int, int] = {}
    for unit in order:
        weight = _mass(graph.nodes[unit], flows, above.get(unit, []), mass)
        if weight is not None:
            mass[unit] = weight
    circle = frozenset(graph.nodes) - frozenset(order)
    out = {p: tuple((c, tuple(es)) for c, es in children.items()) for p, children in bundles.items()}
    place = {unit: i for i, unit in enumerate(order)}
    return Plan(graph, flows, tuple(order), place, out, mass, circle)


def _parents_first(
    graph: Graph, bundles: Mapping[int, Mapping[int, list[Edge]]], above: Mapping[int, list[Edge]]
) -> list[int]:
    """The units with every parent before its children (Kahn 1962); those that stand in a circle are left out."""
    waiting = {n: len({e.parent for e in above.get(n, ())}) for n in graph.nodes}
    ready = deque(n for n in graph.nodes if not waiting[n])
    order: list[int] = []
    while ready:
        unit = ready.popleft()
        order.append(unit)
        for child in bundles.get(unit, ()):
            waiting[child] -= 1
            if not waiting[child]:
                ready.append(child)
    return order


def _mass(node: Node, flows: Mapping[int, Flow], above: list[Edge], mass: Mapping[int, int]) -> int | None:
    if node.uom == "mg":
        return node.amount
    flow = flows.get(node.id, EMPTY)
    if flow.charged is not None:
        return flow.charged
    ways = [e for e in above if e.role in SHARED_ROLES]
    if node.uom is not None or not ways or len(ways) != sum(flow.into.values()):
        return None
    weight = 0
    for edge in ways:
        out = flows.get(edge.parent, EMPTY)
        if edge.parent not in mass or out.shared_by > 1 or out.unrecorded_out:
            return None
        weight += max(0, mass[edge.parent] - out.drawn)
    return weight


def unit_of_measure(plan: Plan, suspect: int) -> str | None:
    """The suspect's own: its amount's, else that of the first draw from it, else mg when it has a mass."""
    node = plan.graph.nodes[suspect]
    if node.uom:
        return node.uom
    taken = (e.uom for _, edges in plan.out.get(suspect, ()) for e in edges if e.role in PART_ROLES and e.uom)
    return next(taken, None) or ("mg" if suspect in plan.mass else None)


def sweep(
    plan: Plan,
    suspects: int | Collection[int],
    *,
    doubts: Mapping[int, Share] | None = None,
    only: Collection[int] | None = None,
) -> Swept:
    """Pass the suspect's material on through the graph, and what `doubts` leave open at other units.

    Several suspects, of one unit of measure, are passed on as if they were one lot; none, and only the doubts are.
    `doubts` are shares that missing
    records make possible (trace/genealogy/missing.py); they add to what the edges bring. `only` names the units whose
    shares are wanted (all, when None).
    """
    doubts = doubts or {}
    asked = frozenset((suspects,) if isinstance(suspects, int) else suspects)
    uom = unit_of_measure(plan, min(asked)) if asked else "mg"
    limit = _limit(plan, asked, uom)
    shares: dict[int, Share] = {}
    arriving: dict[int, Ways] = {}
    blocked: list[Edge] = []
    count = 0
    for unit in plan.order[_first_place(plan, (*asked, *doubts)) :]:
        ways = arriving.pop(unit, [])
        if unit in asked:
            share = one_layer(wholly(_amount(plan, unit, uom)))
        elif ways or unit in doubts:
            share = _arrived(plan, unit, ways, doubts.get(unit), _room(plan, unit, uom, limit), uom)
        else:
            continue
        shares[unit] = share
        if share.total.most == 0 and not share.total.certain:
            continue
        followed, stopped = _pass_on(plan, unit, share, uom, arriving)
        count += followed
        blocked += stopped
    shares |= dict.fromkeys(plan.circle & (arriving.keys() | asked), one_layer(OPEN))
    return Swept(tuple(sorted(asked)), uom, _of_these(shares, only), tuple(blocked), count)


def _of_these(shares: dict[int, Share], units: Collection[int] | None) -> dict[int, Share]:
    return shares if units is None else {unit: share for unit, share in shares.items() if unit in units}


def _first_place(plan: Plan, units: Iterable[int]) -> int:
    """The place in the order of the first of these units; the end of it where all stand in a circle."""
    return min((plan.place[n] for n in units if n in plan.place), default=len(plan.order))


def _pass_on(
    plan: Plan, unit: int, share: Share, uom: str | None, arriving: dict[int, Ways]
) -> tuple[int, list[Edge]]:
    """Put what one unit passes on into `arriving` of its children; how many edges were followed, and which not."""
    count = 0
    blocked: list[Edge] = []
    for child, edges in plan.out.get(unit, ()):
        followed = edges
        if uom != "mg":
            blocked += [e for e in edges if e.role in GROUND]
            followed = tuple(e for e in edges if e.role not in GROUND)
        if followed:
            count += len(followed)
            passed = _passed(plan, unit, share, followed, uom)
            arriving.setdefault(child, []).append((passed, followed))
    return count, blocked


def _amount(plan: Plan, unit: int, uom: str | None) -> int | None:
    node = plan.graph.nodes[unit]
    if node.amount is not None and node.uom == uom:
        return node.amount
    return plan.mass.get(unit) if uom == "mg" else None


def _over(plan: Plan, unit: int) -> int:
    return plan.flows.get(unit, EMPTY).over(plan.graph.nodes[unit].amount)


def _limit(plan: Plan, suspects: Collection[int], uom: str | None) -> int | None:
    """All there ever was of the suspects, finds over the book too; None where the records do not say."""
    own = [_all_of(plan, suspect, uom) for suspect in suspects]
    if not own or any(amount is None for amount in own):
        return None
    return sum(filter(None, own)) + sum(_over(plan, n) for n in plan.order if plan.graph.nodes[n].uom == uom)


def _all_of(plan: Plan, suspect: int, uom: str | None) -> int | None:
    """The amount of one suspect, or all received of a lot."""
    own = _amount(plan, suspect, uom)
    if own is None and plan.graph.nodes[suspect].kind == "lot":
        flow = plan.flows.get(suspect, EMPTY)
        return flow.drawn if uom == "mg" and flow.drawn and not flow.unrecorded_out else None
    return own


def is_part(edge: Edge, parent: Node) -> bool:
    return edge.role in PART_ROLES or (edge.role == "fit" and parent.kind in DRAWN_KINDS)


def _passed(plan: Plan, unit: int, share: Share, edges: tuple[Edge, ...], uom: str | None) -> Share:
    """What goes along all the edges from one unit into one child, which together take what a flow allows."""
    node = plan.graph.nodes[unit]
    drawn = [e for e in edges if is_part(e, node)]
    ways = [_drawn(plan, node, share, drawn, uom)] if drawn else []
    ways += [_all_of_it(plan, node, share, edge, uom) for edge in edges if not is_part(edge, node)]
    return ways[0] if len(ways) == 1 else _layer_by_layer(ways)


def _layer_by_layer(ways: list[Share]) -> Share:
    """What several ways bring together: in each layer or position, and in all."""
    keys = dict.fromkeys(key for way in ways for key in way.layers)
    layers = {key: [way.layers[key] for way in ways if key in way.layers] for key in keys}
    return Share({k: bs[0] if len(bs) == 1 else together(bs) for k, bs in layers.items()},
                 together(way.total for way in ways))  # fmt: skip


def _drawn(plan: Plan, node: Node, share: Share, drawn: list[Edge], uom: str | None) -> Share:
    """The draws from one unit into one child together: no two of them take the same kilogram."""
    draws = [(_part_key(e), draw_along(plan, e, uom)) for e in drawn]
    whole_draw = taken(plan, node.id, share.total, sum_of(d for _, d in draws), uom)
    layers = {
        key: taken(plan, node.id, share.total, sum_of(d for k, d in draws if k == key), uom)
        for key in dict.fromkeys(k for k, _ in draws)
    }
    if all(_unweighed_heel(e) or _either(plan, e) for e in drawn):
        # Nobody knows whether a heel was left, only that nobody proved the vessel empty; or out of which it came. If
        # any of it is in there, it is still of the suspect alone where all of this unit is.
        whole_draw = replace(whole_draw, certain=False)
        layers = {key: replace(bounds, certain=False) for key, bounds in layers.items()}
    return Share(layers, whole_draw)


def taken(plan: Plan, unit: int, share: Bounds, draw: Draw, uom: str | None) -> Bounds:
    """What a draw of so much out of a unit that holds `share` takes of the suspect; several draws together are one."""
    node = plan.graph.nodes[unit]
    over = _over(plan, unit) if node.uom == uom else 0
    total, doubtful = _drawn_from(plan, node, uom)
    return part(share, total, draw, over=over, doubtful=doubtful)


def fully_mixed(plan: Plan, unit: int, share: Bounds, uom: str | None) -> Fraction | None:
    """Which part of each milligram drawn from a unit is of the suspect, were it fully mixed; None: not known."""
    node = plan.graph.nodes[unit]
    if share.pure:
        return Fraction(1)
    total, _doubtful = _drawn_from(plan, node, uom)
    if share.best is None or not total:
        return Fraction(0) if share.most == 0 else None
    return share.best / (total + (_over(plan, unit) if node.uom == uom else 0))


def _drawn_from(plan: Plan, node: Node, uom: str | None) -> tuple[int | None, bool]:
    """All there was in a unit to draw from, and whether there may have been more than the book adds up."""
    flow, total = plan.flows.get(node.id, EMPTY), _amount(plan, node.id, uom)
    # A heel that nobody weighed came on top of what the book adds up.
    doubtful = total is not None and flow.into_unrecorded > 0 and flow.into_amount >= total
    if total is not None and node.uom == uom:
        total = max(total, flow.into_amount)
    return total, doubtful


def _unweighed_heel(edge: Edge) -> bool:
    return edge.role == "heel" and edge.amount is None


def _all_of_it(plan: Plan, node: Node, share: Share, edge: Edge, uom: str | None) -> Share:
    """What goes on along an edge that passes the unit on whole, or shares it out."""
    flow, mass = plan.flows.get(node.id, EMPTY), _amount(plan, node.id, uom)
    ways = flow.shared_by if edge.role in SHARED_ROLES else 1
    removed: int | None = 0
    if uom == (node.uom or "mg"):
        removed = None if flow.unrecorded_out else flow.drawn
    # Of a tub from which something was taken before it was tipped, no more went on than was tipped.
    limit = _tipped(plan, node, edge, uom) if removed else None
    passed = {k: capped(split(whole(b, mass, removed), ways), limit) for k, b in share.layers.items()}
    layers: dict[str, Bounds] = {}
    for key, bounds in passed.items():
        to = (edge.layer or "") if edge.role == "charge" else key
        layers[to] = together([layers[to], bounds]) if to in layers else bounds
    total = capped(split(whole(share.total, mass, removed), ways), limit)
    return Share(layers, replace(total, certain=total.certain or any(b.certain for b in passed.values())))


def _tipped(plan: Plan, node: Node, edge: Edge, uom: str | None) -> int | None:
    """The most that went along an edge by what was recorded of it; None where there may have been more."""
    _total, doubtful = _drawn_from(plan, node, uom)
    if edge.amount is None or edge.uom != uom or doubtful:
        return None
    return edge.amount + _over(plan, node.id)


def _part_key(edge: Edge) -> str:
    return edge.key if edge.role in {"insert", "graphic", "fit"} else ""


def _either(plan: Plan, edge: Edge) -> bool:
    """True where the draw came out of this unit or another: the records say how much, but not out of which."""
    node, flow = plan.graph.nodes[edge.child], plan.flows.get(edge.child, EMPTY)
    all_said = node.amount is None or flow.into_amount >= node.amount
    return all_said and (edge.role, edge.layer, edge.position) in flow.either


def draw_along(plan: Plan, edge: Edge, uom: str | None) -> Draw:
    if _either(plan, edge):
        return Draw(0, edge.amount if edge.uom == uom else None)
    if edge.amount is not None:
        return recorded_draw(edge.amount) if edge.uom == uom else Draw(0, None)
    node, flow = plan.graph.nodes[edge.child], plan.flows.get(edge.child, EMPTY)
    # What the recorded ways leave over is no heel: it came out of something that nobody recorded.
    if edge.role not in MATERIAL_ROLES or node.uom != uom or _unweighed_heel(edge):
        return Draw(0, None)
    return unrecorded_draw(node.amount, flow.into_amount, flow.into_unrecorded)


def sum_of(draws: Iterable[Draw]) -> Draw:
    low, high = 0, 0
    limited = True
    for draw in draws:
        low += draw.low
        limited = limited and draw.high is not None
        high += draw.high or 0
    return Draw(low, high if limited else None)


def _room(plan: Plan, unit: int, uom: str | None, limit: int | None) -> int | None:
    """No unit holds more of the suspect than there was, nor more than it holds at all."""
    node = plan.graph.nodes[unit]
    if node.amount is None or node.uom != uom:
        return limit
    room = max(node.amount, plan.flows.get(unit, EMPTY).into_amount) + _over(plan, unit)
    return room if limit is None else min(limit, room)


def _arrived(
    plan: Plan,
    unit: int,
    ways: Ways,
    doubt: Share | None,
    limit: int | None,
    uom: str | None,
) -> Share:
    """What all ways into a unit bring together, and what missing records make possible besides (`doubt`)."""
    shares = [share for share, _ in ways] + ([doubt] if doubt else [])
    layers = {
        key: capped(together(s.layers[key] for s in shares if key in s.layers), limit)
        for key in dict.fromkeys(k for s in shares for k in s.layers)
    }
    total = capped(together(s.total for s in shares), limit)
    if doubt is not None:
        return Share(layers, total)
    if not any(bounds.pure for share, _ in ways for bounds in (share.total, *share.layers.values())):
        return Share(layers, total)
    layers = {key: replace(b, pure=_pure(plan, unit, key, ways)) for key, b in layers.items()}
    return _filled(plan, unit, layers, total, uom) if _pure(plan, unit, None, ways) else Share(layers, total)


def _filled(plan: Plan, unit: int, layers: dict[str, Bounds], total: Bounds, uom: str | None) -> Share:
    """The share of a suspect in a unit that holds nothing else: all that the unit weighs, where that is known."""
    node, flow = plan.graph.nodes[unit], plan.flows.get(unit, EMPTY)
    if not node.amount or node.uom != uom or flow.difference < 0:
        return Share(layers, replace(total, pure=True, certain=total.certain or bool(node.amount)))
    # All of it is of the suspect, however little is known of each way in.
    least = max(total.least, node.amount)
    best = Fraction(least) if total.best is None or total.best < least else total.best
    total = Bounds(least, best, total.most if total.most is None else max(total.most, least), certain=True, pure=True)
    return Share({key: total if len(layers) == 1 else b for key, b in layers.items()}, total)


def _pure(plan: Plan, unit: int, key: str | None, ways: Ways) -> bool:
    """Is all of this layer (None: all of the unit) of the suspect? Every way in must bring nothing else.

    `into` counts the ways that exist, so that one the walk has not seen counts against it.
    """
    flow = plan.flows.get(unit, EMPTY)
    if key is None or not any(e.role == "charge" for _, edges in ways for e in edges):
        wanted = sum(flow.into.values())
    else:
        wanted = flow.into.get(key, 0)
    return wanted > 0 and _pure_ways(key, ways) == wanted and _explained(plan, unit, ways)


def _pure_ways(key: str | None, ways: Ways) -> int:
    """How many ways into this layer (None: into the unit) bring nothing but the suspect."""
    pure = 0
    for share, edges in ways:
        bounds = share.total if key is None else share.layers.get(key, NOTHING)
        if bounds.pure:
            pure += sum(_leads_into(edge, key) for edge in edges)
    return pure


def _leads_into(edge: Edge, key: str | None) -> bool:
    """Does material come along this edge into this layer (None: into any)? A charge goes into its own only."""
    if edge.role not in MATERIAL_ROLES:
        return False
    return edge.role != "charge" or key is None or (edge.layer or "") == key


def _explained(plan: Plan, unit: int, ways: Ways) -> bool:
    """Do the recorded ways in account for all that the unit weighs?"""
    node, flow = plan.graph.nodes[unit], plan.flows.get(unit, EMPTY)
    # A heel that nobody weighed explains nothing of the amount; nor does what was lost of it later, or not found.
    heels = sum(_unweighed_heel(edge) for _, edges in ways for edge in edges)
    return flow.into_unrecorded > heels or (
        node.amount is None or flow.into_amount >= node.amount + min(0, flow.put_right)
    )
