"""The drawings of the desk (trace/drawings) on paper: the same shapes, inked as sheet.css inks them for a screen."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from math import cos, radians, sin, tan

from reportlab.lib.colors import Color
from reportlab.pdfgen.canvas import Canvas
from svg.path import Arc, Close, CubicBezier, Line, Move, QuadraticBezier, parse_path

from trace.drawings import ContainerDrawing, MouldPlan, WallSection
from trace.drawings.shapes import Block, Bubble, Mark, Plate, Words
from trace.drawings.shapes import Line as Stroke
from trace.drawings.strip import StripRows
from trace.drawings.time_line import TimeLine
from trace.exports.pdf.ink import BOLD, HAIR, INK, REGULAR, RULE, SOFT, STOP, TINT, WHITE, HexColor, width, words
from trace.exports.pdf.strips import Strip

Matrix = tuple[float, float, float, float, float, float]
USUAL: Matrix = (1, 0, 0, 1, 0, 0)
LARGEST = 0.63  # points for a drawing unit: type of 14 units is then as large as the text around it


@dataclass(frozen=True, slots=True)
class Ink:
    """How a class of shape is drawn: line and its weight in drawing units, broken how, filled with what."""

    stroke: Color | None = INK
    weight: float = 1.0
    dash: tuple[float, ...] = ()
    fill: Color | None = None


LINES = {
    "leader-may": Ink(dash=(4, 3)), "leader-stop": Ink(STOP, 1.5), "leader-stop-may": Ink(STOP, 1.5, (5, 3)),
    "hatch": Ink(Color(0.08, 0.11, 0.15, alpha=0.55), 0.7), "edge": Ink(weight=1.8),
    "edge-open": Ink(weight=1.8, dash=(6, 4)),
    "zone": Ink(weight=1.6), "zone-missing": Ink(weight=1.6, dash=(2, 1.5)), "zone-below": Ink(STOP, 3),
    "outline": Ink(weight=2.2), "detail": Ink(SOFT, 1), "centre": Ink(RULE, 1, (14, 4, 3, 4)),
    "mark-bar": Ink(STOP, 2.5),
    "time-month": Ink(HAIR, 1), "time-stock": Ink(weight=1.6, dash=(2, 4)),
    "time-use": Ink(weight=4), "time-made": Ink(weight=3), "time-sold": Ink(weight=1.8, fill=WHITE),
    "time-failed": Ink(weight=2.4), "time-told": Ink(weight=1.6, fill=INK),
}  # fmt: skip
BLOCKS = {
    "layer": Ink(weight=1.2, fill=TINT), "layer layer-unsure": Ink(weight=1.2, dash=(6, 4), fill=TINT),
    "layer layer-marked": Ink(STOP, 3, fill=TINT), "layer layer-missing": Ink(weight=1.8, dash=(7, 5)),
    "bar-certain": Ink(weight=1.2, fill=INK), "bar-may": Ink(weight=1.2, dash=(4, 3)),
}  # fmt: skip
OPEN, RING = Ink(weight=2, dash=(3.5, 2.5), fill=WHITE), Ink(STOP, 3, fill=WHITE)
# A strip's strokes: light, so that hundreds of them do not soak the paper.
FEET, HAS, MAY, LACKS = Ink(RULE), Ink(None, fill=INK), Ink(weight=1.2, fill=WHITE), Ink(None, fill=RULE)
BUBBLE = Ink(weight=0.8, fill=Color(0.98, 0.98, 0.96, alpha=0.5))


@dataclass(frozen=True, slots=True)
class Pen:
    """Draws in a drawing's own units, y downwards, with its upper left corner at (x, y) of the page."""

    canvas: Canvas
    x: float
    y: float
    scale: float
    top: float

    def at(self, x: float, y: float, matrix: Matrix = USUAL) -> tuple[float, float]:
        """A point of the drawing on the page."""
        a, b, c, d, e, f = matrix
        return self.x + (a * x + c * y + e) * self.scale, self.y - (b * x + d * y + f - self.top) * self.scale

    def ink(self, ink: Ink) -> dict[str, int]:
        """Set line and fill; which of the two are drawn."""
        if ink.stroke is not None:
            self.canvas.setStrokeColor(ink.stroke)
        if ink.fill is not None:
            self.canvas.setFillColor(ink.fill)
        self.canvas.setLineWidth(ink.weight * self.scale)
        self.canvas.setDash([part * self.scale for part in ink.dash])
        return {"stroke": int(ink.stroke is not None), "fill": int(ink.fill is not None)}

    def path(self, text: str, ink: Ink, matrix: Matrix = USUAL) -> None:
        """SVG path data; what cannot be read as such is left out, as a browser leaves it out."""
        drawn = self.canvas.beginPath()
        try:
            parts = list(parse_path(text))
        except (ValueError, IndexError):
            return
        to = partial(self._point, matrix)
        for part in parts:
            match part:
                case Move():
                    drawn.moveTo(*to(part.end))
                case Close():
                    drawn.close()
                case Line():
                    drawn.lineTo(*to(part.end))
                case CubicBezier():
                    drawn.curveTo(*to(part.control1), *to(part.control2), *to(part.end))
                case QuadraticBezier():
                    one = part.start + (part.control - part.start) * 2 / 3
                    two = part.end + (part.control - part.end) * 2 / 3
                    drawn.curveTo(*to(one), *to(two), *to(part.end))
                case Arc():
                    for one, two, end in curves_of(part):
                        drawn.curveTo(*to(one), *to(two), *to(end))
        self.canvas.setLineJoin(1)
        self.canvas.drawPath(drawn, **self.ink(ink))
        self.canvas.setDash()

    def _point(self, matrix: Matrix, point: complex) -> tuple[float, float]:
        return self.at(point.real, point.imag, matrix)

    def strokes(self, lines: Sequence[Stroke]) -> None:
        for line in lines:
            self.path(line.d, LINES.get(line.kind, Ink()))

    def blocks(self, blocks: Sequence[Block]) -> None:
        for block in blocks:
            ink = BLOCKS.get(block.kind, Ink())
            self._block(block, Ink(ink.stroke, ink.weight, ink.dash, colour(block.fill) or ink.fill))

    def _block(self, block: Block | Plate, ink: Ink) -> None:
        x, y = self.at(block.x, block.y + block.height)
        self.canvas.rect(x, y, block.width * self.scale, block.height * self.scale, **self.ink(ink))
        self.canvas.setDash()

    def bubbles(self, bubbles: Sequence[Bubble]) -> None:
        drawn = self.ink(BUBBLE)
        for bubble in bubbles:
            self.canvas.circle(*self.at(bubble.x, bubble.y), bubble.r * self.scale, **drawn)

    def plate(self, plate: Plate) -> None:
        ink = Ink(WHITE, 1, fill=INK) if plate.standing == "done" and plate.certain else OPEN
        self._block(plate, RING if plate.standing == "marked" else ink)
        if plate.bar:
            self.path(plate.bar, LINES["mark-bar"])

    def mark(self, mark: Mark) -> None:
        ink = Ink(WHITE, 1.5, fill=INK) if mark.standing == "done" and mark.certain else OPEN
        if mark.standing == "marked":
            ink = RING if mark.certain else Ink(STOP, 3, (5, 3), WHITE)
        self.canvas.circle(*self.at(mark.x, mark.y), mark.r * self.scale, **self.ink(ink))
        self.canvas.setDash()
        if mark.bar:
            self.path(mark.bar, LINES["mark-bar"])
        if mark.name:
            size = mark.size * self.scale
            x, y = self.at(mark.x, mark.y)
            self.canvas.setFillColor(WHITE if ink.fill is INK else INK)
            self.canvas.setFont(BOLD, size)
            self.canvas.drawCentredString(x, y - size * 0.35, words(mark.name))

    def texts(self, said: Sequence[Words], size: float) -> None:
        for one in said:
            self._text(one, (12.5 if one.kind == "label-soft" else size) * self.scale)

    def _text(self, one: Words, size: float) -> None:
        font = BOLD if one.kind in ("label-strong", "label-stop") else REGULAR
        x, y = self.at(one.x, one.y)
        text = words(one.text)
        x -= {"start": 0.0, "middle": 0.5, "end": 1.0}[one.anchor] * width(text, font, size)
        self.canvas.setFillColor(STOP if one.kind == "label-stop" else SOFT if one.kind == "label-soft" else INK)
        self.canvas.setFont(font, size)
        self.canvas.drawString(x, y, text)


