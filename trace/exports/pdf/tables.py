"""A table as strips: one a row, its head again on every page, its count at the end."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from itertools import islice

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from reportlab.pdfgen.canvas import Canvas

from trace.exports.paper import Cell, Column, Row, Table
from trace.exports.pdf.ink import BODY, BOLD, HAIR, INK, LEADING, REGULAR, RULE, SMALL, SOFT, lines_of, width, words
from trace.exports.pdf.strips import Strip

SIZE = BODY - 0.5
LEAST = 6.8  # the smallest size of type
APART = 7.0
MARK = 5.6  # of the small square beside certain and may
MOST_LINES = 40  # of a row on one page; the rest of it follows as a row of its own
LOOKED_AT = 500  # rows by which the columns' widths are chosen
LONG = 12  # from so many rows on a list says at its end that it ends
RIGHT_ALIGNED = ("number", "count")


@dataclass(frozen=True, slots=True)
class Fit:
    """How a table is set: which columns stand on paper, how wide each, and the size of type."""

    shown: tuple[int, ...]
    columns: tuple[Column, ...]
    widths: tuple[float, ...]
    size: float
    room: float

    @property
    def line(self) -> float:
        return self.size * LEADING

    def font(self, at: int) -> str:
        """What a row is about stands first and in bold, but for a time or a number."""
        return BOLD if at == 0 and self.columns[0].kind == "text" else REGULAR


def rows(table: Table, room: float, step: Callable[[], None]) -> Iterator[Strip]:
    """Head, rows and end of a table, in the columns that stand on paper."""
    if not len(table.rows):
        yield _line_of(table.empty or _("none recorded"))
        return
    fit = fitted(table, room)
    head = _head(fit)
    yield head
    for row in map(table.on_paper, table.rows):
        step()
        yield from _row([row[n] for n in fit.shown], fit, head)
    if len(table.rows) >= LONG:
        said_of = ngettext("%(n)d row. End of list.", "%(n)d rows. End of list.", len(table.rows))
        yield _line_of(said_of % {"n": len(table.rows)})


def fitted(table: Table, room: float) -> Fit:
    """Each column as wide as its longest word, and what is left shared out by `wide` among those that still have
    something to put into it. Where the longest words do not fit beside each other, all type is smaller."""
    looked = [table.on_paper(row) for row in islice(table.rows, LOOKED_AT)]
    part = len(looked) < len(table.rows)
    shown = tuple(n for n in table.shown if part or any(row[n] != "" and row[n] is not False for row in looked))
    columns = tuple(table.columns[n] for n in shown)
    free = room - APART * (len(columns) - 1)
    size = SIZE
    needs = _needs(looked, shown, columns, size)
    over = sum(word for word, _cell in needs) / free
    if over > 1:
        size = max(LEAST, SIZE / over)
        needs = _needs(looked, shown, columns, size)
    return Fit(shown, columns, tuple(_widths(needs, columns, free)), size, room)


def _widths(needs: Sequence[tuple[float, float]], columns: Sequence[Column], free: float) -> list[float]:
    least = [min(word, free * 0.4) for word, _cell in needs]
    if sum(least) > free:
        return [free * one / sum(least) for one in least]
    shares = [column.wide for column in columns]
    filled = _shared_out(least, [cell for _word, cell in needs], shares, free - sum(least))
    # What nobody needs is air, by the same shares.
    air = max(0.0, free - sum(filled))
    return [wide + air * share / sum(shares) for wide, share in zip(filled, shares, strict=True)]


def _shared_out(widths: list[float], most: list[float], shares: list[float], left: float) -> list[float]:
    """Widths with `left` shared out among those that are not yet as wide as their `most`."""
    waiting = [n for n, wide in enumerate(widths) if most[n] - wide > 0.01]
    while waiting and left > 0.01:
        all_shares = sum(shares[n] for n in waiting)
        given = {n: min(most[n] - widths[n], left * shares[n] / all_shares) for n in waiting}
        widths = [wide + given.get(n, 0.0) for n, wide in enumerate(widths)]
        left -= sum(given.values())
        waiting = [n for n in waiting if most[n] - widths[n] > 0.01]
    return widths


def _needs(
    looked: Sequence[Row], shown: Sequence[int], columns: Sequence[Column], size: float
) -> list[tuple[float, float]]:
    """For each column the width of its longest word, and of its longest cell."""
    found = []
    for at, (n, column) in enumerate(zip(shown, columns, strict=True)):
        font = BOLD if at == 0 and column.kind == "text" else REGULAR
        word, cell = _extent(_title(column), REGULAR, SMALL, 0.0)
        for row in looked:
            longest, whole = _extent(said(row[n], column), font, size, _indent(row[n], column))
            if column.kind == "time":
                longest = width(_day_of(said(row[n], column)), font, size) + 0.1
            word, cell = max(word, longest), max(cell, whole)
        found.append((word, cell))
    return found


def _extent(text: str, font: str, size: float, indent: float) -> tuple[float, float]:
    lines = words(text).splitlines()
    longest = max((width(word, font, size) for line in lines for word in line.split()), default=0.0)
    whole = max((width(line, font, size) for line in lines), default=0.0)
    return longest + indent + 0.1, whole + indent + 0.1


def _title(column: Column) -> str:
    return f"{column.title}, {column.unit}" if column.unit else column.title


def _indent(cell: Cell, column: Column) -> float:
    return MARK + 4 if column.kind == "verdict" and cell in ("certain", "may") else 0.0


def _day_of(moment: str) -> str:
    """The day of a time as it is said, which is never broken."""
    return moment.rpartition(" ")[0]


def _line_of(text: str) -> Strip:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        canvas.setFillColor(SOFT)
        canvas.setFont(REGULAR, SMALL)
        canvas.drawString(x, y - SMALL - 2, words(text))

    return Strip(SMALL * LEADING + 4, draw)


def _head(fit: Fit) -> Strip:
    cells = [lines_of(_title(c), REGULAR, SMALL, wide) for c, wide in zip(fit.columns, fit.widths, strict=True)]
    height = max(map(len, cells)) * SMALL * LEADING + 3

    def draw(canvas: Canvas, x: float, y: float) -> None:
        canvas.setFillColor(SOFT)
        canvas.setFont(REGULAR, SMALL)
        low, at = y - height + 4, x
        for column, lines, wide in zip(fit.columns, cells, fit.widths, strict=True):
            for n, line in enumerate(reversed(lines)):
                _set(canvas, column, line, at, low + n * SMALL * LEADING, wide)
            at += wide + APART
        _rule(canvas, x, y - height + 1, fit.room, strong=True)

    return Strip(height, draw, keep=True)


def _rule(canvas: Canvas, x: float, y: float, room: float, *, strong: bool) -> None:
    canvas.setStrokeColor(RULE if strong else HAIR)
    canvas.setLineWidth(0.7 if strong else 0.45)
    canvas.setDash()
    canvas.line(x, y, x + room, y)


def _set(canvas: Canvas, column: Column, text: str, x: float, y: float, wide: float) -> None:
    if column.kind in RIGHT_ALIGNED:
        canvas.drawRightString(x + wide, y, text)
    else:
        canvas.drawString(x, y, text)


def _row(cells: Sequence[Cell], fit: Fit, head: Strip) -> Iterator[Strip]:
    """One row; one that is longer than a page goes on in the next."""
    texts = [_lines(n, cell, fit) for n, cell in enumerate(cells)]
    longest = max(map(len, texts))
    for first in range(0, longest, MOST_LINES):
        part = [lines[first : first + MOST_LINES] for lines in texts]
        yield _piece(cells, part, fit, head, last=first + MOST_LINES >= longest)


def _lines(n: int, cell: Cell, fit: Fit) -> list[str]:
    column = fit.columns[n]
    text, room = said(cell, column), fit.widths[n] - _indent(cell, column)
    if column.kind == "time" and cell is not None and width(text, fit.font(n), fit.size) > room:
        day, _blank, hour = text.rpartition(" ")
        return [day, hour]
    return lines_of(text, fit.font(n), fit.size, room)


def _piece(cells: Sequence[Cell], texts: Sequence[list[str]], fit: Fit, head: Strip, *, last: bool) -> Strip:
    height = max(map(len, texts)) * fit.line + 3.2

    def draw(canvas: Canvas, x: float, y: float) -> None:
        at = x
        for n, (cell, lines, column, wide) in enumerate(zip(cells, texts, fit.columns, fit.widths, strict=True)):
            indent = _mark(canvas, cell, at, y - fit.size) if column.kind == "verdict" else 0.0
            canvas.setFillColor(SOFT if cell is None else INK)
            canvas.setFont(fit.font(n), fit.size)
            for row, line in enumerate(lines):
                _set(canvas, column, line, at + indent, y - fit.size - 1 - row * fit.line, wide)
            at += wide + APART
        if last:
            _rule(canvas, x, y - height + 0.6, fit.room, strong=False)

    return Strip(height, draw, head=head)


def _mark(canvas: Canvas, cell: Cell, x: float, y: float) -> float:
    """Solid beside certain, dashed beside may; how far the word stands from the cell's edge."""
    if cell not in ("certain", "may"):
        return 0.0
    canvas.setStrokeColor(INK)
    canvas.setFillColor(INK)
    canvas.setLineWidth(0.9)
    canvas.setDash(*((1.6, 1.2) if cell == "may" else ()))
    canvas.rect(x + 0.5, y - 0.6, MARK, MARK, stroke=1, fill=1 if cell == "certain" else 0)
    canvas.setDash()
    return MARK + 4


def said(cell: Cell, column: Column) -> str:
    """A cell as it is read; a flag is a word or nothing."""
    if cell is None:
        return column.none or _("not recorded")
    if isinstance(cell, bool):
        return _("yes") if cell else ""
    if isinstance(cell, datetime):
        return f"{timezone.localtime(cell):%-d %b %Y %H:%M}"
    if isinstance(cell, date):
        return f"{cell:%-d %b %Y}"
    if column.kind == "verdict":
        return {"certain": _("certain"), "may": _("may"), "cannot": _("cannot")}.get(str(cell), str(cell))
    return f"{cell:f}" if isinstance(cell, Decimal) else str(cell)


