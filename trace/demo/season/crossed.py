"""Two pairs of plates that stand on each other's hulls: one pair of two colours, which is seen, and one of one colour,
of which only the masses could tell, and nobody weighs the finished hulls."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from trace.demo.season.incidents import CROSSED_FROM, PAPER_DAY
from trace.demo.season.schedule import Cook
from trace.demo.season.truth import Made
from trace.demo.season.writer import Writer

QUIET = range(PAPER_DAY - 2, PAPER_DAY + 6)  # not in the week on paper
NEAR = 4  # days that two hulls can stand beside each other on the bench


@dataclass
class Crossing:
    """The cooks of two hulls; `bound`: those of them whose plates are bound by now."""

    cooks: tuple[int, int]
    seen: bool
    bound: list[Made] = field(default_factory=list)


def crossings(cooks: Sequence[Cook]) -> list[Crossing]:
    """The last two neighbours of a model that differ in colour, and the last two that do not."""
    of_two = [(one.number, other.number) for one, other in _neighbours(cooks) if one.colour != other.colour][-1:]
    alike = [
        (one.number, other.number) for one, other in _neighbours(cooks)
        if one.colour == other.colour and other.day - one.day <= 1
        and not {one.number, other.number} & {n for pair in of_two for n in pair}
    ][-1:]  # fmt: skip
    return [*(Crossing(pair, seen=True) for pair in of_two), *(Crossing(pair, seen=False) for pair in alike)]


def _neighbours(cooks: Sequence[Cook]) -> Iterator[tuple[Cook, Cook]]:
    for model in ("T370", "T430"):
        its = [c for c in cooks if c.product == model and c.purpose == "production" and c.day >= CROSSED_FROM]
        yield from (
            (one, other) for one, other in pairwise(its)
            if other.day - one.day <= NEAR and not {one.day, other.day} & {*QUIET}
        )  # fmt: skip


def cross(w: Writer, one: Made) -> None:
    """The plate is bound, and lies on the bench; when that of the other hull lies beside it, each is riveted to the
    wrong one."""
    crossing = w.crossed.get(one.cook)
    if crossing is None:
        return
    crossing.bound.append(one)
    if len(crossing.bound) < 2:
        return
    first, second = crossing.bound
    first.plate_bound, second.plate_bound = first.serial, second.serial
    first.serial, second.serial = second.serial, first.serial
    unseen = "nothing: one model and colour, and nobody weighed them again"
    w.truth.wrong.append(
        {"what": "plates crossed", "plates": [first.serial, second.serial], "at": w.now.isoformat(),
         "seen": "each hull is of the other's colour" if crossing.seen else unseen}
    )  # fmt: skip


def to_wait(w: Writer, one: Made) -> bool:
    """A hull whose plate is to be crossed is inspected when that has happened."""
    crossing = w.crossed.get(one.cook)
    return crossing is not None and len(crossing.bound) < 2


def stays_held(w: Writer, one: Made) -> bool:
    """Seen in another colour than its record's, and nobody has said yet what came of it."""
    crossing = w.crossed.get(one.cook)
    return crossing is not None and crossing.seen
