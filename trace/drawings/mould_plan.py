"""The mould plan: the maker's outline with its insert positions, graphics and thickness zones, and what
stands at each.

Outline, positions and zones come from the product's recorded drawing, never from code.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot
from typing import Any

from trace.drawings.callouts import COLUMN_LINE, Placed, above_and_below, left_and_right
from trace.drawings.plan_words import callouts_of, described
from trace.drawings.shapes import (
    Line,
    Mark,
    MouldPlan,
    PlanPair,
    Plate,
    PositionState,
    Words,
    ZoneCross,
    ZoneReading,
)

OPEN = PositionState("open")
LONG = 1.7  # width : height from which a drawing is long, its words in rows above and below
SIZE = 14.0
NONE: Mapping[str, Any] = {}


@dataclass(frozen=True, slots=True)
class _Sheet:
    """How the maker's coordinates come onto the sheet: turned or not, scaled, moved aside."""

    scale: float
    left: float
    box: tuple[float, float]
    upright: bool

    def point(self, x: float, y: float) -> tuple[float, float]:
        """(x, y) of the maker's drawing on the sheet; upright turns the bow up."""
        turned = (y, self.box[0] - x) if self.upright else (x, y)
        return self.left + turned[0] * self.scale, turned[1] * self.scale

    def transform(self) -> str:
        """The same as an SVG transform."""
        s = self.scale
        if self.upright:
            return f"matrix(0 {-s:.4f} {s:.4f} 0 {self.left:.1f} {self.box[0] * s:.1f})"
        return f"matrix({s:.4f} 0 0 {s:.4f} {self.left:.1f} 0)"


def mould_plan(
    drawing: Mapping[str, Any],
    positions: Mapping[str, PositionState],
    graphics: Mapping[str, PositionState] = NONE,
    zones: Mapping[str, ZoneReading] = NONE,
    *,
    width: float = 820.0,
    upright: bool = False,
    callouts: bool = True,
    title: str = "",
) -> MouldPlan:
    """Lay out one plan `width` units wide.

    drawing: the product's "drawing" (box, outline, details, positions, graphics, zones). The states are
    keyed by position, graphic and zone name; a name of the drawing without a state is drawn open. `upright`
    turns a long mould bow up, for a telephone; `callouts=False` leaves the words out (a station's list says
    them). Raises KeyError when the drawing has no box or outline.
    """
    box = (float(drawing["box"][0]), float(drawing["box"][1]))
    long = box[0] / box[1] > LONG
    turned = upright and long
    in_columns = callouts and (turned or not long)
    across, along = (box[1], box[0]) if turned else box
    tallest = 520.0 if turned else 320.0 if callouts else 190.0
    scale = min((width * _share(in_columns, upright, turned) - 8) / across, tallest / along)
    left, high = (width - across * scale) / 2, along * scale
    sheet = _Sheet(scale, left, box, turned)
    radius = _radius(
        [sheet.point(*at) for at in drawing.get("positions", {}).values()], 11.0 if callouts else 10.5
    )

    said = (
        callouts_of(drawing, positions, graphics, zones, point=sheet.point, radius=radius) if callouts else []
    )
    placed: list[Placed]
    if in_columns:
        size = SIZE - 1 if upright else SIZE
        placed, above, below = left_and_right(
            said, width=width, left=left, right=width - left, height=high, size=size
        )
    else:
        middle = sheet.point(0, box[1] / 2)[1]
        placed, above, below = above_and_below(
            said, width=width, top=0.0, bottom=high, middle=middle, size=SIZE
        )
    return MouldPlan(
        width=width,
        top=round(-above, 1),
        height=round(above + high + below, 1),
        transform=sheet.transform(),
        outline=str(drawing["outline"]),
        details=tuple(str(d) for d in drawing.get("details", ())),
        centre=_centre(sheet, long),
        marks=_marks(drawing, positions, sheet, radius),
        plates=_plates(drawing, graphics, sheet),
        zones=_zones(drawing, zones, sheet),
        leaders=tuple(Line(p.path, p.callout.line) for p in placed),
        labels=tuple(
            Words(round(p.x, 1), round(p.y + COLUMN_LINE * i, 1), line, p.anchor, p.callout.kind)
            for p in placed
            for i, line in enumerate(p.lines)
        ),
        description=described(drawing, positions, graphics, zones, title),
        kind=("plan" if callouts else "plan plan-bare") + (" plan-upright" if upright else ""),
    )


