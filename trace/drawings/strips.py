"""Strips on one axis: how many of the pieces ordered are made, packed, gone or under way; what was done with a thing by
week."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from trace.drawings.shapes import Anchor, Block, Line, Words
from trace.drawings.sketch import NARROW, WIDE, Part, Sketch, SketchPair
from trace.drawings.words import shorten

# One mark a hull while each has so much room; closer than that the strip is one bar.
LEAST_MARK = 9.0
ROW_HIGH = 34.0
WEEKS = 26


@dataclass(frozen=True, slots=True)
class Strip:
    """So many pieces from the place `start` of the axis on; dashed: they are only asked for, or not there yet."""

    label: str
    count: int
    start: int = 0
    dashed: bool = False


def strips(rows: Sequence[Strip], title: str) -> SketchPair:
    """Every strip to one scale, that of the longest."""
    return SketchPair(_strips(rows, title, WIDE), _strips(rows, title, NARROW))


def _strips(rows: Sequence[Strip], title: str, width: float) -> Sketch:
    left, right = (200.0, width - 60) if width > NARROW else (118.0, width - 44)
    most = max([row.start + row.count for row in rows] + [1])
    each = (right - left) / most
    parts: list[Part] = []
    blocks: list[Block] = []
    words: list[Words] = []
    for n, row in enumerate(rows):
        y = 18 + ROW_HIGH * n
        words.append(Words(4, y + 5, shorten(row.label, left - 10, 14), "start", "label-strong"))
        words.append(Words(width - 2, y + 5, str(row.count), "end", "label-strong"))
        kind = "bar-may" if row.dashed else "bar-certain"
        if each >= LEAST_MARK:
            scale = min(each - 2, 34)
            parts += [
                Part(f"translate({left + (k + 0.5) * each:.1f} {y:.1f})", _scaled(scale), "", kind)
                for k in range(row.start, row.start + row.count)
            ]
        elif row.count:
            blocks.append(Block(round(left + row.start * each, 1), y - 6, round(row.count * each, 1), 12, "", kind))
    high = 18 + ROW_HIGH * len(rows)
    lines = (Line(f"M{left:.1f} 4V{high - 10:.1f}", "tick"),)
    said = ", ".join(f"{row.label} {row.count}" for row in rows)
    return Sketch(width, high, tuple(parts), tuple(blocks), lines, tuple(words), f"{title}: {said}.")


def _scaled(scale: float) -> str:
    """The outline of a hull, so long; written out, since a stroke that is scaled is no thin line any more."""
    a, b, c = 0.5 * scale, 0.36 * scale, 0.3 * scale
    return f"M{-a:.1f} 0C{-b:.1f} {-c:.1f} {b:.1f} {-c:.1f} {a:.1f} 0C{b:.1f} {c:.1f} {-b:.1f} {c:.1f} {-a:.1f} 0Z"


@dataclass(frozen=True, slots=True)
class Marked:
    """A day that is marked above the weeks: a check, a calibration that is due; dashed where it was missed."""

    day: date
    label: str
    dashed: bool = False


def uses_by_week(uses: Sequence[tuple[date, int]], marks: Sequence[Marked], today: date, title: str) -> SketchPair:
    """How often a thing was used in each of the last weeks, with the days that are marked; `uses`: (day, how often)."""
    return SketchPair(_by_week(uses, marks, today, title, WIDE), _by_week(uses, marks, today, title, NARROW))


def _by_week(
    uses: Sequence[tuple[date, int]], marks: Sequence[Marked], today: date, title: str, width: float
) -> Sketch:
    first = today - timedelta(days=today.weekday(), weeks=WEEKS - 1)
    counted = [0] * WEEKS
    for day, n in uses:
        if first <= day <= today:
            counted[(day - first).days // 7] += n
    left, right, foot, reach = 46.0, width - 12, 148.0, 84.0
    each, most = (right - left) / WEEKS, max([*counted, 1])
    blocks = [
        Block(round(left + k * each + 1, 1), round(foot - reach * n / most, 1), round(each - 2, 1),
              round(reach * n / most, 1), "", "bar-certain")
        for k, n in enumerate(counted) if n
    ]  # fmt: skip
    lines = [Line(f"M{left:.1f} {foot:.1f}H{right:.1f}", "rule"), Line(f"M{left:.1f} {foot - reach:.1f}h6", "tick")]
    words = [
        Words(left - 6, foot - reach + 5, str(most), "end", "label-soft"),
        Words(left - 6, foot + 5, "0", "end", "label-soft"),
        Words(left, foot + 20, f"{first:%-d %b %Y}", "start", "label-soft"),
        Words(right, foot + 20, f"{today:%-d %b %Y}", "end", "label-soft"),
    ]  # fmt: skip
    # Words of two that are near each other stand one below the other.
    for n, mark in enumerate(mark for mark in marks if first <= mark.day <= today):
        x = left + (mark.day - first).days / 7 * each
        lines.append(Line(f"M{x:.1f} 40V{foot:.1f}", "leader-may" if mark.dashed else "edge"))
        anchor: Anchor = "start" if x < width / 2 else "end"
        label = shorten(f"{mark.label} {mark.day:%-d %b}", width / 2, 14)
        words.append(Words(round(x, 1), 16 + 18 * (n % 2), label, anchor, "label"))
    said = ", ".join(
        f"{first + timedelta(weeks=k):%-d %b} {n}" for k, n in enumerate(counted) if n
    ) or _("none in these weeks")  # fmt: skip
    marked = "".join(f"; {mark.label} {mark.day:%-d %b %Y}" for mark in marks)
    return Sketch(
        width, foot + 28, (), tuple(blocks), tuple(lines), tuple(words), f"{title}, {_('by week from')} {said}{marked}."
    )  # fmt: skip
