"""What a vessel holds of each lot: the widest bounds, and what three models of flow make of its history.

The history is that of its fillings, as known at a moment, from what was poured in, drawn, found otherwise and proved
empty, in the order in which it happened.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from trace.genealogy.amounts import Bounds, Draw
from trace.genealogy.balance.records import differences_of, edges_into, made_by, said_by
from trace.genealogy.dispersion import lots_behind
from trace.genealogy.find import fillings_of
from trace.genealogy.flows import flows
from trace.genealogy.graph import PART_ROLES, Edge, Node
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.mixing import MODELS, Emptied, In, Model, Out, Step, given
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.scope import Plan, prepare, sweep, taken
from trace.genealogy.walk import nodes, walk

OUT_OF = f"""
SELECT e.id, e.child, e.parent, e.event, e.role, e.layer, e.position, e.amount, e.uom FROM edge e
WHERE e.parent = ANY (%(ids)s::bigint[]) AND e.amount IS NOT NULL AND NOT e.aside AND {LIVE} ORDER BY e.id
"""
PROVED = """
SELECT v.happened FROM event_unit x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
WHERE x.unit = ANY (%(ids)s::bigint[]) AND x.role = 'proved empty' ORDER BY v.happened
"""
# In the same moment what is drawn was drawn before what is filled in.
FIRST = {Emptied: 0, Out: 1, In: 2}


@dataclass(frozen=True, slots=True)
class OfLot:
    """How much of one lot is in the vessel now: bounds, and by model (mg)."""

    lot: Node
    bounds: Bounds
    models: Mapping[Model, Fraction]


@dataclass(frozen=True, slots=True)
class Held:
    """`left` mg are in it by the book, of which `lots`, most first; `doubt`: something of it has no recorded source."""

    code: str
    material: str
    left: int
    filled: int
    lots: tuple[OfLot, ...]
    doubt: bool


def held_by(carrier: int, code: str, known: datetime) -> Held | None:
    """What the vessel holds; None where it is empty, nobody knows how much is in it, or it is not weighed."""
    fillings = fillings_of(carrier, known)
    if not fillings:
        return None
    now = fillings[-1]
    graph = walk([now], "back", known)
    node = graph.nodes[now]
    flow = flows(graph.nodes, known)
    left = 0 if node.amount is None else node.amount + flow[now].difference - flow[now].drawn
    if node.uom != "mg" or left <= 0:
        return None
    lots = _of_lots(prepare(graph, flow), now, left, _models(fillings, known))
    doubt = flow[now].into_amount < (node.amount or 0)
    return Held(code, str(node.about.get("material") or ""), left, node.amount or left, tuple(lots), doubt)


def _of_lots(plan: Plan, now: int, left: int, models: Mapping[Model, Mapping[str, Fraction]]) -> list[OfLot]:
    """Each lot that is or may be in the vessel, the most likely first."""
    found = []
    for lot in (node for node in plan.graph.nodes.values() if node.kind == "lot"):
        share = sweep(plan, lot.id, only={now}).shares.get(now)
        if share is not None and share.verdict != "cannot":
            bounds = taken(plan, now, share.total, Draw(left, left), "mg")
            by_model = {model: parts.get(lot.uid, Fraction(0)) for model, parts in models.items()}
            found.append(OfLot(lot, bounds, by_model))
    return sorted(found, key=lambda one: (-(one.bounds.best or 0), one.lot.uid))


def _models(fillings: Sequence[int], known: datetime) -> dict[Model, Mapping[str, Fraction]]:
    """Model -> lot (uid) -> mg left."""
    steps = [step for _when, _first, _n, step in sorted(_steps(fillings, known), key=lambda x: x[:3])]
    return {model: given(steps, model).left for model in MODELS}


def _steps(fillings: Sequence[int], known: datetime) -> Iterable[tuple[datetime, int, int, Step]]:
    """(when, order within the moment, number, step) of all that happened to the vessel."""
    values = {"ids": id_array(fillings), "known": known_by(known)}
    inside = set(fillings)
    into = [e for e in edges_into(fillings, known) if e.parent not in inside and e.amount and e.role in PART_ROLES]
    out = [Edge(*row) for row in fetch_rows(OUT_OF, values)]
    drawn = [e for e in out if e.child not in inside and e.role in PART_ROLES]
    said = said_by([*into, *drawn])
    for edge in into:
        for lot, amount in _lots_of(edge, known):
            yield said[edge.id].happened, FIRST[In], edge.id, In(lot, amount)
    for edge in drawn:
        yield said[edge.id].happened, FIRST[Out], edge.id, Out(Fraction(edge.amount or 0))
    for n, one in enumerate(differences_of(fillings, known)):
        step: Step = Out(Fraction(-one.amount)) if one.amount < 0 else In("", Fraction(one.amount))
        yield one.happened, FIRST[type(step)], n, step
    yield from _unsaid(fillings, known)
    for n, (when,) in enumerate(fetch_rows(PROVED, values)):
        yield when, FIRST[Emptied], n, Emptied()


def _unsaid(fillings: Sequence[int], known: datetime) -> Iterable[tuple[datetime, int, int, Step]]:
    """What came of a source that nobody recorded."""
    units = nodes(fillings, known)
    edges = edges_into(fillings, known)
    made = made_by({node.event for node in units.values()})
    for node in units.values():
        more = (node.amount or 0) - sum(e.amount or 0 for e in edges if e.child == node.id)
        if more > 0:
            yield made[node.event].happened, FIRST[In], node.id, In("", Fraction(more))


def _lots_of(edge: Edge, known: datetime) -> list[tuple[str, Fraction]]:
    """What was poured in, by lot: of a mix as it would be fully mixed, which is the nearest that a model can say."""
    lots = lots_behind(edge.parent, known)
    amount = Fraction(edge.amount or 0)
    if len(lots) == 1:
        return [(lots[0].uid, amount)]
    graph = walk([edge.parent], "back", known)
    plan = prepare(graph, flows(graph.nodes, known))
    total = graph.nodes[edge.parent].amount
    found, rest = [], amount
    for lot in lots:
        share = sweep(plan, lot.id, only={edge.parent}).shares.get(edge.parent)
        best = share.total.best if share is not None else None
        if best and total:
            part = min(rest, amount * best / total)
            found.append((lot.uid, part))
            rest -= part
    return [*found, *([("", rest)] if rest else [])]
