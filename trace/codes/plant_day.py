"""The plant's own day and its shifts: a night belongs to the day on which it began.

Plain Python over aware times. A start that the clock shows twice (autumn) is the first of the two, one that it skips
(spring) is as long after the hour before as on any other day: RFC 5545, 3.3.5.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Any

EVERY_DAY = (1, 2, 3, 4, 5, 6, 7)
# How far ahead the next shift is looked for: over the longest works holiday.
LOOK_AHEAD = 60
USUAL = ("06:00", "14:00", "22:00")  # common practice, no source
# The settings that make a calendar.
CALENDAR_SETTINGS = ("shifts", "holidays", "shift ends")


class CalendarError(ValueError):
    """A sentence that says why shifts or holidays cannot be read."""


@dataclass(frozen=True)
class Pattern:
    """A shift as the plant plans it: its name, from when to when by the plant's clock, on which days (1 = Monday)."""

    name: str
    starts: time
    ends: time
    weekdays: tuple[int, ...] = EVERY_DAY


@dataclass(frozen=True)
class Shift:
    """One shift that was or will be worked. `day`: the plant day it belongs to. Times are aware, in UTC."""

    name: str
    day: date
    begins: datetime
    ends: datetime


@dataclass(frozen=True)
class Calendar:
    """The shifts of a plant in its time zone, and the days on which none begins."""

    zone: tzinfo
    patterns: tuple[Pattern, ...]
    holidays: frozenset[date] = frozenset()

    def begins(self, day: date) -> datetime:
        """The moment at which a plant day begins: with its first shift, holidays too."""
        return self._at(day, min(pattern.starts for pattern in self.patterns))

    def day(self, when: datetime) -> date:
        """The plant day of a moment: before the first shift it is still the day before."""
        today = when.astimezone(self.zone).date()
        return today if when >= self.begins(today) else today - timedelta(days=1)

    def shift(self, when: datetime) -> Shift | None:
        """The shift of a moment, the one that began last where two overlap; None where none is worked."""
        day = self.day(when)
        # One that is longer than its day reaches into the next.
        worked = [s for d in (day - timedelta(days=1), day) for s in self.shifts(d) if s.begins <= when < s.ends]
        return max(worked, key=lambda s: s.begins, default=None)

    def end(self, when: datetime) -> datetime:
        """The end of the shift of a moment; where none is worked, the end of the plant day."""
        now = self.shift(when)
        return now.ends if now else self.begins(self.day(when) + timedelta(days=1))

    def ends_after(self, when: datetime, count: int) -> list[datetime]:
        """The next ends of shifts, holidays passed over; that of the plant day where no shift is planned."""
        ends = sorted({s.ends for s in self._from(self.day(when) - timedelta(days=1)) if s.ends > when})
        return ends[:count] or [self.end(when)]

    def _from(self, first: date) -> Iterator[Shift]:
        for ahead in range(LOOK_AHEAD):
            yield from self.shifts(first + timedelta(days=ahead))

    def shifts(self, day: date) -> Iterator[Shift]:
        """The shifts of a plant day, none where it is a holiday."""
        if day in self.holidays:
            return
        for pattern in self.patterns:
            if day.isoweekday() in pattern.weekdays:
                over = day if pattern.ends > pattern.starts else day + timedelta(days=1)
                yield Shift(pattern.name, day, self._at(day, pattern.starts), self._at(over, pattern.ends))

    def _at(self, day: date, clock: time) -> datetime:
        return datetime.combine(day, clock, self.zone).astimezone(UTC)


def read_calendar(shifts: Any, holidays: Any, zone: tzinfo) -> Calendar:
    """A calendar out of settings. shifts: [{name, starts "06:00", ends (else the next start), weekdays [1 to 7]}], or
    only the times at which one follows the other; holidays: ["2026-12-25"]. Raises CalendarError."""
    if not isinstance(shifts, Sequence) or isinstance(shifts, str) or not shifts:
        raise CalendarError('The shifts must be a list, as [{"name": "Early", "starts": "06:00"}].')
    said = [one if isinstance(one, Mapping) else {"name": str(one), "starts": one} for one in shifts]
    starts = sorted(_clock(one.get("starts")) for one in said)
    if len(set(starts)) < len(starts):
        raise CalendarError("Two shifts start at the same time.")
    patterns = tuple(_pattern(one, starts) for one in said)
    if not isinstance(holidays, Sequence) or isinstance(holidays, str):
        raise CalendarError('The holidays must be a list of days, as ["2026-12-25"].')
    return Calendar(zone, patterns, frozenset(_day(text) for text in holidays))


def calendar_of(setting: Callable[[str, Any], Any], zone: tzinfo) -> Calendar:
    """The calendar that a plant's settings make; `setting` gives the value of one, or what is named otherwise."""
    try:
        return read_calendar(setting("shifts", setting("shift ends", USUAL)), setting("holidays", []), zone)
    except CalendarError:
        # Settings are looked at when they are saved; one from before that must not stop every scan.
        return read_calendar(USUAL, [], zone)


def _pattern(said: Mapping[str, Any], starts: list[time]) -> Pattern:
    start = _clock(said.get("starts"))
    following = starts[(starts.index(start) + 1) % len(starts)]
    days = said.get("weekdays", EVERY_DAY)
    if not isinstance(days, Sequence) or not days or not all(type(d) is int and 1 <= d <= 7 for d in days):
        raise CalendarError("The weekdays of a shift must be numbers, 1 (Monday) to 7 (Sunday).")
    name = said.get("name")
    if not isinstance(name, str) or not name.strip():
        raise CalendarError("A shift has no name.")
    return Pattern(name, start, _clock(said["ends"]) if said.get("ends") else following, tuple(days))


def _clock(text: Any) -> time:
    try:
        found = time.fromisoformat(text)
    except (ValueError, TypeError):
        raise CalendarError(f"“{str(text)[:20]}” is no time of day: write it as 06:00.") from None
    if found.tzinfo is not None:
        raise CalendarError(f"“{str(text)[:20]}” names a time zone: shifts go by the plant's own clock.")
    return found


def _day(text: Any) -> date:
    try:
        return date.fromisoformat(text)
    except (ValueError, TypeError):
        raise CalendarError(f"“{str(text)[:20]}” is no day: write it as 2026-12-25.") from None
