"""Where the words of a drawing stand and how their leader lines run, so that no words collide or leave the
sheet.

Two ways: in rows above and below something long, or in columns left and right of something tall or round. In
rows each leader rises straight from its thing and the words stand on a shelf beside it; a leader may pass
only below shelves it would cut.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from trace.pages.drawings.words import broken, shorten, words_width

ROW = 21.0  # height of a row of words, 14 units and air
GAP = 9.0  # least distance between words, and between words and a passing leader
COLUMN_LINE = 16.0
TRY_ALL = 9  # up to here every way of turning the shelves is tried; 2^9 ways take some ten milliseconds


@dataclass(frozen=True, slots=True)
class Callout:
    """Words that belong to the point (x, y); the leader starts `reach` away from it.

    `kind` and `line` are classes.
    """

    text: str
    x: float
    y: float
    reach: float
    kind: str = "label"
    line: str = "leader"


@dataclass(frozen=True, slots=True)
class Placed:
    """A callout with its place: its first line's words start at x on the baseline y."""

    callout: Callout
    lines: tuple[str, ...]
    x: float
    y: float
    path: str


@dataclass(frozen=True, slots=True)
class _Shelf:
    left: float
    right: float
    leader: float


def rows_of(
    callouts: Sequence[Callout], width: float, size: float
) -> tuple[list[tuple[Callout, bool, float]], list[int]]:
    """Turn and stack callouts above (or below) a drawing.

    Returns, in order of x, (callout, words to the left of the leader?, x of the leader), and the row of
    each, 0 nearest.
    """
    ordered = sorted(callouts, key=lambda c: (c.x, c.text))
    leaders = _apart([c.x for c in ordered], width)
    best: tuple[int, int, list[bool], list[int]] | None = None
    for turned in _ways(ordered, leaders, width, size):
        shelves = [
            _shelf(c, x, left, width, size) for c, x, left in zip(ordered, leaders, turned, strict=True)
        ]
        rows = _stack(shelves)
        if rows is None:
            continue
        score = (max(rows, default=0), sum(rows))
        if best is None or score < best[:2]:
            best = (*score, list(turned), rows)
    if best is None:  # shelves block each other in every way: one row each, the words still never meet
        turned_last = [x > width / 2 for x in leaders]
        return list(zip(ordered, turned_last, leaders, strict=True)), list(range(len(ordered)))
    return list(zip(ordered, best[2], leaders, strict=True)), best[3]


def above_and_below(
    callouts: Sequence[Callout], *, width: float, top: float, bottom: float, middle: float, size: float
) -> tuple[list[Placed], float, float]:
    """Place callouts above and below a drawing whose ink stands between `top` and `bottom`.

    Returns the placed callouts (those above have y < `top`) and the room they need above and below the
    drawing.
    """
    upper = [c for c in callouts if c.y < middle - 1]
    lower = [c for c in callouts if c.y > middle + 1]
    for c in sorted((c for c in callouts if abs(c.y - middle) <= 1), key=lambda c: c.x):
        (upper if len(upper) <= len(lower) else lower).append(c)
    placed: list[Placed] = []
    rooms = []
    for group, edge, way in ((upper, top, -1), (lower, bottom, 1)):
        turned, rows = rows_of(group, width, size)
        for (c, left, x), row in zip(turned, rows, strict=True):
            shelf = edge + way * (12 + ROW * row) + (ROW - 4 if way > 0 else 0)
            box = _shelf(c, x, left, width, size)
            far = box.left if left else box.right
            start = c.y + way * c.reach
            path = f"M{c.x:.1f} {start:.1f}L{x:.1f} {edge + way * 4:.1f}V{shelf:.1f}H{far:.1f}"
            text = shorten(c.text, width - 8, size)
            placed.append(Placed(c, (text,), box.left + 4, shelf - 5, path))
        rooms.append((max(rows) + 1) * ROW + 16 if rows else 6.0)
    return placed, rooms[0], rooms[1]


