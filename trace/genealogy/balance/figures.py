"""A balance: what came in, each way out, what nobody can account for, and the records that each figure adds up.

    received = Σ ways out + what is left + unexplained

to the milligram, with every vessel fully mixed (`best`); `least` and `most` hold however it mixed (amounts.py). Nothing
here reads a database.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from trace.codes.uncertainty import COVERAGE, standard
from trace.genealogy.admitted import Admitted
from trace.genealogy.amounts import Bounds, Draw

# Stable names of the ways, in the order in which they are told. Where it came from:
CAME = ("at the start", "received", "weighed", "placed", "topped up", "poured back", "mixed", "unknown source")
# Where it is: made into something, still powder or parts, and gone otherwise. "back": poured back to where it came
# from, which tells of it again.
ENDS = (
    "hulls", "mouldings", "moulds", "charges", "stock", "vessels", "back", "mixed", "samples", "scrap", "returned",
    "regrind", "elsewhere",
)  # fmt: skip
LEFT = frozenset({"stock", "vessels"})


@dataclass(frozen=True, slots=True)
class Record:
    """One record that a figure adds up. `amount` as recorded, in the balance's unit of measure, None where nobody
    recorded it; `code` and `unit` (uid) name what it went into or came as, `then` where that is now.
    """

    event: str
    happened: datetime
    what: str
    code: str
    unit: str
    kind: str
    amount: int | None
    then: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """What one container, or one filling of a vessel, gave to one way: `taken` out of the `held` in it.

    `share` of what it held was of what is asked about, so that `bounds` of it are in what was taken.
    """

    code: str
    unit: str
    held: int | None
    share: Bounds
    taken: Draw
    bounds: Bounds
    records: tuple[Record, ...] = ()


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of a balance: `way` is one of CAME or ENDS, or the cause of a difference."""

    way: str
    bounds: Bounds
    parts: tuple[Part, ...] = ()

    @property
    def records(self) -> list[Record]:
        return [record for part in self.parts for record in part.records]


@dataclass(frozen=True, slots=True)
class Source:
    """One reason why an amount may be off: so many readings of one instrument, or what is on labels."""

    what: str
    of: str
    count: int
    variance: Fraction

    @property
    def standard(self) -> Decimal:
        return standard(self.variance)


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """How far what is unexplained may be off by weighing alone. `unmeasured` amounts name no scale: theirs is not in
    it. Variances in the square of the balance's unit of measure."""

    sources: tuple[Source, ...] = ()
    unmeasured: int = 0

    @property
    def variance(self) -> Fraction:
        return sum((source.variance for source in self.sources), Fraction(0))

    @property
    def expanded(self) -> Decimal:
        """About 95 % of what weighing alone would do lies within ± this."""
        return COVERAGE * standard(self.variance)


@dataclass(frozen=True, slots=True)
class Book:
    """Of the containers asked about alone, wherever it went from there: came + differences = gave + left, exactly.

    `came` None: an amount that came is not recorded. `gave` is what was drawn, of which `poured` went into other
    containers and vessels; `unrecorded` draws have no amount and are in none of these. `left` below zero: more was
    drawn than the book holds.
    """

    came: int | None
    gave: int
    poured: int
    differences: int
    left: int | None
    unrecorded: int = 0

    @property
    def adds_up(self) -> bool:
        return self.came is None or self.left is None or self.came + self.differences == self.gave + self.left


@dataclass(frozen=True, slots=True)
class Balance:
    """What is asked about, as known at a moment. Amounts in `uom` (mg, pc, mm).

    `received` None: an amount that came is not recorded, so that nothing can be said in per cent. `differences`: what
    was found to be more (above zero) or less than the book said, by cause. `counted`: somebody looked what is left.
    """

    subject: str
    code: str
    name: str
    material: str
    uom: str
    as_known_on: datetime
    tree_size: int
    came: tuple[Figure, ...]
    ends: tuple[Figure, ...]
    differences: tuple[Figure, ...]
    unexplained: Bounds
    uncertainty: Uncertainty
    counted: bool
    book: Book
    gaps: tuple[Admitted, ...] = ()

    @property
    def received(self) -> int | None:
        amounts = [figure.bounds.most for figure in self.came]
        return None if None in amounts else sum(filter(None, amounts))

    @property
    def accounted(self) -> Fraction | None:
        """All that is in one of the ends, every vessel fully mixed."""
        return best_of(figure.bounds for figure in self.ends)

    @property
    def reconciled(self) -> Fraction | None:
        """The part of what was received that is accounted for; above 1 there is more than came."""
        if self.accounted is None or not self.received:
            return None
        return self.accounted / self.received

    @property
    def explained(self) -> bool | None:
        """Whether weighing alone may be the reason for what is unexplained; None: that cannot be said."""
        if self.unexplained.best is None or not self.counted:
            return None
        if self.unexplained.best == 0:
            return True
        if not self.uncertainty.sources:
            return None
        return Decimal(abs(self.unexplained.best.numerator)) <= self.uncertainty.expanded * Decimal(
            self.unexplained.best.denominator
        )


def figure_of(way: str, parts: list[Part]) -> Figure:
    """What several containers gave to one way; bounds add up, below zero too."""
    best: Fraction | None = Fraction(0)
    most: int | None = 0
    for part in parts:
        best = None if best is None or part.bounds.best is None else best + part.bounds.best
        most = None if most is None or part.bounds.most is None else most + part.bounds.most
    return Figure(way, Bounds(sum(part.bounds.least for part in parts), best, most), tuple(parts))


def best_of(bounds: Iterable[Bounds]) -> Fraction | None:
    total = Fraction(0)
    for one in bounds:
        if one.best is None:
            return None
        total += one.best
    return total


def tightened(figures: Sequence[Figure], low: int, high: int) -> list[Figure]:
    """Figures that together are between `low` and `high`: none is more than the others leave, or less than all others
    at their most leave over."""
    least = sum(figure.bounds.least for figure in figures)
    mosts = [figure.bounds.most for figure in figures]
    found = []
    for n, figure in enumerate(figures):
        bounds = figure.bounds
        room = high - (least - bounds.least)
        others = mosts[:n] + mosts[n + 1 :]
        top = bounds.most if bounds.most is not None and bounds.most <= room else room
        bottom = bounds.least if None in others else max(bounds.least, low - sum(filter(None, others)))
        # Records that contradict each other tighten nothing.
        found.append(replace(figure, bounds=replace(bounds, least=bottom, most=top)) if bottom <= top else figure)
    return found