def _share(in_columns: bool, upright: bool, turned: bool) -> float:
    """How much of the width the drawing takes: words in columns beside it need the rest."""
    if not in_columns:
        return 1.0
    if not upright:
        return 0.5
    return 0.36 if turned else 0.42


def mould_plans(
    drawing: Mapping[str, Any],
    positions: Mapping[str, PositionState],
    graphics: Mapping[str, PositionState] = NONE,
    zones: Mapping[str, ZoneReading] = NONE,
    *,
    title: str = "",
) -> PlanPair:
    """The plan for a sheet: across for a desk and for paper, upright for a telephone."""
    return PlanPair(
        mould_plan(drawing, positions, graphics, zones, width=820.0, title=title),
        mould_plan(drawing, positions, graphics, zones, width=384.0, upright=True, title=title),
    )


def station_plan(
    drawing: Mapping[str, Any],
    positions: Mapping[str, PositionState],
    graphics: Mapping[str, PositionState] = NONE,
    *,
    title: str = "",
) -> MouldPlan:
    """The plan for a station page: marks only, low enough to leave the list in sight."""
    return mould_plan(drawing, positions, graphics, width=400.0, callouts=False, title=title)


def _radius(points: Sequence[tuple[float, float]], most: float) -> float:
    """As large as the closest two positions allow, at most `most`."""
    apart = [hypot(ax - bx, ay - by) for i, (ax, ay) in enumerate(points) for bx, by in points[i + 1 :]]
    return round(max(5.0, min([most, *(d * 0.46 for d in apart)])), 1)


def _centre(sheet: _Sheet, long: bool) -> str:
    """The centre line, and a second one across when the mould is round."""
    width, height = sheet.box
    ax, ay = sheet.point(2, height / 2)
    bx, by = sheet.point(width - 2, height / 2)
    lines = f"M{ax:.1f} {ay:.1f}L{bx:.1f} {by:.1f}"
    if not long:
        cx, cy = sheet.point(width / 2, 2)
        dx, dy = sheet.point(width / 2, height - 2)
        lines += f"M{cx:.1f} {cy:.1f}L{dx:.1f} {dy:.1f}"
    return lines


def _bar(x: float, y: float, half_width: float, half_height: float) -> str:
    return f"M{x - half_width:.1f} {y - half_height:.1f}L{x + half_width:.1f} {y + half_height:.1f}"


def _marks(
    drawing: Mapping[str, Any], positions: Mapping[str, PositionState], sheet: _Sheet, radius: float
) -> tuple[Mark, ...]:
    marks = []
    for name, at in drawing.get("positions", {}).items():
        x, y = sheet.point(*at)
        state = positions.get(name, OPEN)
        reach = radius + 4.5
        bar = _bar(x, y, reach * 0.707, reach * 0.707) if state.standing == "marked" else ""
        shown, size = name if radius >= 8 else "", round(radius * 0.98, 1)
        marks.append(Mark(round(x, 1), round(y, 1), radius, size, shown, state.standing, state.certain, bar))
    return tuple(marks)


def _plates(
    drawing: Mapping[str, Any], graphics: Mapping[str, PositionState], sheet: _Sheet
) -> tuple[Plate, ...]:
    plates = []
    for name, (x, y, width, height) in drawing.get("graphics", {}).items():
        (ax, ay), (bx, by) = sheet.point(x, y), sheet.point(x + width, y + height)
        left, top = min(ax, bx), min(ay, by)
        wide, high = abs(bx - ax), abs(by - ay)
        state = graphics.get(name, OPEN)
        bar = ""
        if state.standing == "marked":
            bar = _bar(left + wide / 2, top + high / 2, wide / 2 + 4, high / 2 + 4)
        plates.append(
            Plate(
                round(left, 1),
                round(top, 1),
                round(wide, 1),
                round(high, 1),
                name,
                state.standing,
                state.certain,
                bar,
            )
        )
    return tuple(plates)


def _zones(
    drawing: Mapping[str, Any], zones: Mapping[str, ZoneReading], sheet: _Sheet
) -> tuple[ZoneCross, ...]:
    crosses = []
    for name, at in drawing.get("zones", {}).items():
        reading = zones.get(name)
        if reading is None:
            continue
        x, y = sheet.point(*at)
        kind = "zone-below" if reading.below else "zone-missing" if reading.missing else "zone"
        crosses.append(ZoneCross(f"M{x - 4:.1f} {y:.1f}h8M{x:.1f} {y - 4:.1f}v8", name, kind))
    return tuple(crosses)
