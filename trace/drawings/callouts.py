"""Where the words of a drawing stand and how their leader lines run, so that no words collide or leave the
sheet.

Two ways: in rows above and below something long, or in columns left and right of something tall or round. In
rows each leader rises straight from its thing and the words stand on a shelf beside it; a leader may pass
only below shelves it would cut.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import count

from trace.drawings.shapes import Anchor
from trace.drawings.words import broken, shorten, words_width

ROW = 21.0  # height of a row of words, 14 units and air
GAP = 9.0  # least distance between words, and between words and a passing leader
COLUMN_LINE = 16.0
MOST_TRIES = 4000  # steps of the search for a way to slide the shelves; some ten milliseconds


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
    other: tuple[float, float] | None = (
        None  # another point it may start from, on the other side of the drawing
    )


@dataclass(frozen=True, slots=True)
class Placed:
    """A callout with its place: its first line's words start (or end) at x on the baseline y."""

    callout: Callout
    lines: tuple[str, ...]
    x: float
    y: float
    path: str
    anchor: Anchor = "start"


@dataclass(frozen=True, slots=True)
class Shelf:
    """The line words stand on, and the x where the leader meets it."""

    left: float
    right: float
    leader: float


def rows_of(callouts: Sequence[Callout], width: float, size: float) -> list[tuple[Callout, Shelf, int]]:
    """Slide and stack the shelves of callouts above (or below) a drawing; row 0 is the nearest.

    Tries ways of sliding the shelves along their leaders in which no two block each other, and keeps the one
    with the fewest rows. When MOST_TRIES find none, leaders may cut words, but words still never meet: each
    then has a row to itself.
    """
    return list(_rows_of(tuple(callouts), width, size))


@lru_cache(maxsize=256)
def _rows_of(callouts: tuple[Callout, ...], width: float, size: float) -> list[tuple[Callout, Shelf, int]]:
    """Kept, because a sheet is mostly drawn as it was the last time and hundreds of ways are tried for it."""
    ordered = sorted(callouts, key=lambda c: (c.x, c.text))
    leaders = _apart([c.x for c in ordered], width)
    choices = [_slides(c, x, width, size) for c, x in zip(ordered, leaders, strict=True)]
    best: tuple[tuple[int, int], list[Shelf], list[int]] | None = None
    for shelves in _ways(choices):
        rows = _stack(shelves)
        if rows is not None and (best is None or (max(rows, default=0), sum(rows)) < best[0]):
            best = (max(rows, default=0), sum(rows)), shelves, rows
    if best is None:
        best = (0, 0), [slides[0] for slides in choices], list(range(len(ordered)))
    return list(zip(ordered, best[1], best[2], strict=True))


def above_and_below(
    callouts: Sequence[Callout], *, width: float, top: float, bottom: float, middle: float, size: float
) -> tuple[list[Placed], float, float]:
    """Place callouts above and below a drawing whose ink stands between `top` and `bottom`.

    Returns the placed callouts (those above have y < `top`) and the room they need above and below the
    drawing.
    """
    upper: list[Callout] = []
    lower: list[Callout] = []
    for c in sorted(callouts, key=lambda c: (c.other is not None or abs(c.y - middle) <= 1, c.x, c.text)):
        either = c.other is not None or abs(c.y - middle) <= 1
        above = len(upper) <= len(lower) if either else c.y < middle
        if c.other is not None and (c.other[1] < middle) == above and (c.y < middle) != above:
            c = replace(c, x=c.other[0], y=c.other[1])  # noqa: PLW2901 - the same callout, spoken for by its other end
        (upper if above else lower).append(c)
    placed: list[Placed] = []
    rooms = []
    for group, edge, way in ((upper, top, -1), (lower, bottom, 1)):
        rows = rows_of(group, width, size)
        for c, shelf, row in rows:
            y = edge + way * (
                12 + ROW * row
            )  # words stand on their shelf above the drawing, hang from it below
            start = c.y + way * c.reach
            path = f"M{c.x:.1f} {start:.1f}L{shelf.leader:.1f} {edge + way * 4:.1f}V{y:.1f}"
            path += f"M{shelf.left:.1f} {y:.1f}H{shelf.right:.1f}"
            placed.append(
                Placed(
                    c, (shorten(c.text, width - 8, size),), shelf.left + 4, y - 5 if way < 0 else y + 15, path
                )
            )
        rooms.append((max(row for _, _, row in rows) + 1) * ROW + 16 if rows else 6.0)
    return placed, rooms[0], rooms[1]


