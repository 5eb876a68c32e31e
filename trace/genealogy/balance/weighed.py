"""How far weighing alone may make a balance be off: the scales it was weighed on, and what labels may be off by.

Only containers whose rest somebody looked at count: of the others what is left is by the book, and nothing is missing.
A scale's step is a new chance error at each reading; how far it may be off within its check is the same error in all
that was weighed on it (trace/codes/uncertainty.py).
"""

import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any

from trace.codes import uncertainty
from trace.codes.amounts import MG_PER_KG
from trace.genealogy.balance.figures import Source, Uncertainty
from trace.genealogy.balance.reckoning import Reckoning
from trace.genealogy.balance.records import scales_of, tolerances
from trace.genealogy.graph import Edge, Node
from trace.genealogy.mixes import materials_of


@dataclass
class _Scale:
    """What was read off one scale: variance of its steps, and its limits one by one."""

    steps: Fraction = Fraction(0)
    limits: list[Fraction] = field(default_factory=list)
    count: int = 0


def by_weighing(
    reckoning: Reckoning, counted: Mapping[int, int], as_known_on: datetime | None
) -> Uncertainty:
    """Of what is unexplained. `counted`: the units in which somebody counted or saw what is left, how many times."""
    if reckoning.uom != "mg":
        return Uncertainty()
    looked = [unit for unit in reckoning.units() if unit in counted or reckoning.differs.get(unit)]
    draws = [(edge, reckoning.ratio(unit) or Fraction(0)) for unit in looked for edge in reckoning.out_of(unit)]
    nodes = reckoning.plan.graph.nodes
    weighed = of_draws(draws, nodes, as_known_on)
    labels = of_labels([nodes[unit] for unit in looked if unit in reckoning.own], as_known_on)
    unmeasured = weighed.unmeasured + sum(counted.get(unit, 0) for unit in looked)
    return Uncertainty((*weighed.sources, *labels), unmeasured)


def of_draws(
    draws: Collection[tuple[Edge, Fraction]], nodes: Mapping[int, Node], as_known_on: datetime | None
) -> Uncertainty:
    """Of the sum of draws, of each the share that counts. `nodes` hold what each was drawn into."""
    if not draws:
        return Uncertainty()
    scales = scales_of({_weighing(edge, nodes) for edge, _ratio in draws}, as_known_on)
    read: dict[str, _Scale] = {}
    unmeasured = 0
    for edge, ratio in draws:
        found = scales.get(_weighing(edge, nodes))
        if found is None:
            unmeasured += 1
        else:
            _add(read.setdefault(found[0], _Scale()), found[1], nodes[edge.child], ratio)
    return Uncertainty(tuple(_of_scales(read)), unmeasured)


def _weighing(edge: Edge, nodes: Mapping[int, Node]) -> int:
    """The act that weighed a draw: what is weighed is a charge, which is made by it."""
    child = nodes[edge.child]
    return child.event if child.kind == "charge" else edge.event


def _add(scale: _Scale, body: str, charge: Node, ratio: Fraction) -> None:
    said = json.loads(body)
    readings = 2 if Decimal(str(charge.about.get("tare") or "0")) else 1
    scale.steps += readings * ratio**2 * uncertainty.of_step(_mg(said.get("resolution")))
    scale.limits.append(ratio * _mg(said.get("check_tolerance")))
    scale.count += readings


def _of_scales(read: Mapping[str, _Scale]) -> Iterable[Source]:
    for key, scale in sorted(read.items()):
        yield Source("step of the scale", key, scale.count, scale.steps)
        yield Source("limits of the scale", key, len(scale.limits), uncertainty.in_common(scale.limits))


def of_labels(delivered: Collection[Node], as_known_on: datetime | None) -> Iterable[Source]:
    """What a delivered container holds was read off its label: it may be off by the material's fill tolerance."""
    if not delivered:
        return
    bodies = tolerances({m for node in delivered for m in materials_of(node.about)}, as_known_on)
    found: dict[str, list[Fraction]] = {}
    for node in delivered:
        share = _share(node, bodies)
        if share and node.amount:
            name = str(node.about.get("material") or "")
            found.setdefault(name, []).append(uncertainty.of_limits(share * node.amount))
    for name, variances in sorted(found.items()):
        yield Source("fill tolerance", name, len(variances), sum(variances, Fraction(0)))


def _share(node: Node, bodies: Mapping[tuple[str, str], str]) -> Fraction:
    own = json.loads(bodies.get(("material", str(node.about.get("material"))), "{}")).get("fill_tolerance")
    if own is None:
        own = json.loads(bodies.get(("setting", "fill tolerance"), "{}")).get("value")
    return _number(own)


def _mg(kg: Any) -> Fraction:
    return _number(kg) * MG_PER_KG


def _number(text: Any) -> Fraction:
    """What the plant data says; nothing where it does not say it as a number."""
    try:
        value = Decimal(str(text))
    except InvalidOperation:
        return Fraction(0)
    return Fraction(value) if value.is_finite() else Fraction(0)
