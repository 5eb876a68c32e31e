"""What a calibration found: how far an instrument was off at each reference, and whether that was within its limit.

Plain Python. An error counts as it is, without its uncertainty: ISO/IEC 17025:2017, 7.8.6 asks to say which rule was
used (named from memory); this is simple acceptance, and the page shows the uncertainty beside it.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from trace.codes.errors import AmountError
from trace.codes.permissible import in_service, permissible

# What each kind of instrument is calibrated in.
UNITS = {"scale": "kg", "gauge": "mm", "logger": "C", "thermometer": "C"}
MOST_POINTS = 12
FIGURE = re.compile(r"-?[0-9]{1,5}(?:\.[0-9]{1,6})?")
# Of the limit: an uncertainty above it leaves open what was found. Common practice, no source; R 76-1, 3.7.1 asks it
# of the error of the weights.
SHARE = Decimal(1) / 3


@dataclass(frozen=True, slots=True)
class Point:
    """One reference and what was shown for it; limits: None where nothing says one."""

    reference: Decimal
    found: Decimal
    left: Decimal
    found_limit: Decimal | None = None
    left_limit: Decimal | None = None

    @property
    def found_off(self) -> Decimal:
        return self.found - self.reference

    @property
    def left_off(self) -> Decimal:
        return self.left - self.reference


def number(text: str) -> Decimal:
    """A figure as displayed: digits with a point, below nought with a minus. Raises AmountError."""
    written = text.strip().replace("\N{MINUS SIGN}", "-").removeprefix("+")
    if not FIGURE.fullmatch(written):
        raise AmountError(f"“{text.strip()[:20]}” is no figure: write it with a point, as in 10.02.")
    return Decimal(written)


def points_of(rows: Sequence[Sequence[str]], body: Mapping[str, Any]) -> tuple[Point, ...]:
    """The points of rows of (reference, as found, as left or ""), each with its limits by the instrument's own data.
    Raises AmountError with a sentence."""
    if not rows:
        raise AmountError("No figure was typed: enter at least one reference and what was shown for it.")
    if len(rows) > MOST_POINTS:
        raise AmountError(f"These are more than {MOST_POINTS} references: enter the worst of them.")
    found = []
    for row in rows:
        if len(row) not in (2, 3):
            raise AmountError(f"“{' '.join(row)[:40]}” are not two or three figures: reference, as found, as left.")
        reference, shown, *left = (str(cell) for cell in row)
        at, as_found = number(reference), number(shown)
        as_left = number(left[0]) if left and left[0].strip() else as_found
        found.append(Point(at, as_found, as_left, _limit(body, at, used=True), _limit(body, at, used=False)))
    return tuple(found)


def _limit(body: Mapping[str, Any], at: Decimal, *, used: bool) -> Decimal | None:
    if body.get("accuracy") and body.get("interval"):
        table = in_service if used else permissible
        return table(str(body["accuracy"]), abs(at), Decimal(str(body["interval"])))
    return Decimal(str(body["limit"])) if body.get("limit") else None


def good(points: Sequence[Point], *, left: bool) -> bool | None:
    """Whether every point was within its limit, as found or as left; None where one has no limit and none is off."""
    pairs = [(p.left_off, p.left_limit) if left else (p.found_off, p.found_limit) for p in points]
    if any(limit is not None and abs(off) > limit for off, limit in pairs):
        return False
    return None if any(limit is None for _off, limit in pairs) else True


def worst(points: Sequence[Point]) -> Point:
    """The point that was furthest off as found, against its limit where it has one."""
    return max(points, key=lambda p: (abs(p.found_off) / p.found_limit if p.found_limit else 0, abs(p.found_off)))
