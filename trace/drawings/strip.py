"""A row of strokes, one a hull: which of the bad and which of the good have something, may have it or have it not."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from django.utils.translation import gettext as _

from trace.drawings.shapes import Words
from trace.drawings.words import whole_lines

WIDTH, HEIGHT, BETWEEN = 380.0, 30.0, 16.0
# One stroke is at most so wide; each side has at least so much room.
WIDEST, LEAST_SIDE = 14.0, 90.0
FULL, HALF, NONE = 4.0, 15.0, 25.0  # how far down a stroke begins: has it, may have it, has it not
FOOT = 26.0
# Of a sheet of strips: its width, where names and strips begin, where the count of the bad ends, and the type.
ROWS_WIDE, NAME_AT, STRIP_AT, BAD_END = 820.0, 38.0, 318.0, 758.0
SIZE, LINE = 13.0, 16.0


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
    share = _bad_side(len(bad), len(good))
    sides = ((bad, 0.0, share), (good, share + BETWEEN, WIDTH - BETWEEN - share))
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


def _bad_side(bad: int, good: int) -> float:
    """How much of the width is for the bad ones."""
    room = WIDTH - BETWEEN
    return min(max(bad / max(1, bad + good) * room, LEAST_SIDE), room - LEAST_SIDE)


@dataclass(frozen=True, slots=True)
class StripLine:
    """One row of a sheet of strips: its number, its words whole, which hulls have it, and how many of how many."""

    number: int
    name: str
    bad: tuple[int, ...]
    good: tuple[int, ...]
    of_bad: str
    of_good: str


@dataclass(frozen=True, slots=True)
class StripRows:
    """Strips below one another, for paper: each with where its upper left corner is; `words` beside and above them."""

    width: float
    height: float
    strips: tuple[tuple[float, float, Strip], ...]
    words: tuple[Words, ...]


def strip_rows(lines: Sequence[StripLine]) -> StripRows:
    """At least one line. Nothing of a name is cut: it takes as many lines as it needs."""
    strips: list[tuple[float, float, Strip]] = []
    first = lines[0]
    good_at = STRIP_AT + _bad_side(len(first.bad), len(first.good)) + BETWEEN
    words = [
        Words(STRIP_AT, 16, _("Bad"), "start", "label-soft"),
        Words(round(good_at, 1), 16, _("Good"), "start", "label-soft"),
        Words(BAD_END, 16, _("bad"), "end", "label-soft"), Words(ROWS_WIDE, 16, _("good"), "end", "label-soft"),
    ]  # fmt: skip
    y = 24.0
    for line in lines:
        name = whole_lines(line.name, STRIP_AT - NAME_AT - 12, SIZE)
        words.append(Words(NAME_AT - 10, y + 19, str(line.number), "end", "label-strong"))
        words += [Words(NAME_AT, y + 19 + LINE * n, text, "start", "label") for n, text in enumerate(name)]
        words.append(Words(BAD_END, y + 19, line.of_bad, "end", "label"))
        words.append(Words(ROWS_WIDE, y + 19, line.of_good, "end", "label"))
        strips.append((STRIP_AT, y, strip(line.bad, line.good, line.name)))
        y += max(HEIGHT, 8 + LINE * len(name)) + 4
    return StripRows(ROWS_WIDE, y, tuple(strips), tuple(words))


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