def picture(drawing: MouldPlan | WallSection | ContainerDrawing | TimeLine | StripRows, room: float) -> Strip:
    """A drawing as large as type of the usual size asks for, smaller where `room` points are less."""
    scale = min(LARGEST, room / drawing.width)
    top = drawing.top if isinstance(drawing, MouldPlan) else 0.0

    def draw(canvas: Canvas, x: float, y: float) -> None:
        pen = Pen(canvas, x, y - 3, scale, top)
        match drawing:
            case MouldPlan():
                _plan(pen, drawing)
            case WallSection():
                _wall(pen, drawing)
            case ContainerDrawing():
                _container(pen, drawing)
            case TimeLine():
                pen.strokes(drawing.lines)
                pen.texts(drawing.words, 13)
            case StripRows():
                _strips(pen, drawing)

    return Strip(drawing.height * scale + 8, draw)


def _plan(pen: Pen, plan: MouldPlan) -> None:
    matrix = read_matrix(plan.transform)
    pen.path(plan.outline, LINES["outline"], matrix)
    for detail in plan.details:
        pen.path(detail, LINES["detail"], matrix)
    pen.path(plan.centre, LINES["centre"])
    pen.strokes(plan.leaders)
    for zone in plan.zones:
        pen.path(zone.d, LINES[zone.kind])
    for plate in plan.plates:
        pen.plate(plate)
    for mark in plan.marks:
        pen.mark(mark)
    pen.texts(plan.labels, 14 if "upright" not in plan.kind else 13)


