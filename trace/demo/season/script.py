"""A script of scans in the order of time, written by several pieces of work that go on beside one another.

A piece of work is a generator: it scans, then yields how many minutes pass until it goes on. Whoever is due next goes
on next, so the scans of several people come out interleaved, as in a plant. Labels do not exist before the script is
told: a command names them "@name", and the step that makes them says so.
"""

import heapq
import itertools
from collections.abc import Generator, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from random import Random

from trace.recording.commands import Command

# The name of all holds that a day on paper has laid by the time it is told.
FROM_PAPER = "@hold told from paper"
Work = Generator[float, None, None]


@dataclass(frozen=True, kw_only=True)
class Step:
    """One scan. happened: where it is told later than that. refused: the rule that is expected to refuse it.

    codes, units, holds, event: names under which the labels, units' numbers, holds and the record that it makes can be
    named afterwards. each: do it once for every hold that is known under this name.
    """

    at: datetime
    command: Command
    person: str
    station: str
    happened: datetime | None = None
    refused: str = ""
    overrides: dict[str, str] = field(default_factory=dict)
    helper: str = ""
    codes: tuple[str, ...] = ()
    unit: str = ""
    holds: str = ""
    event: str = ""
    each: str = ""


@dataclass
class Script:
    """The steps written so far; `now` is the time of whoever works at the moment."""

    now: datetime
    rng: Random
    steps: list[Step] = field(default_factory=list)
    # While set, scans are written on paper: they wait here until they are told.
    on_paper: bool = False
    sheets: list[Step] = field(default_factory=list)
    _due: list[tuple[datetime, int, Work]] = field(default_factory=list)
    _numbers: Iterator[int] = field(default_factory=itertools.count)

    def begin(self, at: datetime, work: Work) -> None:
        """Start a piece of work at that time, or now where that is past."""
        heapq.heappush(self._due, (max(at, self.now), next(self._numbers), work))

    def run(self) -> None:
        """Go on until all work is done."""
        while self._due:
            at, _, work = heapq.heappop(self._due)
            self.now = max(self.now, at)
            wait = next(work, None)
            if wait is not None:
                self.begin(self.now + timedelta(minutes=wait), work)

    def scan(self, command: Command, person: str, station: str = "loading", **more: object) -> None:
        """One scan, now. It takes a few seconds."""
        self.now += timedelta(milliseconds=self.rng.randrange(2_300, 11_700))
        step = Step(at=self.now, command=command, person=person, station=station, **more)  # type: ignore[arg-type]
        if self.on_paper:
            # What is told late may lay holds wherever it goes on.
            step = replace(step, holds=FROM_PAPER)
        (self.sheets if self.on_paper else self.steps).append(step)

    def tell_sheets(self) -> None:
        """What was written on paper is told now, in the order in which it happened."""
        self.on_paper = False
        for step in self.sheets:
            self.now += timedelta(milliseconds=self.rng.randrange(4_000, 21_000))
            self.steps.append(replace(step, at=self.now, happened=step.at))
        self.sheets = []