def left_and_right(
    callouts: Sequence[Callout], *, width: float, left: float, right: float, height: float, size: float
) -> tuple[list[Placed], float, float]:
    """Place callouts in two columns beside a drawing `height` tall that stands between x = `left` and
    `right`.

    Returns as above_and_below: the columns may need more room than the drawing is tall.
    """
    columns = [
        [(c, broken(c.text, room - 20, size)) for c in sorted(column, key=lambda c: (c.y, c.x))]
        for column, room in zip(_sides(callouts, (left + right) / 2), (left, width - right), strict=True)
    ]
    needed = max([height, *(sum(_high(lines) for _, lines in column) for column in columns)])
    spare = (needed - height) / 2
    placed: list[Placed] = []
    # Way -1 is to the left of the drawing, where words end at their leader, 1 to the right.
    for blocks, edge, way in zip(columns, (left, right), (-1, 1), strict=True):
        tops = _settled([(c.y + spare, _high(lines)) for c, lines in blocks], needed)
        x, knee = edge + way * 18, edge + way * 8
        for (c, lines), top in zip(blocks, tops, strict=True):
            baseline = top - spare + COLUMN_LINE - 2
            meet = baseline - size * 0.35
            path = f"M{c.x + way * c.reach:.1f} {c.y:.1f}L{knee:.1f} {meet:.1f}H{x - way * 4:.1f}"
            placed.append(Placed(c, lines, x, baseline, path, "end" if way < 0 else "start"))
    return placed, spare + 4, spare + 6


def _sides(callouts: Sequence[Callout], middle: float) -> tuple[list[Callout], list[Callout]]:
    """Those left and those right of the middle; what stands on it goes where fewer are."""
    sides: tuple[list[Callout], list[Callout]] = ([], [])
    for c in sorted(callouts, key=lambda c: (-abs(c.x - middle), c.y)):
        here = 0 if c.x < middle - 1 else 1 if c.x > middle + 1 else int(len(sides[0]) > len(sides[1]))
        sides[here].append(c)
    return sides


def _high(lines: Sequence[str]) -> float:
    return len(lines) * COLUMN_LINE + GAP


def _slides(c: Callout, x: float, width: float, size: float) -> list[Shelf]:
    """The shelf to the right of its leader, to the left, or across it, as far as it stays on the sheet."""
    long = min(words_width(c.text, size) + 8, width)
    lefts = [min(max(x - long * part, 0.0), width - long) for part in (0.0, 1.0, 0.35, 0.65)]
    return [Shelf(left, left + long, x) for left in dict.fromkeys(lefts)]


def _ways(choices: Sequence[Sequence[Shelf]]) -> Iterator[list[Shelf]]:
    """Ways of choosing one slide each in which no two shelves stand over each other's leaders."""
    tries = count()

    def chosen(sofar: list[Shelf]) -> Iterator[list[Shelf]]:
        if len(sofar) == len(choices):
            yield sofar
            return
        for shelf in choices[len(sofar)]:
            if next(tries) > MOST_TRIES:
                return
            if not any(_over(shelf, other) and _over(other, shelf) for other in sofar):
                yield from chosen([*sofar, shelf])

    return chosen([])


def _over(one: Shelf, other: Shelf) -> bool:
    """Whether the other's leader, when longer, would cut the words of this one."""
    return one.left - GAP < other.leader < one.right + GAP


def _stack(shelves: Sequence[Shelf]) -> list[int] | None:
    """A row for each shelf, higher than each whose leader passes under it; None when they go in a circle."""
    over = [_all_over(i, shelves) for i in range(len(shelves))]
    rows: dict[int, int] = {}
    while len(rows) < len(shelves):
        ready = [i for i in range(len(shelves)) if i not in rows and over[i] <= rows.keys()]
        if not ready:
            return None
        for i in ready:
            rows[i] = _free_row(i, max((rows[j] + 1 for j in over[i]), default=0), shelves, rows)
    return [rows[i] for i in range(len(shelves))]


def _all_over(i: int, shelves: Sequence[Shelf]) -> set[int]:
    """The shelves over which shelf i stands."""
    return {j for j, other in enumerate(shelves) if j != i and _over(shelves[i], other)}


def _free_row(i: int, row: int, shelves: Sequence[Shelf], rows: Mapping[int, int]) -> int:
    """The first row from `row` on in which shelf i meets none that stands already."""
    while any(r == row and _meet(shelves[i], shelves[j]) for j, r in rows.items()):
        row += 1
    return row


def _meet(one: Shelf, other: Shelf) -> bool:
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
