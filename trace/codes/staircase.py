"""The up-and-down method: the height at which half of the specimens fail, out of drops that each went one step down
after a failure and one step up after none.

After W. J. Dixon and A. M. Mood, "A method for obtaining and analyzing sensitivity data", J. Amer. Statist. Assoc. 43
(1948) 109-126; the formulas are written from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

HALF, FACTOR, LEAST_SPREAD = Decimal("0.5"), Decimal("1.62"), Decimal("0.3")
SHIFT = Decimal("0.029")


@dataclass(frozen=True, slots=True)
class Reckoned:
    """mean: the height at which half fail; deviation: None where the drops are too few heights apart to say. `counted`
    of the drops, those of the rarer outcome (`by_failures`: the failures), are what it is reckoned from."""

    mean: Decimal
    deviation: Decimal | None
    counted: int
    by_failures: bool


def reckoned(drops: Sequence[tuple[Decimal, bool]], step: Decimal) -> Reckoned | None:
    """Out of (height, whether it failed) of each drop; None where all failed or none did, or where a height is off the
    steps."""
    failed, passed = ([height for height, bad in drops if bad is outcome] for outcome in (True, False))
    if not failed or not passed or step <= 0:
        return None
    by_failures = len(failed) <= len(passed)
    heights = failed if by_failures else passed
    lowest, n = min(heights), len(heights)
    steps = [(height - lowest) / step for height in heights]
    if any(one != int(one) for one in steps) or any((height - lowest) % step for height, _ in drops):
        return None
    a, b = sum(steps, Decimal(0)), sum((one * one for one in steps), Decimal(0))
    mean = lowest + step * (a / n + (-HALF if by_failures else HALF))
    spread = (n * b - a * a) / (n * n)
    deviation = FACTOR * step * (spread + SHIFT) if spread > LEAST_SPREAD else None
    return Reckoned(mean, deviation, n, by_failures)


def next_height(height: Decimal, failed: bool, step: Decimal) -> Decimal:
    """Where the next drop is made from; never from under one step."""
    return max(step, height - step if failed else height + step)
