"""How long work took by its own records: quicker than hands, in two places at once, or unlike the others of its kind.

Plain Python. The limits are common practice, without a source.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from statistics import median

# A tub is put on the scale, filled, read and taken off; nobody does that in less. Named from so many in a row.
LEAST_A_CHARGE, IN_A_ROW = timedelta(seconds=15), 3
# A box is not carried from one scale to another, nor a pack from rack to rack and back, in less; nor is a box carried
# to and fro so many times in a while.
LEAST_BETWEEN_SCALES, LEAST_BETWEEN_RACKS = timedelta(seconds=30), timedelta(minutes=10)
TO_AND_FRO, A_WHILE = 3, timedelta(minutes=15)
# A stage is unlike the others when it is so many scatters off their middle, and so many minutes besides.
FAR, FAR_MINUTES, ENOUGH = 6.0, 4.0, 5
# Of a normal distribution, standard deviation over median absolute deviation.
NORMAL = 1.4826


@dataclass(frozen=True, slots=True)
class Done:
    """One piece of work: when, what it was done to, and at what."""

    at: datetime
    unit: int
    where: str = ""


def too_quick(work: Sequence[Done]) -> list[list[Done]]:
    """The stretches of work at one scale, each piece on another unit, that follow each other quicker than hands."""
    found: list[list[Done]] = []
    stretch: list[Done] = []
    for one in sorted(work, key=lambda done: done.at):
        if stretch and (one.at - stretch[-1].at >= LEAST_A_CHARGE or one.unit == stretch[-1].unit):
            found.append(stretch)
            stretch = []
        stretch.append(one)
    return [stretch for stretch in [*found, stretch] if len(stretch) >= IN_A_ROW]


def in_two_places(work: Sequence[Done], least: timedelta) -> list[tuple[Done, Done]]:
    """Pairs of the same thing at two places, one after the other, sooner than it can be carried."""
    ordered = sorted(work, key=lambda done: done.at)
    return [(one, other) for one, other in pairwise(ordered) if one.where != other.where and other.at - one.at < least]


def to_and_fro(work: Sequence[Done]) -> list[tuple[Done, Done]]:
    """The moves of one thing between places, first and last of each while in which it changed them again and again."""
    ordered = sorted(work, key=lambda done: done.at)
    moves = [other for one, other in pairwise(ordered) if one.where != other.where]
    ends = zip(moves, moves[TO_AND_FRO - 1 :], strict=False)
    return [(first, last) for first, last in ends if last.at - first.at <= A_WHILE]


@dataclass(frozen=True, slots=True)
class Stage:
    """How long a cook took from the record before to this one, and what it usually is; minutes."""

    unit: int
    name: str
    at: datetime
    minutes: float
    usual: float


def unlike_stages(cooks: Mapping[int, Sequence[tuple[str, datetime]]]) -> list[Stage]:
    """The stages that took another time than the same stage of the other cooks; cooks of one recipe, by unit, each its
    stages in order from its start."""
    took: dict[str, list[tuple[int, datetime, float]]] = {}
    for unit, stages in cooks.items():
        for (_before, began), (name, at) in pairwise(stages):
            took.setdefault(name, []).append((unit, at, (at - began).total_seconds() / 60))
    found = []
    for name, those in took.items():
        if len(those) <= ENOUGH:
            continue
        usual = median(minutes for *_, minutes in those)
        scatter = NORMAL * median(abs(minutes - usual) for *_, minutes in those)
        limit = max(FAR_MINUTES, FAR * scatter)
        found += [Stage(unit, name, at, m, usual) for unit, at, m in those if abs(m - usual) > limit]
    return sorted(found, key=lambda one: one.at)
