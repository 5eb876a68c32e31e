"""Each part of a paper as strips: headings, facts, sentences, drawings; tables have a file of their own."""

from collections.abc import Callable, Iterator

from django.utils.translation import gettext as _
from reportlab.pdfgen.canvas import Canvas

from trace.exports.paper import Beside, Facts, Paper, Part, Picture, Said, Table
from trace.exports.pdf.drawn import picture
from trace.exports.pdf.ink import (
    BODY,
    BOLD,
    HAIR,
    HEAD,
    INK,
    LEADING,
    REGULAR,
    RULE,
    SMALL,
    SOFT,
    STOP,
    Color,
    lines_of,
    width,
    words,
)
from trace.exports.pdf.strips import Strip, air, side_by_side, together
from trace.exports.pdf.tables import rows

LINE = BODY * LEADING
GUTTER = 16.0
SIGN = 20.0  # room for the sign of a gap or a stop beside its sentences
Step = Callable[[], None]


def strips_of(paper: Paper, room: float, step: Step) -> Iterator[Strip]:
    """All of a paper for sheets that have so many points of width; `step` is called for each row of a table."""
    yield from _gaps(paper, room)
    for part in paper.parts:
        yield from _part(part, room, step)


def _part(part: Part, room: float, step: Step) -> Iterator[Strip]:
    match part:
        case Table():
            if part.shown:
                yield heading(part.title, room, _counted(part))
                yield from rows(part, room, step)
        case Facts():
            yield from _facts(part, room)
        case Said():
            yield from _said(part, room)
        case Picture():
            yield heading(part.title, room)
            yield picture(part.drawing, room)
        case Beside(left, right):
            yield from _beside(left, right, room, step)


def _counted(table: Table) -> str:
    return _("%(n)d rows") % {"n": len(table.rows)} if len(table.rows) > 1 else ""


def _beside(left: Part, right: Part, room: float, step: Step) -> Iterator[Strip]:
    wide = picture_width(left, room)
    other = room - wide - GUTTER
    one, two = together(_part(left, wide, step)), together(_part(right, other, step))
    yield side_by_side(one, two, wide + GUTTER)


def picture_width(part: Part, room: float) -> float:
    """A drawing has the width it needs for type of the usual size; anything else half of the sheet."""
    return min(room * 0.66, part.drawing.width * 0.63) if isinstance(part, Picture) else (room - GUTTER) / 2


def heading(text: str, room: float, beside: str = "") -> Strip:
    """A heading with its rule; it stays with what follows."""
    said = words(text)

    def draw(canvas: Canvas, x: float, y: float) -> None:
        base = y - 11 - HEAD
        canvas.setFillColor(INK)
        canvas.setFont(BOLD, HEAD)
        canvas.drawString(x, base, said)
        if beside:
            canvas.setFillColor(SOFT)
            canvas.setFont(REGULAR, SMALL)
            canvas.drawRightString(x + room, base, words(beside))
        rule(canvas, x, base - 3.5, room, RULE, 0.7)

    return Strip(11 + HEAD + 3.5 + 3, draw, keep=True, mark=text)


def rule(canvas: Canvas, x: float, y: float, room: float, ink: Color, weight: float) -> None:
    canvas.setStrokeColor(ink)
    canvas.setLineWidth(weight)
    canvas.setDash()
    canvas.line(x, y, x + room, y)


def text_strip(lines: list[str], *, indent: float = 0.0, font: str = REGULAR, ink: Color = INK) -> Strip:
    """Lines of running text."""

    def draw(canvas: Canvas, x: float, y: float) -> None:
        canvas.setFillColor(ink)
        canvas.setFont(font, BODY)
        for line in lines:
            canvas.drawString(x + indent, y - BODY, line)
            y -= LINE

    return Strip(len(lines) * LINE + 1.2, draw)


def _facts(part: Facts, room: float) -> Iterator[Strip]:
    yield heading(part.title, room) if part.title else air(7, keep=True)
    names = min(room * 0.42, max((width(words(what), REGULAR, BODY) for what, _v in part.pairs), default=0.0) + 12)
    for what, value in part.pairs:
        yield _pair(lines_of(what, REGULAR, BODY, names - 8), value, names, room)


