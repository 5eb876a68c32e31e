"""Where everything on one label stands: symbols in printer dots, the rest in millimetres, y downwards."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from trace.codes import parse_label_code
from trace.labels.layouts import DOTS_PER_MM, Face, Layout
from trace.labels.symbol import QUIET_MODULES, Matrix, matrix, payload, version_of
from trace.labels.text import (
    ASCENT,
    BOLD,
    CAP_HEIGHT,
    DESCENT,
    LEADING,
    REGULAR,
    printable,
    shorten,
    width,
    wrap,
)

MM_PER_PT = 25.4 / 72
_GAP = 0.8  # between a quiet zone and text
_RULE = 0.25  # thin rules: two dots
_TICK = 1.25
_MOST_LINES = 20  # more than fit on any stock
_CODE_LEAST = 5.0  # height worth keeping for the code; below it the free edge at the foot shrinks to
_FOOT_LEAST = 0.75
_BAR_GAP, _BAR = 0.2, 0.1  # the bar below the code, as shares of the type size


@dataclass(frozen=True, slots=True)
class SymbolAt:
    """A symbol: top left corner of its dark part and size of a module, in whole printer dots."""

    x: int
    y: int
    dots: int
    modules: Matrix


@dataclass(frozen=True, slots=True)
class TextAt:
    """Printable text that starts at `x` on a baseline, size in points."""

    x: float
    baseline: float
    text: str
    font: str
    size: float


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle: left, top, width, height. Filled when drawn."""

    x: float
    y: float
    w: float
    h: float


@dataclass(frozen=True, slots=True)
class Drawing:
    """One label as it reads upright, `w` by `h`."""

    w: float
    h: float
    symbols: tuple[SymbolAt, ...]
    texts: tuple[TextAt, ...]
    bars: tuple[Box, ...]


Marks = list[TextAt | Box]


def arrange(face: Face, layout: Layout, label_host: str = "", *, ruler: bool = False) -> Drawing:
    """Place the symbol (two of them near an oven), the code, its name and its lines on a label.

    Wide labels have the text beside the symbol, tall ones below it; text keeps out of every quiet zone.
    `ruler` adds the line by which a print at the wrong scale is seen. Raises CodeError or ValueError as
    `payload` does.
    """
    face = replace(
        face,
        title=printable(face.title),
        lines=tuple(printable(line) for line in face.lines[:_MOST_LINES]),
        kind=printable(face.kind),
        side=printable(face.side),
    )
    text = payload(face.code, label_host)
    modules = matrix(text)
    dots = (layout.dots_near_oven if face.near_oven else layout.dots).of(version_of(text))
    side = (len(modules) + 2 * QUIET_MODULES) * dots  # with the quiet zone, in dots
    w, h = layout.label_mm if face.orientation == "upright" else (layout.label_mm[1], layout.label_mm[0])
    quiet = QUIET_MODULES * dots
    if w >= h:
        corners, boxes = _wide(w, h, side, layout, face.near_oven)
    else:
        corners, boxes = _tall(w, h, side, layout, face.near_oven)
    symbols = tuple(SymbolAt(x + quiet, y + quiet, dots, modules) for x, y in corners)
    marks = _column(face, layout, boxes[0], ruler) if len(boxes) == 1 else _split(face, layout, boxes, ruler)
    return Drawing(
        w,
        h,
        symbols,
        tuple(mark for mark in marks if isinstance(mark, TextAt)),
        tuple(mark for mark in marks if isinstance(mark, Box)),
    )


Places = tuple[list[tuple[int, int]], list[Box]]


def _wide(w: float, h: float, side: int, layout: Layout, twice: bool) -> Places:
    """Corners of the symbols (dots, quiet zone included) and boxes for text, on a label wider than high."""
    edge, inset, s = layout.edge_mm, layout.inset_mm, side / DOTS_PER_MM
    left = round(inset * DOTS_PER_MM)
    if not twice:
        x = inset + s + _GAP
        return [(left, round((h - s) / 2 * DOTS_PER_MM))], [Box(x, edge, w - x - edge, h - 2 * edge)]
    # One symbol at each end, as far apart as can be; a column between them, a strip below.
    top = round(min(inset, (h - s) / 16) * DOTS_PER_MM)
    right = round((w - inset) * DOTS_PER_MM) - side
    bottom = top / DOTS_PER_MM + s + 0.2
    between = Box(inset + s + _GAP, edge, w - 2 * (inset + s + _GAP), bottom - edge)
    foot = h - (edge if h - bottom - edge >= _CODE_LEAST else _FOOT_LEAST)
    return [(left, top), (right, top)], [between, Box(edge, bottom, w - 2 * edge, foot - bottom)]


