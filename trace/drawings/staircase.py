"""A staircase of drops: height over number, a filled mark for each that failed, and the mean failure height across."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from trace.drawings.shapes import Anchor

LEFT, TOP, BOTTOM, SIDE = 56.0, 16.0, 30.0, 14.0
MARK = 6.0


@dataclass(frozen=True, slots=True)
class Mark:
    """One drop: a cross within a square where it failed brittle, a filled one where ductile, an open ring where not."""

    x: float
    y: float
    result: str

    @property
    def d(self) -> str:
        x, y, r = self.x, self.y, MARK
        if self.result == "pass":
            return f"M{x - r} {y}A{r} {r} 0 1 1 {x + r} {y}A{r} {r} 0 1 1 {x - r} {y}Z"
        square = f"M{x - r} {y - r}H{x + r}V{y + r}H{x - r}Z"
        return square + (f"M{x - r} {y - r}L{x + r} {y + r}M{x - r} {y + r}L{x + r} {y - r}"
                         if self.result == "brittle" else "")


@dataclass(frozen=True, slots=True)
class Level:
    """A height with its line across; `least` and `mean` are drawn apart from the steps."""

    y: float
    text: str
    kind: str
    anchor: Anchor = "end"


@dataclass(frozen=True, slots=True)
class StaircaseDrawing:
    """Contract of templates/drawings/staircase.svg.html."""

    width: float
    height: float
    marks: tuple[Mark, ...]
    steps: str
    levels: tuple[Level, ...]
    description: str

    @property
    def left(self) -> float:
        return LEFT

    @property
    def words_x(self) -> float:
        return LEFT - 8

    @property
    def right(self) -> float:
        return self.width - SIDE


def staircase(
    drops: Sequence[tuple[Decimal, str]], mean: Decimal | None, least: Decimal | None, width: float,
    height: float = 240.0,
) -> StaircaseDrawing:
    """drops: (height in m, result) in their order."""
    heights = sorted({at for at, _result in drops})
    low, high = min([*heights, *filter(None, [mean, least])]), max([*heights, *filter(None, [mean, least])])
    tall = float(high - low) or 1.0

    def y(at: Decimal) -> float:
        return round(TOP + (height - TOP - BOTTOM) * (1 - float(at - low) / tall), 1)

    apart = (width - LEFT - SIDE) / max(len(drops), 1)
    marks = tuple(
        Mark(round(LEFT + apart * (n + 0.5), 1), y(at), result) for n, (at, result) in enumerate(drops)
    )
    path = "".join(f"{'L' if n else 'M'}{mark.x} {mark.y}" for n, mark in enumerate(marks))
    levels = [Level(y(at), f"{at:f} m", "tick") for at in heights]
    levels += [Level(y(mean), "", "mean")] if mean is not None else []
    levels += [Level(y(least), "", "least")] if least is not None else []
    said = ", ".join(f"{at:f} m {result}" for at, result in drops)
    return StaircaseDrawing(
        width, height, marks, path, tuple(levels), _("Drops in their order: %(said)s") % {"said": said}
    )
