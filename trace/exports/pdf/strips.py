"""A sheet is filled strip by strip: each is drawn whole on one page, in the order in which they come."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

# Draws itself with its upper left corner at (x, y).
Draw = Callable[[Canvas, float, float], None]


@dataclass(frozen=True, slots=True)
class Strip:
    """`keep`: it stands on the page of the strip that follows. `head` is drawn again above it on a new page. `mark`: a
    heading, by which the reader's outline leads here."""

    height: float
    draw: Draw
    keep: bool = False
    head: "Strip | None" = None
    mark: str = ""


def air(height: float, *, keep: bool = False) -> Strip:
    """Nothing, so many points high."""
    return Strip(height, lambda _canvas, _x, _y: None, keep=keep)


def together(strips: Iterable[Strip]) -> Strip:
    """Several strips as one."""
    parts = list(strips)

    def draw(canvas: Canvas, x: float, y: float) -> None:
        for part in parts:
            part.draw(canvas, x, y)
            y -= part.height

    return Strip(sum(part.height for part in parts), draw)


def side_by_side(left: Strip, right: Strip, apart: float) -> Strip:
    """Two strips in one, the right one `apart` from the left edge."""

    def draw(canvas: Canvas, x: float, y: float) -> None:
        left.draw(canvas, x, y)
        right.draw(canvas, x + apart, y)

    return Strip(max(left.height, right.height), draw)
