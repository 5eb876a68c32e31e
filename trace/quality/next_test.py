"""Which one test would shrink the list of suspect hulls most: a piece out of one box, a sample of one filling, one
record."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from trace.genealogy.walk import reach
from trace.quality.factors import STOCK, Factor
from trace.quality.incidence import CERTAIN, MIXED, OPEN, Flags, Incidence
from trace.quality.ranking import Ranked

MOST_TESTS = 6


@dataclass(frozen=True, slots=True)
class Test:
    """One thing to look at, or several missing records of the same hulls. `hulls` hang on it: of the list of `of` hulls
    so many come off it if what is looked at is sound, or, where it may not hold the suspect at all, so many are certain
    or off it whatever comes out (`settles`)."""

    factors: tuple[Factor, ...]
    hulls: int
    of: int
    settles: bool


def tests_of(
    first: Ranked | None, factors: Sequence[Factor], pairs: Incidence, known: datetime
) -> tuple[Test, ...]:
    """The most telling first; none where nothing stands out, or where it is no lot and nothing that was filled."""
    if first is None:
        return ()
    suspect = _suspect(first, factors)
    if suspect is None:
        return ()
    listed = pairs.flags(suspect, OPEN)
    sure = pairs.flags(suspect, CERTAIN)
    below = reach([int(factors[suspect].key)], "forward", known, stop_roles=["charge", "regrind"])
    found: list[Test] = []
    missing: dict[bytes, list[Factor]] = {}
    for n, factor in enumerate(factors):
        if factor.sort in ("container", "blend") and int(factor.key) in below:
            found += _of_filling(factor, pairs.flags(n, MIXED) & listed, sure, int(listed.sum()))
        elif factor.sort == "gap":
            hang = pairs.flags(n) & listed & ~pairs.flags(suspect, MIXED)
            missing.setdefault(np.packbits(hang).tobytes(), []).append(factor)
    for hulls, records in missing.items():
        hang_on = int(np.unpackbits(np.frombuffer(hulls, np.uint8)).sum())
        found += [Test(tuple(records), hang_on, int(listed.sum()), True)] if hang_on else []
    return tuple(sorted(found, key=lambda test: (-test.hulls, test.factors))[:MOST_TESTS])


def _suspect(first: Ranked, factors: Sequence[Factor]) -> int | None:
    """The number of the lot or filling that stands out, also where only much of it does."""
    for n in first.causes:
        sort, key, part = factors[n]
        whole = Factor(sort.removeprefix("much "), key)
        if whole.sort in STOCK.values() and (not part or sort != whole.sort) and whole in factors:
            return factors.index(whole)
    return None


def _of_filling(factor: Factor, hang: Flags, sure: Flags, of: int) -> list[Test]:
    """What a filling proves to be settles the hulls that only may hold the suspect, and frees those that do where it is
    sound."""
    if not hang.any():
        return []
    return [Test((factor,), int(hang.sum()), of, bool((hang & ~sure).sum() * 2 > hang.sum()))]
