"""Finds plates that stand on each other's mouldings: what was seen of each hull fits its neighbour's record, not its
own.

Two plates that are bound the wrong way round exchange everything that the records say of the two hulls: what was
charged, the colour, the graphics. What was weighed and seen of the finished hulls stays with them. For each pair of
neighbours the finder asks how much likelier all that was seen is if the two are exchanged than if they are not: the
ratio of the two likelihoods (Neyman and Pearson 1933), masses taken as normally distributed about what their charges
make them.

A pair of one colour whose charges weigh the same looks alike either way: nothing here can tell it, and it is not named.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import log
from statistics import median

# Plates are exchanged within a few bindings (common practice): the next, or the one after.
REACH = 2
# How much likelier the exchange must be, as a natural logarithm: 30 to 1. Few pairs come near it by chance, since a
# pair whose charges are alike says nothing and one whose charges are far apart speaks loudly for its own; the tests
# count how many of 1,000 bindings are named for nothing.
EVIDENCE = log(30)
# How often what somebody notes of a colour or a graphic is wrong.
SEEN_WRONG = 0.005
# A scatter of masses below this is not believed; with too few hulls to estimate it this stands (both in kg).
LEAST_SCATTER, USUAL_SCATTER, ENOUGH = 0.01, 0.03, 12
# Of a normal distribution, standard deviation over median absolute deviation.
NORMAL = 1.4826


@dataclass(frozen=True, slots=True)
class Binding:
    """One plate on one moulding, as recorded. charged: kg of all charges of its load, None where the records do not
    say. weighed: kg of the hull with this plate, None where nobody weighed it. recorded: what the moulding was made as
    and can be seen on it (colour, graphics), by name; seen: what somebody saw on the hull with this plate. model:
    plates of another model are refused, so that they cannot be exchanged.
    """

    plate: str
    model: str
    charged: float | None
    weighed: float | None
    recorded: Mapping[str, str] = field(default_factory=dict)
    seen: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Exchange:
    """Two plates that seem to stand on each other's mouldings; `odds` to one in favour of the exchange, and why."""

    one: str
    other: str
    odds: float
    by_mass: float
    by_sight: float


def exchanged(bindings: Sequence[Binding], evidence: float = EVIDENCE) -> list[Exchange]:
    """The exchanges that what was seen speaks for, likeliest first; no plate is in two. `bindings` in the order in
    which they were bound."""
    found: list[tuple[float, Exchange]] = []
    offset, scatter = _masses(bindings)
    for n, one in enumerate(bindings):
        for other in _neighbours(bindings, n):
            mass = _by_mass(one, other, offset, scatter)
            sight = _by_sight(one, other)
            if mass + sight >= evidence:
                odds = float(f"{2.718281828 ** min(mass + sight, 50):.2g}")
                found.append((mass + sight, Exchange(one.plate, other.plate, odds, mass, sight)))
    taken: set[str] = set()
    chosen = []
    for _weight, pair in sorted(found, key=lambda x: (-x[0], x[1].one)):
        if not {pair.one, pair.other} & taken:
            taken |= {pair.one, pair.other}
            chosen.append(pair)
    return chosen


def _neighbours(bindings: Sequence[Binding], n: int) -> list[Binding]:
    """The next few plates of the same model."""
    same = [b for b in bindings[n + 1 : n + 1 + 4 * REACH] if b.model == bindings[n].model]
    return same[:REACH]


def _masses(bindings: Sequence[Binding]) -> tuple[Mapping[str, float], Mapping[str, float]]:
    """By model: what a hull weighs above its charges (fittings less flash), and how that scatters; both from medians,
    which a few exchanged plates do not move."""
    over: dict[str, list[float]] = {}
    for b in bindings:
        if b.charged is not None and b.weighed is not None:
            over.setdefault(b.model, []).append(b.weighed - b.charged)
    offset = {model: median(values) for model, values in over.items()}
    scatter = {
        model: max(LEAST_SCATTER, NORMAL * median(abs(v - offset[model]) for v in values))
        if len(values) >= ENOUGH else USUAL_SCATTER
        for model, values in over.items()
    }  # fmt: skip
    return offset, scatter


def _by_mass(one: Binding, other: Binding, offset: Mapping[str, float], scatter: Mapping[str, float]) -> float:
    """Logarithm of the ratio: both masses under the other's charges, over both under their own. One that was not
    weighed says nothing."""
    if one.charged is None or other.charged is None:
        return 0.0
    total = 0.0
    for hull, another in ((one, other), (other, one)):
        if hull.weighed is not None and hull.charged is not None and another.charged is not None:
            rest = hull.weighed - offset[hull.model]
            total += ((rest - hull.charged) ** 2 - (rest - another.charged) ** 2) / (2 * scatter[hull.model] ** 2)
    return total


def _by_sight(one: Binding, other: Binding) -> float:
    """The same for what was seen: where the two records differ, each sight fits one of them."""
    total = 0.0
    for hull, another in ((one, other), (other, one)):
        for name, seen in hull.seen.items():
            own, others = hull.recorded.get(name), another.recorded.get(name)
            if own is not None and others is not None and own != others:
                total += log((1 - SEEN_WRONG) / SEEN_WRONG) * ((seen == others) - (seen == own))
    return total
