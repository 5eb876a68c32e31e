"""A second, plain reckoning of carriers: every true fact replayed in the order of time, from the beginning.

It knows nothing of events, edges or databases, only the everyday rules of the floor: what enters a carrier that was
not proved empty is mixed with all that was in it; a container may hold a little more than its label says; what is
proved empty is empty. The tests hold the product's records against it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

TOLERANCE = 0.02  # the share of a fill by which a container of the invented plant may hold more


@dataclass
class Fact:
    """What truly happened. kind: topup, weigh, empty, count. Amounts in mg; `into` a carrier, or the charge's name."""

    at: datetime
    kind: str
    source: str
    into: str = ""
    amount: int = 0


@dataclass
class Filling:
    lots: frozenset[str]
    amount: int
    balance: int
    gained: int = 0


@dataclass
class Carriers:
    now: dict[str, Filling | None]
    # By charge: the lots that may be in it; None where nobody can say.
    charges: dict[str, frozenset[str] | None] = field(default_factory=dict)

    def take(self, carrier: str, amount: int) -> frozenset[str] | None:
        filling = self.now[carrier]
        if filling is None:
            return None
        left = filling.balance - amount
        if left < 0 and -left + filling.gained <= int(filling.amount * TOLERANCE):
            short = min(-left, amount)
            filling.gained += short
            left += short
        filling.balance = left
        return filling.lots

    def happen(self, fact: Fact) -> None:
        if fact.kind == "empty":
            self.now[fact.source] = None
            return
        if fact.kind == "count":
            filling = self.now[fact.source]
            if filling is not None:
                filling.balance = fact.amount
            return
        lots = self.take(fact.source, fact.amount)
        if fact.kind == "weigh":
            self.charges[fact.into] = lots
            return
        before = self.now[fact.into]
        heel = max(before.balance, 0) if before else 0
        mixed = (lots or frozenset({"?"})) | (before.lots if before else frozenset())
        self.now[fact.into] = Filling(mixed, heel + fact.amount, heel + fact.amount)


def after(facts: list[Fact], stock: dict[str, tuple[str, int]]) -> Carriers:
    """What the carriers hold and what went where; `stock`: carrier -> (lot, mg), "" for an empty one."""
    carriers = Carriers({c: Filling(frozenset({lot}), mg, mg) if lot else None for c, (lot, mg) in stock.items()})
    for fact in sorted(facts, key=lambda f: f.at):
        carriers.happen(fact)
    return carriers
