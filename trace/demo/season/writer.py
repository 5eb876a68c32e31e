"""What all pieces of work of the season share: the script, the year, the stores, the people and the truth."""

from collections import deque
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from random import Random
from typing import TYPE_CHECKING

from trace.demo.season.habits import WORKERS, Scale, Worker
from trace.demo.season.script import Script
from trace.demo.season.stores import Box, Stores
from trace.demo.season.truth import Made, Truth
from trace.demo.season.vessel import Vessel
from trace.demo.season.year import CREWS, Year

if TYPE_CHECKING:
    from trace.demo.season.crossed import Crossing


@dataclass
class InPlant:
    """A hull that passed its inspection then."""

    made: Made
    passed: datetime
    packed: bool = False


@dataclass
class Writer:
    script: Script
    year: Year
    rng: Random
    # What inspections note besides: a stream of its own, so that it changes nothing else of the season.
    looks: Random
    # What leaves the stores without becoming a hull: another.
    leaves: Random
    stores: Stores
    truth: Truth
    scales: dict[str, Scale]
    vessel: Vessel = field(default_factory=Vessel)
    tubs: deque[str] = field(default_factory=deque)
    drops: deque[str] = field(default_factory=deque)
    # Moulds and arms that somebody works with.
    busy: set[str] = field(default_factory=set)
    last_shown: dict[tuple[str, str], Decimal] = field(default_factory=dict)
    checked: dict[str, int] = field(default_factory=dict)
    # What was weighed on W-3 since it was last checked, by its id here, and whether it is held for that now.
    since_check: set[int] = field(default_factory=set)
    low_is_held: bool = False
    out_of_use: set[str] = field(default_factory=set)
    # Holds that lie on a moulding, by its id here.
    held: dict[int, set[str]] = field(default_factory=dict)
    odd: dict[int, str] = field(default_factory=dict)
    # By cook: with which other one its plate is crossed.
    crossed: dict[int, "Crossing"] = field(default_factory=dict)
    # Lots of which a sample was taken.
    sampled: set[str] = field(default_factory=set)
    lifted: set[str] = field(default_factory=set)
    hulls: list[InPlant] = field(default_factory=list)
    plates: dict[tuple[str, str], list[str]] = field(default_factory=dict)
    serials: dict[str, int] = field(
        default_factory=lambda: {"T430": 4417, "T370": 2950, "H320": 811, "B60": 2203, "LID": 121}
    )
    shots: dict[str, int] = field(default_factory=dict)
    cooked_on_drift: int = 0
    unlabelled: int = 0
    names: int = 0
    # Oddities that happen once, as soon as they can.
    seen: set[str] = field(default_factory=set)
    proved_empty: bool = False
    set_aside: list[Box] = field(default_factory=list)
    part_octabin: Box | None = None
    forgotten: list[Box] = field(default_factory=list)

    @property
    def now(self) -> datetime:
        return self.script.now

    @property
    def day(self) -> int:
        return self.year.day_of(self.script.now)

    def on(self, day: int) -> int:
        """The working day on which something happens that is set for this day."""
        return self.year.day_from(day)

    def weigher(self) -> str:
        who, other = CREWS[self.year.shift_at(self.now)][0]
        return who if self.rng.random() < 0.68 else other

    def loader(self) -> str:
        """Who loads and runs the oven; one of them has two badges and takes either."""
        who, other = CREWS[self.year.shift_at(self.now)][1]
        who = who if self.rng.random() < 0.7 else other
        return "P-17" if who == "P-04" and self.rng.random() < 0.12 else who

    def lead(self) -> str:
        return CREWS[self.year.shift_at(self.now)][2]

    def worker(self, person: str) -> Worker:
        return WORKERS.get(person, Worker())

    def name(self, what: str) -> str:
        """A name of its own for something that the script makes."""
        self.names += 1
        return f"@{what} {self.names}"