def _pair(heads: list[str], value: str, names: float, room: float) -> Strip:
    lines = lines_of(value or _("not recorded"), REGULAR, BODY, room - names)

    def draw(canvas: Canvas, x: float, y: float) -> None:
        canvas.setFont(REGULAR, BODY)
        for n, (ink, texts, at) in enumerate(((SOFT, heads, x), (INK, lines, x + names))):
            canvas.setFillColor(ink if n == 0 or value else SOFT)
            for row, text in enumerate(texts):
                canvas.drawString(at, y - BODY - row * LINE, text)
        rule(canvas, x, y - height + 0.9, room, HAIR, 0.5)

    height = max(len(heads), len(lines)) * LINE + 2.6
    return Strip(height, draw)


def _said(part: Said, room: float) -> Iterator[Strip]:
    if part.title:
        yield heading(part.title, room)
    if part.weight == "plain":
        for line in part.lines or ((part.empty,) if part.empty else ()):
            yield text_strip(lines_of(line, REGULAR, BODY, room), ink=INK if part.lines else SOFT)
    elif part.lines:
        yield from _boxed(part, room)


def _gaps(paper: Paper, room: float) -> Iterator[Strip]:
    """What the record lacks, before anything else on page one."""
    n = len(paper.gaps)
    title = _("Nothing is known to be missing from this record.")
    if n:
        title = _("What this record lacks or leaves in doubt: %(n)d") % {"n": n}
    yield air(2, keep=True)
    yield _signed("gap", lines_of(title, BOLD, HEAD, room - SIGN), BOLD, HEAD, keep=bool(n))
    for line in paper.gaps:
        yield _dashed(line, room)
    yield air(3)
    yield Strip(4, lambda canvas, x, y: _broken_rule(canvas, x, y, room))


def _dashed(line: str, room: float) -> Strip:
    """One of several sentences, set in, with a dash before it."""
    inner = text_strip(lines_of(line, REGULAR, BODY, room - SIGN - 9), indent=SIGN + 9)

    def draw(canvas: Canvas, x: float, y: float) -> None:
        inner.draw(canvas, x, y)
        canvas.drawString(x + SIGN, y - BODY, "–")

    return Strip(inner.height, draw)


def _broken_rule(canvas: Canvas, x: float, y: float, room: float) -> None:
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(1.2)
    canvas.setDash(5, 3)
    canvas.line(x - 6, y - 2, x + room + 6, y - 2)
    canvas.setDash()


def _signed(sign: str, lines: list[str], font: str, size: float, *, keep: bool = False) -> Strip:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        _sign(canvas, sign, x, y)
        canvas.setFillColor(INK)
        canvas.setFont(font, size)
        for n, line in enumerate(lines):
            canvas.drawString(x + SIGN, y - size - n * size * LEADING, line)

    return Strip(max(14.0, len(lines) * size * LEADING) + 2, draw, keep=keep)


def _sign(canvas: Canvas, sign: str, x: float, y: float) -> None:
    """An open, broken circle for what is missing; a barred one (the shape of ISO 3864's prohibition) for stop."""
    canvas.setStrokeColor(STOP if sign == "stop" else INK)
    canvas.setLineWidth(2.2 if sign == "stop" else 1.4)
    canvas.setDash(*(() if sign == "stop" else (3, 2)))
    canvas.circle(x + 6.5, y - 6.5, 5.2, stroke=1, fill=0)
    canvas.setDash()
    if sign == "stop":
        canvas.line(x + 2.9, y - 2.9, x + 10.1, y - 10.1)


def _boxed(part: Said, room: float) -> Iterator[Strip]:
    """Sentences that stop: a heavy rule beside them, the sign at the first."""
    ink = STOP if part.weight == "stop" else INK
    for n, line in enumerate(part.lines):
        lines = lines_of(line, REGULAR, BODY, room - SIGN - 8)
        yield _beside_a_rule(lines, ink, part.weight if n == 0 else "")
    yield air(2)


def _beside_a_rule(lines: list[str], ink: Color, sign: str) -> Strip:
    height = max(len(lines) * LINE, 14.0 if sign else 0) + 2.4

    def draw(canvas: Canvas, x: float, y: float) -> None:
        canvas.setFillColor(ink)
        canvas.rect(x, y - height, 2.4, height, stroke=0, fill=1)
        if sign:
            _sign(canvas, sign, x + 7, y - 1)
        canvas.setFillColor(INK)
        canvas.setFont(REGULAR, BODY)
        for n, line in enumerate(lines):
            canvas.drawString(x + SIGN + 8, y - BODY - 1.5 - n * LINE, line)

    return Strip(height, draw)
