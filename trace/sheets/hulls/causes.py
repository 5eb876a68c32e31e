"""How many other hulls share a lot with this one: the lot under a hold, else every lot in it."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from trace.genealogy.amounts import Verdict
from trace.genealogy.flows import flows
from trace.genealogy.graph import Node
from trace.genealogy.missing import Gap, PlantData, as_doubts, could_fill, open_gaps, plant_data, suspect_of
from trace.genealogy.places import places
from trace.genealogy.scope import Plan, prepare, sweep
from trace.genealogy.walk import REGRIND, reach, walk
from trace.sheets.addresses import lot_url
from trace.sheets.contracts import SharedCause
from trace.sheets.hulls.gathered import Gathered
from trace.sheets.hulls.lots import lot_label, name


@dataclass(frozen=True, slots=True)
class Reach:
    """Hulls (and their places) that one suspect is or may be in; `hulls`: unit id -> verdict."""

    hulls: Mapping[int, Verdict]
    where: Mapping[int, str]


def reaches(suspects: list[Node], known: datetime) -> dict[int, Reach]:
    """For each suspect the hulls that hold or may hold it: one walk and one set of gaps for all of them.

    Not through regrind, which is the quick forward look (see trace/genealogy/answer.py).
    """
    roots = sorted(n.id for n in suspects)
    gaps = open_gaps(known)
    lacking = {g.unit for g in gaps}
    graph = walk(sorted({*roots, *lacking}), "forward", known, stop_roles=REGRIND)
    materials = {str(n.about["material"]) for n in graph.nodes.values() if n.about.get("material")}
    plant = plant_data(known, [graph.nodes[unit] for unit in lacking], materials)
    plan = prepare(graph, flows(graph.nodes, known))
    hulls = {n.id for n in graph.nodes.values() if n.kind == "hull"}
    found = {node.id: _verdicts(node, plan, hulls, gaps, plant) for node in suspects}
    where = places({u for own in found.values() for u in own}, known)
    return {lot: Reach(own, where) for lot, own in found.items()}


def _verdicts(
    suspect: Node, plan: Plan, hulls: Collection[int], gaps: Collection[Gap], plant: PlantData
) -> dict[int, Verdict]:
    """The hulls that hold or may hold this suspect, counting every gap that it could fill."""
    graph = plan.graph
    about = suspect_of(suspect, graph)
    filled = [g for g in gaps if could_fill(about, g, graph.nodes[g.unit], plant)]
    shares = sweep(plan, suspect.id, doubts=as_doubts(filled), only=hulls).shares
    return {u: s.verdict for u, s in shares.items() if s.verdict != "cannot"}


# Past this many units the lots of a hull are not followed for its page: each lot's own page counts them.
MOST_FOLLOWED = 20_000


def shared(gathered: Gathered) -> tuple[SharedCause, ...]:
    """A line for each lot under a hold that reaches this hull; without one, a line for each lot in it."""
    suspects = gathered.suspects()
    lots = [n for n in gathered.of_kind("lot") if n.about.get("material")]
    chosen = [n for n in lots if n.id in suspects] or lots
    if not chosen:
        return ()
    chosen = sorted(chosen, key=lambda n: (n.lot_no or "", n.uid))
    known = gathered.answer.as_known_on
    held = any(n.id in suspects for n in chosen)
    if not held and len(reach([n.id for n in chosen], "forward", known, stop_roles=REGRIND)) > MOST_FOLLOWED:
        return tuple(_cause(gathered, n, None) for n in chosen)
    found = reaches(chosen, known)
    return tuple(_cause(gathered, n, found[n.id]) for n in chosen)


def _cause(gathered: Gathered, lot: Node, found: Reach | None) -> SharedCause:
    others = {u: verdict for u, verdict in found.hulls.items() if u != gathered.hull.id} if found else {}
    outside = sum(1 for u in others if found and found.where.get(u, "").startswith("gone: "))
    return SharedCause(
        cause=_("%(material)s lot %(lot)s") % {"material": lot.about.get("material"), "lot": name(lot)},
        certain=sum(1 for v in others.values() if v == "certain"),
        may=sum(1 for v in others.values() if v == "may"),
        in_plant=len(others) - outside,
        outside=outside,
        counted=found is not None,
        url=lot_url(lot_label(gathered, lot) or lot.uid, gathered.asked),
    )
