"""A plain reckoning of what a scale's check-weights hold, from nothing but what was known of it at each moment.

It shares no code with the product. The rule is common practice, and what ISO 9001:2015, 7.1.5.2 asks for (named from
memory): where an instrument is found unfit, what was measured with it since it was last known to be fit is in doubt.
A check-weight within its limit shows the scale fit; so what was weighed between two of them is in doubt exactly when
one of the two next to it, before or after, was outside the limit.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Read:
    """One act at the scale, as it is known. kind: check (off: by how many grams it was off) or weigh (into a tub)."""

    at: datetime
    kind: str
    off: int = 0
    tub: str = ""


def in_doubt(known: Iterable[Read], limit: int) -> set[str]:
    """The tubs whose charge is in doubt. `limit`: how many grams a check-weight may be off."""
    acts = list(known)
    checks = sorted((a.at, abs(a.off) > limit) for a in acts if a.kind == "check")
    found = set()
    for act in acts:
        if act.kind == "weigh":
            before = [failed for at, failed in checks if at <= act.at]
            after = [failed for at, failed in checks if at > act.at]
            if True in (*before[-1:], *after[:1]):
                found.add(act.tub)
    return found


def held_at_last(steps: Iterable[dict[int, Read]], limit: int) -> set[str]:
    """What is held after all that was told and put right. steps: all that was known after each, by its number. What was
    held once stays held until a person has looked, and nobody has."""
    held: set[str] = set()
    for known in steps:
        held |= in_doubt(known.values(), limit)
    return held
