"""A row of strokes, one a hull: which of the bad and which of the good have something, may have it or have it not."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from django.utils.translation import gettext as _

WIDTH, HEIGHT, BETWEEN = 380.0, 30.0, 16.0
# One stroke is at most so wide; each side has at least so much room.
WIDEST, LEAST_SIDE = 14.0, 90.0
FULL, HALF, NONE = 4.0, 15.0, 25.0  # how far down a stroke begins: has it, may have it, has it not
FOOT = 26.0


@dataclass(frozen=True, slots=True)
class Strip:
    """Contract of templates/drawings/strip.svg.html: paths; what has it is a full stroke, what may a hollow one half as
    high, what has it not a dash at the foot, so that no colour is needed to tell them apart."""

    width: float
    height: float
    has: str
    may: str
    lacks: str
    feet: str
    description: str


def strip(bad: Sequence[int], good: Sequence[int], description: str) -> Strip:
    """bad, good: of each hull 1 or more where it has it, 0 where it may, less where it has it not."""
    room = WIDTH - BETWEEN
    share = min(max(len(bad) / max(1, len(bad) + len(good)) * room, LEAST_SIDE), room - LEAST_SIDE)
    sides = ((bad, 0.0, share), (good, share + BETWEEN, room - share))
    paths = {"has": "", "may": "", "lacks": ""}
    feet = ""
    for grades, left, width in sides:
        step = min(WIDEST, width / max(1, len(grades)))
        feet += f"M{_n(left)} {FOOT}h{_n(step * len(grades))}"
        at = 0
        for kind, run in groupby(grades, _kind):
            count = len(list(run))
            paths[kind] += _strokes(kind, left + at * step, step, count)
            at += count
    return Strip(WIDTH, HEIGHT, paths["has"], paths["may"], paths["lacks"], feet, description)


def said(hit: int, of: int, may: int) -> str:
    """How many have it, in words."""
    words = _("%(hit)d of %(of)d have it") % {"hit": hit, "of": of}
    return _("%(words)s, %(may)d may") % {"words": words, "may": may} if may else words


def _kind(grade: int) -> str:
    return "has" if grade > 0 else "may" if grade == 0 else "lacks"


def _strokes(kind: str, left: float, step: float, count: int) -> str:
    """So many strokes side by side; where they are too narrow to be told apart, one block."""
    top = {"has": FULL, "may": HALF, "lacks": NONE}[kind]
    gap = 2.0 if step > 5 else 0.0
    if not gap:
        return f"M{_n(left)} {top}h{_n(step * count)}V{FOOT}h{_n(-step * count)}z"
    return "".join(
        f"M{_n(left + n * step + gap / 2)} {top}h{_n(step - gap)}V{FOOT}h{_n(gap - step)}z" for n in range(count)
    )


def _n(value: float) -> str:
    return f"{value:.1f}"
