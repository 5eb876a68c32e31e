"""How far an instrument was off at its calibrations: each reference in turn, as found and left, beside its limit."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _

from trace.drawings.shapes import Line, Words
from trace.drawings.sketch import NARROW, WIDE, Sketch, SketchPair

MOST_WIDE, MOST_NARROW = 24, 8
SIGN = 5.0
LEFT, MIDDLE, REACH, FOOT = 74.0, 96.0, 66.0, 186.0
# Limits to either side; what is further off is drawn there, with its figure beside it.
FURTHEST = Decimal("2.5")
LEAST_FOR_WORDS = 84.0


@dataclass(frozen=True, slots=True)
class Off:
    """One reference of one calibration: how far off as found and as left, each with its limit (None: none said)."""

    day: date
    reference: Decimal
    found: Decimal
    left: Decimal
    found_limit: Decimal | None
    left_limit: Decimal | None


def errors_against_limits(offs: Sequence[Off], unit: str, title: str) -> SketchPair:
    """In parts of each limit: a disc as found within it, a cross outside it with its figure; a ring as left."""
    return SketchPair(
        _errors(offs[-MOST_WIDE:], unit, title, WIDE), _errors(offs[-MOST_NARROW:], unit, title, NARROW)
    )


def _errors(shown: Sequence[Off], unit: str, title: str, width: float) -> Sketch:
    right = width - 16
    step = (right - LEFT) / max(1, len(shown))
    largest = max([abs(off) for one in shown for off in (one.found, one.left)] + [Decimal("0.0001")])
    lines = [Line(f"M{LEFT:.1f} {MIDDLE:.1f}H{right:.1f}", "rule")]
    words = [Words(LEFT - 8, MIDDLE + 5, "0", "end", "label")]
    for sign, word in ((1, _("+ limit")), (-1, _("− limit"))):
        words.append(Words(LEFT - 8, _at(Decimal(sign)) + 5, word, "end", "label-soft"))
    for n, one in enumerate(shown):
        start, x = LEFT + n * step, round(LEFT + (n + 0.5) * step, 1)
        found, left = (_shares(off, one.found_limit, largest) for off in (one.found, one.left))
        if one.found_limit is not None:
            lines += [Line(f"M{start:.1f} {_at(Decimal(sign))}H{start + step:.1f}", "leader-may") for sign in (1, -1)]
        lines += _marks(x, found, left, outside=_outside(one.found, one.found_limit))
        if _outside(one.found, one.found_limit) and step > LEAST_FOR_WORDS:
            beside = _at(found) + (20 if found > 0 else -11)
            words.append(Words(x, beside, f"{one.found:+} {unit}", "middle", "label-stop"))
    if shown:
        words.append(Words(LEFT, FOOT, f"{shown[0].day:%-d %b %Y}", "start", "label-soft"))
        words.append(Words(right, FOOT, f"{shown[-1].day:%-d %b %Y}", "end", "label-soft"))
    said = "; ".join(_said(one, unit) for one in shown)
    return Sketch(width, FOOT + 8, (), (), tuple(lines), tuple(words), f"{title}: {said}.")


def _shares(off: Decimal, limit: Decimal | None, largest: Decimal) -> Decimal:
    """An error in parts of its limit, no further out than the sheet goes; of the largest drawn, where it has none."""
    return max(-FURTHEST, min(FURTHEST, off / (limit or largest)))


def _at(share: Decimal) -> float:
    return round(MIDDLE - float(share / FURTHEST) * REACH, 1)


def _marks(x: float, found: Decimal, left: Decimal, *, outside: bool) -> list[Line]:
    """One reference: what was found, and what was left where that is another."""
    y = _at(found)
    cross = f"M{x - 7:.1f} {y - 7:.1f}l14 14M{x - 7:.1f} {y + 7:.1f}l14 -14"
    lines = [Line(cross, "mark-bar") if outside else Line(_circle(x, y), "disc")]
    return [*lines, Line(_circle(x, _at(left)), "ring")] if left != found else lines


def _circle(x: float, y: float) -> str:
    half = f"a{SIGN} {SIGN} 0 1 0"
    return f"M{x - SIGN:.1f} {y:.1f}{half} {2 * SIGN} 0{half} {-2 * SIGN} 0Z"


def _outside(off: Decimal, limit: Decimal | None) -> bool:
    return limit is not None and abs(off) > limit


def _said(one: Off, unit: str) -> str:
    found = _("%(day)s at %(at)s %(unit)s: found %(found)s off") % {
        "day": f"{one.day:%-d %b %Y}", "at": one.reference, "unit": unit, "found": f"{one.found:+}",
    }  # fmt: skip
    outside = _(", outside its limit") if _outside(one.found, one.found_limit) else ""
    left = _(", left %(left)s off") % {"left": f"{one.left:+}"} if one.left != one.found else ""
    return f"{found}{outside}{left}"
