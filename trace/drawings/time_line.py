"""The time line of complaints: when each hull was made, sold, failed and told of, on one axis of months.

What is not known is not drawn; the list beside the drawing shows it as missing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils import dateformat
from django.utils.translation import gettext as _

from trace.drawings.shapes import Line, Words

ROW = 26.0
TOP = 26.0
LEFT = 46.0
RIGHT = 18.0


@dataclass(frozen=True, slots=True)
class TimeRow:
    """One hull: its number in the list, and the days that are known."""

    label: str
    made: date | None = None
    sold: date | None = None
    failed: date | None = None
    told: date | None = None

    @property
    def days(self) -> list[date]:
        return [day for day in (self.made, self.sold, self.failed, self.told) if day is not None]


@dataclass(frozen=True, slots=True)
class TimeLine:
    """Ready for templates/drawings/time_line.svg.html."""

    width: float
    height: float
    lines: tuple[Line, ...]
    words: tuple[Words, ...]
    description: str


@dataclass(frozen=True, slots=True)
class TimeLinePair:
    """The same time line for a desk and for a telephone."""

    wide: TimeLine
    narrow: TimeLine


def time_lines(rows: Sequence[TimeRow]) -> TimeLinePair | None:
    """None where no day at all is known."""
    if not any(row.days for row in rows):
        return None
    return TimeLinePair(time_line(rows, width=1120.0), time_line(rows, width=384.0))


def time_line(rows: Sequence[TimeRow], *, width: float, days: Sequence[date] = ()) -> TimeLine:
    """Lay out one time line. Its axis holds `days`, or those of its rows: at least one."""
    months = _months(days or [day for row in rows for day in row.days])
    begin, end = months[0].toordinal(), months[-1].toordinal()
    room = width - LEFT - RIGHT

    def x(day: date) -> float:
        return round(LEFT + room * (day.toordinal() - begin) / (end - begin), 1)

    height = TOP + ROW * len(rows) + 8
    every = -(-len(months) // max(2, int(room // 76)))  # a label needs some 76 units
    lines = [Line(f"M{x(month)} {TOP - 6}V{height}", "time-month") for month in months]
    words = [
        Words(x(month) + 4, TOP - 10, dateformat.format(month, "M Y"), "start", "label-soft")
        for month in months[:-1:every]
    ]
    for n, row in enumerate(rows):
        y = TOP + ROW * n + ROW / 2
        words.append(Words(LEFT - 12, round(y + 5, 1), row.label, "end", "label-strong"))
        lines += _drawn(row, y, x)
    said = _("Time line of %(n)d complaints: made, sold, failed, told. The list of complaints gives the days.")
    return TimeLine(width, round(height, 1), tuple(lines), tuple(words), said % {"n": len(rows)})


def _months(days: Sequence[date]) -> list[date]:
    """The first days of the months from the one of the first day to the one after the last."""
    last, month = max(days), min(days).replace(day=1)
    found = [month]
    while found[-1] <= last:
        year, number = found[-1].year, found[-1].month
        found.append(date(year + number // 12, number % 12 + 1, 1))
    return found


def _drawn(row: TimeRow, y: float, x: Callable[[date], float]) -> list[Line]:
    """One row: spans first, so that the marks stand on them."""
    at = {name: x(day) for name in ("made", "sold", "failed", "told") if (day := getattr(row, name))}
    found = []
    spans = (("made", "sold", "time-stock"), ("sold", "failed", "time-use"), ("failed", "told", "rule"))
    for first, last, kind in spans:
        if first in at and last in at:
            found.append(Line(f"M{at[first]} {y}H{at[last]}", kind))
    if "made" in at:
        found.append(Line(f"M{at['made']} {y - 8}V{y + 8}", "time-made"))
    if "sold" in at:
        found.append(Line(f"M{at['sold'] - 5} {y}a5 5 0 1 1 10 0a5 5 0 1 1 -10 0Z", "time-sold"))
    if "failed" in at:
        found.append(Line(f"M{at['failed'] - 6} {y - 6}l12 12m0 -12l-12 12", "time-failed"))
    if "told" in at:
        found.append(Line(f"M{at['told']} {y + 8}V{y - 8}l9 4l-9 4", "time-told"))
    return found
