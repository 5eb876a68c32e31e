"""What really flows out of a vessel: neither first in first out nor fully mixed, but something between them.

Plain Python, whole milligrams, nothing lost: what went in is what came out and what is left, lot by lot. The records
know only that it was drawn, so whatever flow nature takes must lie within the bounds that they give.
"""

from dataclasses import dataclass, field
from random import Random

from trace.demo.season.habits import pieces

Lots = dict[str, int]


@dataclass
class Vessel:
    """`heel` is what was left at the last topping up, through and through alike; `top` is what came on top of it. The
    three weights say how much of a draw goes about like plug flow, fully mixed and funnel flow."""

    heel: Lots = field(default_factory=dict)
    top: Lots = field(default_factory=dict)
    weights: tuple[int, int, int] = (1, 1, 1)

    @property
    def amount(self) -> int:
        return sum(self.heel.values()) + sum(self.top.values())

    def top_up(self, rng: Random, lot: str, amount: int) -> None:
        self.heel = {lot: left for lot, left in together(self.heel, self.top).items() if left}
        self.top = {lot: amount}
        self.weights = (rng.randrange(1, 6), rng.randrange(1, 6), rng.randrange(0, 3))

    def draw(self, rng: Random, amount: int) -> Lots:
        """What of each lot comes out; ValueError for more than is in it."""
        heel, top = sum(self.heel.values()), sum(self.top.values())
        if amount > heel + top:
            raise ValueError(f"{amount} mg asked of {heel + top}")
        plug, mixed, funnel = min(heel, amount), amount * heel // (heel + top), max(0, amount - top)
        of_plug, of_mixed, of_funnel = (4 * weight + rng.randrange(4) for weight in self.weights)
        from_heel = (of_plug * plug + of_mixed * mixed + of_funnel * funnel) // (of_plug + of_mixed + of_funnel)
        from_heel = min(heel, max(from_heel, amount - top))
        return together(_take(self.heel, from_heel), _take(self.top, amount - from_heel))

    def empty(self) -> Lots:
        """What was left in it, thrown away."""
        left = {lot: much for lot, much in together(self.heel, self.top).items() if much}
        self.heel, self.top = {}, {}
        return left


def _take(lots: Lots, amount: int) -> Lots:
    taken = dict(zip(lots, pieces(amount, list(lots.values())), strict=True))
    for lot, much in taken.items():
        lots[lot] -= much
    return {lot: much for lot, much in taken.items() if much}


def together(*several: Lots) -> Lots:
    found: Lots = {}
    for lots in several:
        for lot, amount in lots.items():
            found[lot] = found.get(lot, 0) + amount
    return found
