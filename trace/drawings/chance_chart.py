"""Causes as points: how many of the bad hulls have one, against how many of all at risk, and what chance reaches."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from trace.drawings.shapes import Anchor, Line, Words
from trace.drawings.words import shorten, words_width

NARROW = 450.0
# Of a size that a figure stands in it.
RADIUS, FIRST_RADIUS = 12.0, 15.0
SIZE = 13.0
TICKS_X = (0, 25, 50, 75, 100)
MOST_TICKS = 10


@dataclass(frozen=True, slots=True)
class Point:
    """One cause: in `hit` of the bad and in this share of all; `first`: the one that stands out."""

    number: int
    name: str
    hit: int
    share: float
    first: bool = False


@dataclass(frozen=True, slots=True)
class Balloon:
    """A numbered disc; filled for the cause that stands out."""

    x: float
    y: float
    r: float
    number: int
    first: bool

    @property
    def text_y(self) -> float:
        return round(self.y + 4.6, 1)


@dataclass(frozen=True, slots=True)
class ChanceChart:
    """Contract of templates/drawings/chance_chart.svg.html."""

    width: float
    height: float
    chance: str  # path of what chance alone reaches, filled
    limit: str  # path of its edge
    lines: tuple[Line, ...]
    balloons: tuple[Balloon, ...]
    words: tuple[Words, ...]
    halo: tuple[Words, ...]  # words that stand on the hatching
    description: str


@dataclass(frozen=True, slots=True)
class ChancePair:
    """The same chart for a desk and for a telephone."""

    wide: ChanceChart
    narrow: ChanceChart


def chance_charts(points: Sequence[Point], bad: int, limit: Sequence[float], description: str) -> ChancePair:
    """`limit`: for 1, 2 … `bad` hits the greatest share of all at which so many are more than chance among all looked
    at (0: never)."""
    return ChancePair(
        _chart(points, bad, limit, description, 560, 500), _chart(points, bad, limit, description, 384, 370)
    )


@dataclass(frozen=True, slots=True)
class _Frame:
    left: float
    top: float
    right: float
    bottom: float
    bad: int

    def x(self, share: float) -> float:
        return round(self.left + share * (self.right - self.left), 1)

    def y(self, hit: float) -> float:
        return round(self.bottom - hit / max(1, self.bad) * (self.bottom - self.top - 16), 1)


def _chart(
    points: Sequence[Point], bad: int, limit: Sequence[float], description: str, width: float, height: float
) -> ChanceChart:
    frame = _Frame(40 if width > NARROW else 30, 22, width - 14, height - 46, bad)
    edge = _edge(frame, limit)
    chance = f"M{frame.left} {frame.bottom}{edge.replace('M', 'L', 1)}V{frame.bottom}Z"
    axes, words = _axes(frame, height)
    balloons, leaders = _balloons(frame, points)
    low = frame.bottom - 54
    words_there = Words(frame.right - 6, low, _("hatched: chance alone"), "end", "label-soft")
    halo = (words_there, Words(frame.right - 6, low + 16, _("reaches this far"), "end", "label-soft"))
    return ChanceChart(
        width, height, chance, edge, (*axes, *leaders), tuple(balloons), tuple(words),
        (*halo, *_names(frame, points, balloons)), description,
    )  # fmt: skip


def _edge(frame: _Frame, limit: Sequence[float]) -> str:
    """Steps from the corner to the top right: what lies above and left of them is more than chance."""
    path, at = f"M{frame.left} {frame.bottom}", frame.left
    for hit, share in enumerate(limit, 1):
        at = max(at, frame.x(share))
        half = frame.y(hit - 0.5)
        path += f"V{half}H{at}" if hit > 1 or share > 0 else f"V{half}"
    return path + f"V{frame.top}H{frame.right}"


def _axes(frame: _Frame, height: float) -> tuple[list[Line], list[Words]]:
    lines = [Line(f"M{frame.left} {frame.top}V{frame.bottom}H{frame.right}", "rule")]
    lines.append(Line(f"M{frame.left} {frame.bottom}L{frame.x(1)} {frame.y(frame.bad)}", "centre"))
    words = [Words(frame.left + 6, frame.top - 8, _("of the bad hulls"), "start", "label-soft")]
    step = max(1, -(-frame.bad // MOST_TICKS))
    for hit in range(0, frame.bad + 1, step):
        lines.append(Line(f"M{frame.left - 5} {frame.y(hit)}h5", "tick"))
        words.append(Words(frame.left - 8, frame.y(hit) + 4.5, str(hit), "end", "label-soft"))
    for percent in TICKS_X:
        anchor: Anchor = "end" if percent == 100 else "middle"
        lines.append(Line(f"M{frame.x(percent / 100)} {frame.bottom}v5", "tick"))
        text = f"{percent} %" if percent == 100 else str(percent)
        words.append(Words(frame.x(percent / 100), frame.bottom + 19, text, anchor, "label-soft"))
    words.append(Words(frame.right, height - 6, _("share of all hulls at risk that have it"), "end", "label-soft"))
    return lines, words


def _balloons(frame: _Frame, points: Sequence[Point]) -> tuple[list[Balloon], list[Line]]:
    """Each where it belongs, or, where one stands already, beside it with a line to its place."""
    balloons: list[Balloon] = []
    leaders = []
    for point in points:
        x, y, r = frame.x(point.share), frame.y(point.hit), FIRST_RADIUS if point.first else RADIUS
        placed = Balloon(min(max(x, frame.left + r), frame.right - r), y, r, point.number, point.first)
        while near := next((b for b in balloons if _touch(b, placed)), None):
            placed = Balloon(round(near.x + near.r + r + 3, 1), y, r, point.number, point.first)
        if abs(placed.x - x) > r:
            leaders.append(Line(f"M{x} {y}H{placed.x}", "leader"))
        balloons.append(placed)
    return balloons, leaders


def _touch(one: Balloon, other: Balloon) -> bool:
    return (one.x - other.x) ** 2 + (one.y - other.y) ** 2 < (one.r + other.r) ** 2


def _names(frame: _Frame, points: Sequence[Point], balloons: Sequence[Balloon]) -> list[Words]:
    """The first one's name, and those of others beside which there is room."""
    found = []
    for point, balloon in zip(points, balloons, strict=True):
        start = balloon.x + balloon.r + 6
        after = [b.x - b.r for b in balloons if b.x > balloon.x and abs(b.y - balloon.y) < 18]
        room = min([frame.right, *after]) - start
        kind = "label-strong" if point.first else "label"
        name = shorten(point.name, room, SIZE)
        if words_width(name, SIZE) <= room and len(name) > min(6, len(point.name) - 1):
            found.append(Words(start, balloon.y + 4.6, name, "start", kind))
        elif point.first:
            found.append(_above(frame, point, balloon))
    return found


def _above(frame: _Frame, point: Point, balloon: Balloon) -> Words:
    """The name of the first over its disc, to the side with more room: it is the one that is looked for."""
    y, left = balloon.y - balloon.r - 5, balloon.x - frame.left > frame.right - balloon.x
    room = balloon.x + balloon.r - frame.left if left else frame.right - balloon.x + balloon.r
    name = shorten(point.name, room, SIZE)
    start = balloon.x + balloon.r if left else balloon.x - balloon.r
    return Words(start, y, name, "end" if left else "start", "label-strong")

