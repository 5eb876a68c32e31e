"""The plant's days and shifts as they were set, as known on a day: each moment by what was set then."""

import json
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.utils import timezone

from trace.codes.plant_day import CALENDAR_SETTINGS, Calendar, Shift, calendar_of
from trace.genealogy.live import known_by
from trace.genealogy.prepared import fetch_rows

SET = """
SELECT r.key, v.body, v.valid_from FROM revision v JOIN resource r ON r.id = v.thing
JOIN event e ON e.id = v.event AND e.recorded <= %(known)s::timestamptz
WHERE r.kind = 'setting' AND r.key = ANY (%(keys)s::text[]) ORDER BY v.valid_from, v.id
"""
NOON = time(12)
# A moment beyond these cannot be told in every time zone; no record is as far off.
EARLIEST, LATEST = date(1, 1, 3), date(9999, 12, 28)


@dataclass(frozen=True)
class PlantDays:
    """Calendars one after the other; `since`: from when each holds. The first holds before that too."""

    since: tuple[datetime, ...]
    calendars: tuple[Calendar, ...]

    def at(self, when: datetime) -> Calendar:
        return self.calendars[max(0, bisect_right(self.since, when) - 1)]

    def names(self) -> set[str]:
        """What the shifts are called, or were."""
        return {pattern.name for calendar in self.calendars for pattern in calendar.patterns}

    def span(self, first: date | None, last: date | None) -> tuple[datetime | None, datetime | None]:
        """The moment at which the first of these plant days began and that at which the last was over."""
        return (
            self._begins(first) if first else None,
            self._begins(min(last, LATEST) + timedelta(days=1)) if last else None,
        )

    def _begins(self, day: date) -> datetime:
        day = min(max(day, EARLIEST), LATEST + timedelta(days=1))
        return self._of(day).begins(day)

    def _of(self, day: date) -> Calendar:
        """The calendar of a plant day: what was set at its noon."""
        return self.at(timezone.make_aware(datetime.combine(day, NOON)))

    def shifts(self, first: datetime, last: datetime) -> list[Shift]:
        """Every shift that was worked between these moments, in the order in which they began."""
        return sorted(self._worked(first, last), key=lambda shift: shift.begins)

    def _worked(self, first: datetime, last: datetime) -> Iterator[Shift]:
        day, until = self.at(first).day(first) - timedelta(days=1), self.at(last).day(last)
        while day <= until:
            yield from self._of(day).shifts(day)
            day += timedelta(days=1)


def plant_days(as_known_on: datetime | None = None) -> PlantDays:
    """The calendars that were set by then, each from the moment on from which it holds."""
    zone = timezone.get_default_timezone()
    now: dict[str, Any] = {}
    since: list[datetime] = []
    calendars: list[Calendar] = []
    for key, body, valid_from in fetch_rows(SET, {"keys": list(CALENDAR_SETTINGS), "known": known_by(as_known_on)}):
        now[key] = json.loads(body).get("value")
        since.append(valid_from)
        calendars.append(_of(now, zone))
    return PlantDays(tuple(since), tuple(calendars or [_of({}, zone)]))


def _of(values: dict[str, Any], zone: Any) -> Calendar:
    return calendar_of(lambda key, otherwise: otherwise if values.get(key) is None else values[key], zone)


def name_at(shifts: Sequence[Shift], starts: Sequence[datetime], when: datetime) -> str | None:
    """The name of the shift of a moment, the one that began last where two overlap; None where none was worked.

    `starts` are the beginnings of `shifts`, in order.
    """
    for n in range(bisect_right(starts, when) - 1, -1, -1):
        if when < shifts[n].ends:
            return shifts[n].name
        if when - shifts[n].begins > timedelta(days=2):
            return None
    return None
