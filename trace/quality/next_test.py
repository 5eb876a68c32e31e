"""Which one test would shrink the list of suspect hulls most: a retained sample, a piece out of one box, a sample of
one filling, one record."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from trace.genealogy.walk import reach
from trace.quality.factors import STOCK, Factor, in_order
from trace.quality.incidence import CERTAIN, MIXED, OPEN, Flags, Incidence
from trace.quality.ranking import Ranked
from trace.quality.samples import Sample, kept_samples

MOST_TESTS = 6


@dataclass(frozen=True, slots=True)
class Test:
    """One thing to look at, or several missing records of the same hulls. `hulls` hang on it: of the list of `of` hulls
    so many come off it if what is looked at is sound, or, where it may not hold the suspect at all, so many are certain
    or off it whatever comes out (`settles`). `may`: how many of them only may have the suspect. `samples`: what is kept
    of it, so that nobody has to look for it; `whole`: they are of the suspect itself, and stand for all of it as far as
    that is alike throughout."""

    factors: tuple[Factor, ...]
    hulls: int
    of: int
    settles: bool
    may: int = 0
    samples: tuple[Sample, ...] = ()
    whole: bool = False


def tests_of(
    first: Ranked | None, factors: Sequence[Factor], pairs: Incidence, known: datetime
) -> tuple[Test, ...]:
    """The most telling first; none where nothing stands out, or where it is no lot and nothing that was filled."""
    if first is None:
        return ()
    suspect = _suspect(first, factors)
    if suspect is None:
        return ()
    listed = List(pairs.flags(suspect, OPEN), pairs.flags(suspect, CERTAIN))
    key = int(factors[suspect].key)
    below = reach([key], "forward", known, stop_roles=["charge", "regrind"])
    samples = kept_samples({key, *below}, known)
    found: list[Test] = _of_suspect(factors[suspect], [one for one in samples if one.tells_of(key)], listed)
    kept = _by_filling([one for one in samples if not one.tells_of(key)])
    missing: dict[bytes, list[Factor]] = {}
    for n, factor in enumerate(factors):
        if factor.sort in ("container", "blend") and int(factor.key) in below:
            found += _of_filling(factor, pairs.flags(n, MIXED), listed, tuple(kept.get(int(factor.key), ())))
        elif factor.sort == "gap":
            hang = pairs.flags(n) & listed.hulls & ~pairs.flags(suspect, MIXED)
            missing.setdefault(np.packbits(hang).tobytes(), []).append(factor)
    for hulls, records in missing.items():
        hang_on = int(np.unpackbits(np.frombuffer(hulls, np.uint8)).sum())
        found += [Test(tuple(records), hang_on, listed.count, True, hang_on)] if hang_on else []
    return tuple(sorted(found, key=_most_first)[:MOST_TESTS])


@dataclass(frozen=True, slots=True)
class List:
    """The hulls on the list, and those that have the suspect for certain."""

    hulls: Flags
    sure: Flags

    @property
    def count(self) -> int:
        return int(self.hulls.sum())


def _most_first(test: Test) -> tuple[int, bool, tuple[Factor, ...]]:
    """Of two on which as many hang, what is at hand."""
    return -test.hulls, not test.samples, test.factors


def _by_filling(samples: Iterable[Sample]) -> dict[int, list[Sample]]:
    found: dict[int, list[Sample]] = {}
    for one in samples:
        found.setdefault(one.of, []).append(one)
    return found


def _of_suspect(suspect: Factor, samples: Sequence[Sample], listed: List) -> list[Test]:
    """A retained sample of the suspect itself: if that is sound, nothing is left of the suspicion."""
    may = int((listed.hulls & ~listed.sure).sum())
    return [Test((suspect,), listed.count, listed.count, False, may, tuple(samples), whole=True)] if samples else []


def _suspect(first: Ranked, factors: Sequence[Factor]) -> int | None:
    """The number of the lot or filling that stands out, also where only much of it does; of a lot and its only box the
    lot, of which more may be kept."""
    for n in sorted(first.causes, key=lambda n: in_order(factors[n])):
        sort, key, part = factors[n]
        whole = Factor(sort.removeprefix("much "), key)
        if whole.sort in STOCK.values() and (not part or sort != whole.sort) and whole in factors:
            return factors.index(whole)
    return None


def _of_filling(factor: Factor, holds: Flags, listed: List, samples: tuple[Sample, ...]) -> list[Test]:
    """What a filling proves to be settles the hulls that only may hold the suspect, and frees those that do where it is
    sound."""
    hang = holds & listed.hulls
    if not hang.any():
        return []
    hulls, may = int(hang.sum()), int((hang & ~listed.sure).sum())
    return [Test((factor,), hulls, listed.count, may * 2 > hulls, may, samples)]
