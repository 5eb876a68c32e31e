"""Finds plates that stand on each other's mouldings: what was seen of each hull fits its neighbour's record, not its
own.

Two plates that are bound the wrong way round exchange everything that the records say of the two hulls: what was
charged, the colour, the graphics. What was weighed and seen of the finished hulls stays with them. For each pair of
neighbours the finder asks how much likelier all that was seen is if the two are exchanged than if they are not: the
ratio of the two likelihoods (Neyman and Pearson 1933). Masses are taken as normally distributed about what their
charges make them, but for a few that may be anything: a mass that fits neither charge says nothing, as where a scale
was off, where a normal distribution alone would shout for whichever is less far away.

A pair of one colour whose charges weigh the same looks alike either way: nothing here can tell it, and it is not named.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from math import exp, log, pi, sqrt
from statistics import median

# Plates are exchanged within a few bindings (common practice): the next, or the one after.
REACH = 2
# How much likelier the exchange must be, as a natural logarithm: 30 to 1. Few pairs come near it by chance, since a
# pair whose charges are alike says nothing and one whose charges are far apart speaks loudly for its own. Masses alone
# must say more, 100 to 1: colours rule out most pairs, and without them every pair is open to chance. The tests count
# how many of 1,000 bindings are named for nothing.
EVIDENCE, MASSES_ALONE = log(30), log(100)
# How often what somebody notes of a colour or a graphic is wrong.
SEEN_WRONG = 0.005
# A scatter of masses below this, in kg, is not believed; of a model of which fewer hulls were weighed nobody knows it,
# and masses say nothing (both common practice).
LEAST_SCATTER, ENOUGH = 0.01, 20
# How often a mass is no such hull's (mistyped, a part not on it, a charge off), and the density it then has, per kg.
ODD_MASS, ANYTHING = 0.01, 0.5
# Of a normal distribution, standard deviation over median absolute deviation.
NORMAL = 1.4826
# What lies further out than so many of its scatters is left out when that is reckoned, by which a normal distribution
# seems narrower by this factor: the root of 1 - 2 a f(a) / (2 F(a) - 1), a = 2.5.
TRIMMED, NARROWER = 2.5, 0.955
# A mass that is further off than so many scatters is not explained (common practice).
UNEXPLAINED = 4


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
    """Two plates that seem to stand on each other's mouldings. by_mass, by_sight: how many times as likely what was
    weighed and seen is if they do, as natural logarithms."""

    one: str
    other: str
    by_mass: float
    by_sight: float

    @property
    def evidence(self) -> float:
        return self.by_mass + self.by_sight

    @property
    def odds(self) -> float:
        """How many times as likely all of it is, to two digits."""
        return float(f"{exp(min(self.evidence, 50)):.2g}")


def exchanged(bindings: Sequence[Binding], settled: Collection[str] = ()) -> list[Exchange]:
    """The exchanges that what was seen speaks for, likeliest first; no plate is in two. `bindings` in the order in
    which they were bound; settled: plates that somebody found on their own hulls."""
    offset, scatter = _masses(bindings)
    found = [
        _weighed_up(one, other, offset, scatter)
        for n, one in enumerate(bindings) if one.plate not in settled
        for other in _neighbours(bindings, n) if other.plate not in settled
    ]  # fmt: skip
    taken: set[str] = set()
    chosen = []
    for pair in sorted(filter(None, found), key=lambda x: (-x.evidence, x.one)):
        if not {pair.one, pair.other} & taken:
            taken |= {pair.one, pair.other}
            chosen.append(pair)
    return chosen


def _weighed_up(
    one: Binding, other: Binding, offset: Mapping[str, float], scatter: Mapping[str, float]
) -> Exchange | None:
    mass, sight = _by_mass(one, other, offset, scatter), _by_sight(one, other)
    enough = EVIDENCE if one.seen or other.seen else MASSES_ALONE
    return Exchange(one.plate, other.plate, mass, sight) if mass + sight >= enough else None


def _neighbours(bindings: Sequence[Binding], n: int) -> list[Binding]:
    """The next few plates of the same model."""
    same = [b for b in bindings[n + 1 : n + 1 + 4 * REACH] if b.model == bindings[n].model]
    return same[:REACH]


def _masses(bindings: Sequence[Binding]) -> tuple[Mapping[str, float], Mapping[str, float]]:
    """By model: what a hull weighs above its charges (fittings less flash), and how that scatters; without those models
    of which too few were weighed."""
    over: dict[str, list[float]] = {}
    for b in bindings:
        if b.charged is not None and b.weighed is not None:
            over.setdefault(b.model, []).append(b.weighed - b.charged)
    over = {model: values for model, values in over.items() if len(values) >= ENOUGH}
    offset = {model: median(values) for model, values in over.items()}
    return offset, {model: _scatter([v - offset[model] for v in values]) for model, values in over.items()}


def _scatter(off: Sequence[float]) -> float:
    """The standard deviation of these, in kg, without those far out: the median finds them, which a few exchanged
    plates do not move, and what scales round to steps is too coarse for it to say more."""
    about = max(LEAST_SCATTER, NORMAL * median(map(abs, off)))
    near = [one for one in off if abs(one) <= TRIMMED * about]
    found = sqrt(sum(one * one for one in near) / len(near)) / NARROWER
    # As wide as it may well be: two standard errors more, each the 1 / root(2 n)th part of it.
    return max(LEAST_SCATTER, found * (1 + 2 / sqrt(2 * len(near))))


def _by_mass(one: Binding, other: Binding, offset: Mapping[str, float], scatter: Mapping[str, float]) -> float:
    """Logarithm of the ratio: both masses under the other's charges, over both under their own. One that was not
    weighed says nothing; and an exchange that leaves one of the two without an explanation has none for the other."""
    if one.charged is None or other.charged is None or one.model not in offset:
        return 0.0
    total, explained = 0.0, True
    for hull, its, others in ((one, one.charged, other.charged), (other, other.charged, one.charged)):
        if hull.weighed is not None:
            rest, spread = hull.weighed - offset[hull.model], scatter[hull.model]
            total += _density(rest - others, spread) - _density(rest - its, spread)
            explained = explained and abs(rest - others) <= UNEXPLAINED * spread
    return total if explained else min(total, 0.0)


def _density(off: float, scatter: float) -> float:
    """Logarithm of how likely a mass is that is so many kg off what its charges make it."""
    usual = exp(-((off / scatter) ** 2) / 2) / (scatter * sqrt(2 * pi))
    return log((1 - ODD_MASS) * usual + ODD_MASS * ANYTHING)


def _by_sight(one: Binding, other: Binding) -> float:
    """The same for what was seen: where the two records differ, each sight fits one of them."""
    total = 0.0
    for hull, another in ((one, other), (other, one)):
        for name, seen in hull.seen.items():
            own, others = hull.recorded.get(name), another.recorded.get(name)
            if own is not None and others is not None and own != others:
                total += log((1 - SEEN_WRONG) / SEEN_WRONG) * ((seen == others) - (seen == own))
    return total