def left_and_right(
    callouts: Sequence[Callout], *, width: float, left: float, right: float, height: float, size: float
) -> tuple[list[Placed], float, float]:
    """Place callouts in two columns beside a drawing `height` tall that stands between x = `left` and
    `right`.

    Returns as above_and_below: the columns may need more room than the drawing is tall.
    """
    middle = (left + right) / 2
    sides: tuple[list[Callout], list[Callout]] = ([], [])
    for c in sorted(callouts, key=lambda c: (-abs(c.x - middle), c.y)):
        here = 0 if c.x < middle - 1 else 1 if c.x > middle + 1 else int(len(sides[0]) > len(sides[1]))
        sides[here].append(c)
    columns = []
    for side, column in enumerate(sides):
        room = (left if side == 0 else width - right) - 18
        ordered = sorted(column, key=lambda c: (c.y, c.x))
        columns.append([(c, broken(c.text, room, size)) for c in ordered])
    needed = max([height, *(sum(_high(lines) for _, lines in column) for column in columns)])
    spare = (needed - height) / 2
    placed: list[Placed] = []
    for side, blocks in enumerate(columns):
        tops = _settled([(c.y + spare, _high(lines)) for c, lines in blocks], needed)
        for (c, lines), top in zip(blocks, tops, strict=True):
            baseline = top - spare + COLUMN_LINE - 2
            meet = baseline - size * 0.35
            x = 2.0 if side == 0 else right + 16
            end = min(x + words_width(lines[0], size) * 0.95 + 3, left - 6) if side == 0 else x - 4
            knee = max(end, left - 8) if side == 0 else right + 6
            away = -c.reach if side == 0 else c.reach
            path = f"M{c.x + away:.1f} {c.y:.1f}L{knee:.1f} {meet:.1f}H{end:.1f}"
            placed.append(Placed(c, lines, x, baseline, path))
    return placed, spare + 4, spare + 6


def _high(lines: Sequence[str]) -> float:
    return len(lines) * COLUMN_LINE + GAP


def _shelf(c: Callout, x: float, left: bool, width: float, size: float) -> _Shelf:
    long = min(words_width(c.text, size) + 8, width)
    start = min(max(x - long if left else x, 0.0), width - long)
    return _Shelf(start, start + long, x)


def _ways(
    ordered: Sequence[Callout], leaders: Sequence[float], width: float, size: float
) -> list[tuple[bool, ...]]:
    """Every way of turning the shelves left or right that keeps them on the sheet, or two likely ones when
    they are many."""
    fits = []
    for c, x in zip(ordered, leaders, strict=True):
        long = words_width(c.text, size) + 8
        sides = [left for left in (False, True) if (x - long >= 0 if left else x + long <= width)]
        fits.append(sides or [x > width / 2])
    if len(ordered) <= TRY_ALL:
        return list(product(*fits))
    outward = tuple((x < width / 2) if len(f) > 1 else f[0] for x, f in zip(leaders, fits, strict=True))
    inward = tuple((x > width / 2) if len(f) > 1 else f[0] for x, f in zip(leaders, fits, strict=True))
    return [outward, inward, tuple(f[0] for f in fits), tuple(f[-1] for f in fits)]


def _stack(shelves: Sequence[_Shelf]) -> list[int] | None:
    """A row for each shelf: higher than every shelf whose leader passes under it.

    None when two would have to pass each other.
    """
    over: list[set[int]] = [set() for _ in shelves]
    for i, one in enumerate(shelves):
        for j, other in enumerate(shelves):
            if i != j and one.left - GAP < other.leader < one.right + GAP:
                over[i].add(j)
    rows: dict[int, int] = {}
    while len(rows) < len(shelves):
        ready = [i for i in range(len(shelves)) if i not in rows and over[i] <= rows.keys()]
        if not ready:
            return None
        for i in ready:
            row = max((rows[j] + 1 for j in over[i]), default=0)
            while any(r == row and _meet(shelves[i], shelves[j]) for j, r in rows.items()):
                row += 1
            rows[i] = row
    return [rows[i] for i in range(len(shelves))]


def _meet(one: _Shelf, other: _Shelf) -> bool:
    return one.left < other.right + GAP and other.left < one.right + GAP


def _apart(wanted: Sequence[float], width: float, least: float = 14.0) -> list[float]:
    """The wanted x, moved as little as a forward and a backward pass allow so that leaders stand `least`
    apart."""
    step = min(least, (width - 8) / max(1, len(wanted)))
    xs = list(wanted)
    for i in range(len(xs)):
        xs[i] = max(xs[i], 4.0 if i == 0 else xs[i - 1] + step)
    for i in reversed(range(len(xs))):
        xs[i] = min(xs[i], width - 4.0 if i == len(xs) - 1 else xs[i + 1] - step)
    return xs


def _settled(wanted: Sequence[tuple[float, float]], height: float) -> list[float]:
    """Tops of blocks (middle wanted, height) in order, pushed apart, and up again while there is room."""
    tops: list[float] = []
    for middle, high in wanted:
        top = max(middle - high / 2, 0.0)
        if tops:
            top = max(top, tops[-1] + wanted[len(tops) - 1][1])
        tops.append(top)
    limit = height
    for i in reversed(range(len(tops))):
        tops[i] = max(min(tops[i], limit - wanted[i][1]), sum(high for _, high in wanted[:i]))
        limit = tops[i]
    return tops