def _tall(w: float, h: float, side: int, layout: Layout, twice: bool) -> Places:
    """The same on a label higher than wide."""
    edge, inset, s = layout.edge_mm, layout.inset_mm, side / DOTS_PER_MM
    left = top = round(inset * DOTS_PER_MM)
    y = inset + s + _GAP
    if not twice:
        x = edge + 3 if w >= 60 else edge  # where the dark part of the symbol starts, if there is room
        return [(left, top)], [Box(x, y, w - x - edge, h - y - edge)]
    right, low = round((w - inset) * DOTS_PER_MM) - side, round((h - inset) * DOTS_PER_MM) - side
    return [(left, top), (right, low)], [Box(edge, y, w - 2 * edge, h - 2 * y)]


def _column(face: Face, layout: Layout, box: Box, ruler: bool) -> Marks:
    """From the top: kind and side, title, lines; at the foot the code, and below it the ruler."""
    marks, foot = _ruler(box, layout.line_pt) if ruler else ([], box.y + box.h)
    most = min(layout.code_pt, 0.5 * (foot - box.y) / MM_PER_PT)
    code_marks, code_height = _code(face.code, most, box.x, foot, box.w)
    gap = min(1, 0.1 * (foot - box.y))
    head = _Head(box.x, box.y, box.w, foot - code_height - gap)
    marks += code_marks
    if head.rows(layout.line_pt) and head.foot - head.y > layout.line_pt * LEADING * 2 * MM_PER_PT:
        marks += head.kind(face, layout.line_pt)
    marks += head.title(face.title, layout.title_pt)
    return marks + head.lines(face.lines, layout.line_pt)


def _split(face: Face, layout: Layout, boxes: list[Box], ruler: bool) -> Marks:
    """Near an oven on a wide label: kind and lines between the symbols, code and title in the strip below."""
    between, strip = boxes
    marks, foot = _ruler(between, layout.line_pt) if ruler else ([], between.y + between.h)
    head = _Head(between.x, between.y, between.w, foot)
    marks += head.kind(face, layout.line_pt)
    marks += head.lines(face.lines, layout.line_pt)
    foot = strip.y + strip.h
    high = strip.h > 2 * layout.code_pt * MM_PER_PT  # then the title stands above the code, else beside it
    most = min(layout.code_pt, strip.h / MM_PER_PT / (CAP_HEIGHT + _BAR_GAP + _BAR))
    code_marks, code_height = _code(face.code, most, strip.x, foot, strip.w if high else strip.w * 0.6)
    marks += code_marks
    if high:
        above = _Head(strip.x, strip.y, strip.w, foot - code_height - 1)
        return marks + above.title(face.title, layout.title_pt)
    x = strip.x + 3 + next(mark.w for mark in code_marks if isinstance(mark, Box))
    beside = _Head(x, foot - code_height, strip.x + strip.w - x, foot).title(face.title, layout.title_pt)
    return marks + _down_to(beside, next(mark.baseline for mark in code_marks if isinstance(mark, TextAt)))


def _down_to(texts: list[TextAt], baseline: float) -> list[TextAt]:
    """Text moved down so that its last line stands on `baseline`; never up."""
    down = max(0.0, baseline - texts[-1].baseline) if texts else 0.0
    return [replace(text, baseline=text.baseline + down) for text in texts]


def _code(code: str, most_pt: float, x: float, foot: float, room: float) -> tuple[Marks, float]:
    """The code in big type with the bar that says where its foot is, and the height of both.

    Upside down 6 reads as 9, M as W, and H, N and X as themselves: the bar belongs below the code.
    """
    printed = parse_label_code(code).printed
    size = min(most_pt, room / MM_PER_PT / width(printed, BOLD, 1))
    em = size * MM_PER_PT
    bar = Box(x, foot - _BAR * em, width(printed, BOLD, size) * MM_PER_PT, _BAR * em)
    return [TextAt(x, bar.y - _BAR_GAP * em, printed, BOLD, size), bar], em * (CAP_HEIGHT + _BAR_GAP + _BAR)


