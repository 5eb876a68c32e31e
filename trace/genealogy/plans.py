"""How many hulls a plan would put at stake, before anything is done: the same plan put to cheaper ways of doing it.

What is at stake with a lot is every hull that holds some of it or may, and whatever becomes such a hull. A vessel that
was not proved empty mixes: each hull drawn from it after a top-up has every lot that was in it and every lot that came.
Plain numbers here, milligrams and hulls; trace/genealogy/planned.py reads them.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Way:
    """One way to do it. `after`: lot -> hulls at stake when all of it has been made; `hulls`: how many that makes.

    `rest` mg are left over and go into no hull of the plan; `orders`: how many orders hold something of the lot that is
    planned with.
    """

    name: str
    after: Mapping[int, int]
    hulls: int
    rest: int = 0
    orders: int = 0

    @property
    def worst(self) -> int:
        return max(self.after.values(), default=0)

    @property
    def mean(self) -> Fraction:
        return Fraction(sum(self.after.values()), len(self.after)) if self.after else Fraction(0)

    @property
    def cost(self) -> tuple[int, Fraction]:
        """Cheaper is less: the worst recall first, then the mean."""
        return self.worst, self.mean


# The names of the ways.
AS_PLANNED, EMPTY_FIRST, SAME_LOTS = "as planned", "run it empty first", "more of a lot that is in it"
WHOLE_CHARGES, ONE_AFTER_ANOTHER = "whole charges only", "one order after the other"


def top_up(
    now: Mapping[int, int], vessel: Collection[int], source: Collection[int], *, left: int, amount: int, charge: int
) -> list[Way]:
    """Ways to put `amount` into a vessel that holds `left`, out of which `charge` is drawn for each hull.

    `now`: lot -> hulls at stake today, of the lots in the vessel and of those in the source. All until no whole charge
    is left. The first way is the plan as it is.
    """
    lots = set(vessel) | set(source)
    made, rest = divmod(left + amount, charge)
    ways = [Way(AS_PLANNED, {lot: now[lot] + made for lot in sorted(lots)}, made, rest)]
    before, over = divmod(left, charge)
    after, last = divmod(amount, charge)
    if left and set(source) != set(vessel):
        hulls = {lot: now[lot] + before * (lot in vessel) + after * (lot in source) for lot in sorted(lots)}
        ways.append(Way(EMPTY_FIRST, hulls, before + after, over + last))
    if vessel and not set(source) <= set(vessel):
        ways.append(Way(SAME_LOTS, {lot: now[lot] + made * (lot in vessel) for lot in sorted(lots)}, made, rest))
    return ways


@dataclass(frozen=True, slots=True)
class Share:
    """What an order is planned to take of a lot: `amount` mg, by `charge` mg for each hull."""

    order: str
    amount: int
    charge: int


def split(now: Mapping[int, int], lot: int, other: int, shares: Sequence[Share]) -> list[Way]:
    """Ways to share a lot out over orders, all of which make the same hulls. Where its part of an order is no whole
    number of charges, the last hull of that part is filled up from the lot `other`, and is at stake with both; one that
    is not made of the lot is made of the other."""
    whole = [divmod(share.amount, share.charge) for share in shares]
    straddling = sum(rest > 0 for _made, rest in whole)
    made = sum(n for n, _rest in whole)
    every, orders = made + straddling, sum(share.amount > 0 for share in shares)
    ways = [Way(AS_PLANNED, {lot: now[lot] + every, other: now[other] + straddling}, every, 0, orders)]
    if straddling:
        rest = sum(rest for _made, rest in whole)
        after = {lot: now[lot] + made, other: now[other] + straddling}
        ways.append(Way(WHOLE_CHARGES, after, every, rest, sum(n > 0 for n, _rest in whole)))
    if straddling > 1:
        ways.append(_one_after_another(now, lot, other, shares, every))
    return ways


def _one_after_another(now: Mapping[int, int], lot: int, other: int, shares: Sequence[Share], every: int) -> Way:
    """The part bag stays with the next order: only the very last hull can be filled up from another lot."""
    left = sum(share.amount for share in shares)
    made = orders = 0
    for share in shares:
        wanted = -(-share.amount // share.charge)
        here = min(wanted, left // share.charge)
        made, left, orders = made + here, left - here * share.charge, orders + (here > 0)
    last = int(left > 0 and made < every)
    after = {lot: now[lot] + made + last, other: now[other] + every - made}
    return Way(ONE_AFTER_ANOTHER, after, every, 0 if last else left, orders)


def cheapest(ways: Sequence[Way]) -> Way:
    """The way with the smallest worst recall, then the smallest mean; the plan itself where none is better."""
    return min(ways, key=lambda way: way.cost)