def _wall(pen: Pen, wall: WallSection) -> None:
    pen.blocks(wall.fills)
    pen.bubbles(wall.bubbles)
    pen.strokes(wall.lines)
    pen.blocks(wall.bars)
    pen.texts(wall.words, 13.5)


def _container(pen: Pen, box: ContainerDrawing) -> None:
    if box.fill_path:
        pen.path(box.fill_path, Ink(weight=1.2, fill=colour(box.fill) or TINT))
    pen.strokes(box.lines)
    pen.blocks(box.bars)
    pen.texts(box.words, 14)


def _strips(pen: Pen, rows: StripRows) -> None:
    for x, y, one in rows.strips:
        moved: Matrix = (1, 0, 0, 1, x, y)
        for path, ink in ((one.feet, FEET), (one.has, HAS), (one.may, MAY), (one.lacks, LACKS)):
            if path:
                pen.path(path, ink, moved)
    pen.texts(rows.words, 13)


def read_matrix(text: str) -> Matrix:
    """The six numbers of an SVG transform `matrix(...)`; what is none leaves everything where it is."""
    found = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", text)] if text.startswith("matrix(") else []
    return (found[0], found[1], found[2], found[3], found[4], found[5]) if len(found) == 6 else USUAL


def colour(text: str) -> Color | None:
    """ "#rrggbb" of a material; None for anything else."""
    return HexColor(text) if re.fullmatch(r"#[0-9a-fA-F]{6}", text) else None


def curves_of(arc: Arc) -> list[tuple[complex, complex, complex]]:
    """An elliptic arc as cubic curves, (control, control, end) each, a quarter turn at most: of a unit circle's arc of
    angle t the control points stand 4/3 tan(t/4) along its tangents."""
    if arc.start == arc.end or not arc.radius.real or not arc.radius.imag:
        return []
    count = max(1, round(abs(arc.delta) / 90 + 0.499))
    step = radians(arc.delta) / count
    reach = 4 / 3 * tan(step / 4)
    turned = complex(cos(radians(arc.rotation)), sin(radians(arc.rotation)))
    # Radii that are too small to reach both ends are drawn as much larger as they must be (SVG 2, 9.5.1).
    radius = arc.radius * max(1.0, arc.radius_scale)

    def point(x: float, y: float) -> complex:
        return arc.center + complex(x * radius.real, y * radius.imag) * turned

    found = []
    for n in range(count):
        t0, t1 = radians(arc.theta) + n * step, radians(arc.theta) + (n + 1) * step
        one = point(cos(t0) - reach * sin(t0), sin(t0) + reach * cos(t0))
        two = point(cos(t1) + reach * sin(t1), sin(t1) - reach * cos(t1))
        found.append((one, two, point(cos(t1), sin(t1))))
    return found