@dataclass(slots=True)
class _Head:
    """Lines of text set one below another, from `y` down to `foot` at most."""

    x: float
    y: float
    w: float
    foot: float

    def kind(self, face: Face, size: float) -> list[TextAt]:
        words = " · ".join(word for word in (face.kind, face.side) if word)
        return self._set(wrap(words, REGULAR, size, self.w / MM_PER_PT, 2), REGULAR, size)

    def title(self, text: str, most_pt: float) -> list[TextAt]:
        """Bold; in smaller type, then on two lines, before it is shortened."""
        lines: tuple[str, ...] = ()
        for rows, share in (
            (1, 1.0),
            (1, 0.85),
            (1, 0.7),
            (2, 1.0),
            (2, 0.85),
            (2, 0.7),
            (2, 0.55),
            (1, 0.42),
        ):
            size = most_pt * share
            lines = wrap(text, BOLD, size, self.w / MM_PER_PT, min(rows, self.rows(size)))
            if lines and not _cut(lines):
                break
        return self._set(lines, BOLD, size)

    def lines(self, texts: tuple[str, ...], most_pt: float) -> list[TextAt]:
        """Each on a line of its own, in smaller type, then broken at blanks, then several on one line, before any
        is shortened; three dots say that there were more."""
        room = self.w / MM_PER_PT
        for most, share in ((1, 1.0), (1, 0.9), (1, 0.8), (5, 1.0), (5, 0.9), (5, 0.8)):
            size = most_pt * share
            shown = [row for text in texts for row in wrap(text, REGULAR, size, room, most)]
            if len(shown) <= self.rows(size) and not _cut(shown):
                return self._set(shown, REGULAR, size)
        for share in (1.0, 0.9, 0.8, 0.7):
            shown = _side_by_side(texts, most_pt * share, room)
            if len(shown) <= self.rows(most_pt * share) and not _cut(shown):
                return self._set(shown, REGULAR, most_pt * share)
        rows = self.rows(size)
        shown = [shorten(text, REGULAR, size, room) for text in texts[:rows]]
        if shown and len(texts) > rows and not _cut(shown[-1:]):
            shown[-1] = shorten(shown[-1] + " …", REGULAR, size, room)
        return self._set(shown, REGULAR, size)

    def rows(self, size: float) -> int:
        """Lines of a type size that there is still room for."""
        room = self.foot - self.y - (ASCENT + DESCENT) * size * MM_PER_PT
        return int(room / (LEADING * size * MM_PER_PT)) + 1 if room >= 0 else 0

    def _set(self, lines: Sequence[str], font: str, size: float) -> list[TextAt]:
        em = size * MM_PER_PT
        marks: list[TextAt] = []
        for line in lines:
            if line and self.rows(size):
                marks.append(TextAt(self.x, self.y + ASCENT * em, line, font, size))
                self.y += LEADING * em
        return marks


def _side_by_side(texts: Sequence[str], size: float, room: float) -> list[str]:
    """The same texts on as few lines as their widths allow, in their order."""
    rows: list[str] = []
    for text in texts:
        joined = f"{rows[-1]} · {text}" if rows else ""
        if joined and width(joined, REGULAR, size) <= room:
            rows[-1] = joined
        else:
            rows.append(shorten(text, REGULAR, size, room))
    return rows


def _cut(lines: Sequence[str]) -> bool:
    return any(line.endswith("…") for line in lines)


def _ruler(box: Box, line_pt: float) -> tuple[Marks, float]:
    """Ticks every 10 mm at the foot of `box`, above them what the print dialog must say, and what is left."""
    length = min(50, int(box.w / 10) * 10)
    caption = printable(_("100 %%, do not fit to page · %(mm)d mm") % {"mm": length})
    size = 0.6 * line_pt
    leading = LEADING * size * MM_PER_PT
    foot = box.y + box.h
    marks: Marks = [Box(box.x, foot - _RULE, length, _RULE)]
    for mm in range(0, length + 1, 10):
        marks.append(Box(box.x + min(mm, length - _RULE), foot - _TICK, _RULE, _TICK))
    rows = wrap(caption, REGULAR, size, box.w / MM_PER_PT, 2)
    for n, row in enumerate(reversed(rows)):
        baseline = foot - _TICK - 0.3 - DESCENT * size * MM_PER_PT - n * leading
        marks.append(TextAt(box.x, baseline, row, REGULAR, size))
    return marks, foot - _TICK - 1 - len(rows) * leading
