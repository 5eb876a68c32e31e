"""The sheets of a paper: frame, running title block, and the strips between them.

Pages are counted as they are made; how many there were is written into each of them at the end.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import BinaryIO

from django.utils import timezone
from django.utils.translation import gettext as _
from reportlab import rl_config
from reportlab.pdfbase.pdfdoc import PDFArray, PDFBase85Encode, PDFName, PDFStream, PDFZCompress
from reportlab.pdfgen.canvas import Canvas

from trace.exports.paper import Paper
from trace.exports.pdf.ink import (
    BODY,
    BOLD,
    INK,
    INSET_X,
    INSET_Y,
    LEADING,
    MARGIN,
    PAGE_HEIGHT,
    PAGE_WIDTH,
    REGULAR,
    SMALL,
    SOFT,
    TITLE,
    lines_of,
    width,
    words,
)
from trace.exports.pdf.strips import Strip
from trace.sheets.contracts import grouped

LEFT, RIGHT = MARGIN, PAGE_WIDTH - MARGIN
INNER = RIGHT - LEFT - 2 * INSET_X  # the width that strips have
TOP = PAGE_HEIGHT - MARGIN - INSET_Y
HEAVY, THIN = 1.4, 0.7
# Shares of the title block's cells: what it is, number, as known on, printed, sheet.
CELLS = (2.3, 0.75, 1.25, 1.3, 0.75)
PAD_X, PAD_Y = 5.5, 3.5
COUNT = "sheets"

# Its heading and its lines, broken to the cell's width; typeface and size of the lines.
Cell = tuple[list[str], list[str], str, float]


@dataclass(frozen=True, slots=True)
class Stamp:
    """How one copy came to be: its number (“” before it is kept), when and by whom, and the fingerprint of its data."""

    printed: datetime
    by: str
    fingerprint: str
    number: str = ""


def said(moment: datetime) -> str:
    """A moment in the plant's own time."""
    return f"{timezone.localtime(moment):%-d %b %Y %H:%M}"


def in_fours(digest: str) -> str:
    """A digest as it is read aloud."""
    return " ".join(digest[n : n + 4] for n in range(0, len(digest), 4))


def end_page(canvas: Canvas) -> None:
    """End the page and pack what is drawn on it, as the library does with all of them at the end: the same bytes, but a
    paper of thousands of pages is not kept unpacked meanwhile."""
    canvas.showPage()
    page = canvas._doc.Pages.pages[-1]
    content = page.stream
    names: list[PDFName] = []
    for packing in (PDFZCompress, PDFBase85Encode) if rl_config.useA85 else (PDFZCompress,):
        content = packing.encode(content)
        names.insert(0, PDFName(packing.pdfname))
    packed = PDFStream(content=content)
    packed.dictionary["Filter"] = PDFArray(names)
    packed.__Comment__ = "page stream"
    page.Contents, page.stream = packed, None


class Sheets:
    """Writes pages to `out` as they fill; nothing but the last one is kept open."""

    def __init__(self, paper: Paper, stamp: Stamp, out: BinaryIO) -> None:
        self.paper, self.stamp = paper, stamp
        # invariant: no clock and no chance in the file, so that equal papers are equal bytes.
        self.canvas = Canvas(out, pagesize=(PAGE_WIDTH, PAGE_HEIGHT), pageCompression=1, invariant=1)
        self.canvas.setTitle(words(f"{paper.what}: {paper.title}"))
        self.canvas.setAuthor(words(paper.plant))
        self.canvas.setSubject(words(_("as known on %(when)s") % {"when": said(paper.as_known_on)}))
        self.canvas.setCreator("Lotwright")
        self.canvas.setViewerPreference("PrintScaling", "None")
        self.foot = self._foot()
        self.page = 0
        self.y = 0.0
        self._next()

    @property
    def room(self) -> float:
        """Points left on this page."""
        return self.y - self.bottom

    @property
    def bottom(self) -> float:
        return MARGIN + sum(self.foot) + 6

    def place(self, strips: Iterable[Strip]) -> None:
        """Draw strips one below another, on as many pages as they need; one that is higher than a page is drawn on a
        page of its own."""
        kept: list[Strip] = []
        for strip in strips:
            kept.append(strip)
            if not strip.keep:
                self._group(kept)
                kept = []
        if kept:
            self._group(kept)

    def _group(self, strips: list[Strip]) -> None:
        if sum(strip.height for strip in strips) > self.room and self.y < TOP:
            self._next()
            head = strips[0].head
            if head is not None and head not in strips:
                self._draw(head)
        for strip in strips:
            self._draw(strip)

    def _draw(self, strip: Strip) -> None:
        if strip.mark:
            name = f"part {len(self.marks)}"
            self.marks.append(strip.mark)
            self.canvas.bookmarkHorizontal(name, 0, self.y + 12)
            self.canvas.addOutlineEntry(words(strip.mark), name, level=0)
        strip.draw(self.canvas, LEFT + INSET_X, self.y)
        self.y -= strip.height

    def _next(self) -> None:
        if self.page:
            end_page(self.canvas)
        else:
            self.marks: list[str] = []
        self.page += 1
        self.y = TOP
        self._frame()

    def end(self) -> int:
        """Close the last page and the file; how many pages there are."""
        end_page(self.canvas)
        canvas = self.canvas
        canvas.beginForm(COUNT, 0, -4, 40, 12)
        canvas.setFillColor(INK)
        canvas.setFont(BOLD, TITLE)
        canvas.drawString(0, 0, str(self.page))
        canvas.endForm()
        canvas.save()
        return self.page

    def _foot(self) -> tuple[float, float]:
        """Heights of the title block's row of cells and of the lines below it."""
        cells = max(len(head) * SMALL + max(1, len(lines)) * size * 0.9 for head, lines, _font, size in self._cells())
        return 2 * PAD_Y + cells * LEADING, 2 * PAD_Y + len(self._small_print()) * SMALL * LEADING - 1

    def _cell(self, n: int) -> float:
        return (RIGHT - LEFT) * CELLS[n] / sum(CELLS)

    def _small_print(self) -> list[str]:
        whose = " ".join(part for part in (self.paper.caution, self.paper.plant and f"{self.paper.plant}.") if part)
        proof = _("Fingerprint of its data, SHA-256: %(digest)s") % {"digest": in_fours(self.stamp.fingerprint)}
        return [line for text in (whose, proof) for line in lines_of(text, REGULAR, SMALL, RIGHT - LEFT - 2 * PAD_X)]

    def _frame(self) -> None:
        canvas, (cells, small) = self.canvas, self.foot
        top, middle, low = PAGE_HEIGHT - MARGIN, MARGIN + cells + small, MARGIN + small
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(HEAVY)
        canvas.rect(LEFT, MARGIN, RIGHT - LEFT, top - MARGIN, stroke=1, fill=0)
        canvas.line(LEFT, middle, RIGHT, middle)
        canvas.setLineWidth(THIN)
        canvas.line(LEFT, low, RIGHT, low)
        x = LEFT
        for n, cell in enumerate(self._cells()):
            if n:
                canvas.line(x, middle, x, low)
            self._in_cell(x + PAD_X, middle - PAD_Y, *cell)
            x += self._cell(n)
        canvas.setFillColor(SOFT)
        canvas.setFont(REGULAR, SMALL)
        for n, line in enumerate(self._small_print()):
            canvas.drawString(LEFT + PAD_X, low - PAD_Y - SMALL * (0.9 + n * LEADING), line)

    def _cells(self) -> list[Cell]:
        paper, stamp = self.paper, self.stamp
        known = [said(paper.as_known_on), _("%(n)s records") % {"n": grouped(paper.records)}]
        found: list[tuple[str, list[str], str, float]] = [
            (paper.what, [paper.title], BOLD, TITLE),
            (_("Number"), [stamp.number or "–"], REGULAR, BODY),
            (_("As known on"), known, REGULAR, BODY),
            (_("Printed"), [said(stamp.printed), stamp.by], REGULAR, BODY),
            (_("Sheet"), [], BOLD, TITLE),
        ]
        return [
            (
                lines_of(head, REGULAR, SMALL, self._cell(n) - 2 * PAD_X),
                [line for text in texts for line in lines_of(text, font, size, self._cell(n) - 2 * PAD_X)], font, size,
            )
            for n, (head, texts, font, size) in enumerate(found)
        ]  # fmt: skip

    def _in_cell(self, x: float, y: float, heads: list[str], lines: list[str], font: str, size: float) -> None:
        canvas = self.canvas
        canvas.setFillColor(SOFT)
        canvas.setFont(REGULAR, SMALL)
        for head in heads:
            canvas.drawString(x, y - SMALL * 0.9, head)
            y -= SMALL * LEADING
        canvas.setFillColor(INK)
        canvas.setFont(font, size)
        if not lines:
            before = words(_("%(page)d of") % {"page": self.page}) + " "
            canvas.drawString(x, y - size, before)
            canvas.saveState()
            canvas.translate(x + width(before, font, size), y - size)
            canvas.doForm(COUNT)
            canvas.restoreState()
        for line in lines:
            canvas.drawString(x, y - size, line)
            y -= size * LEADING * 0.9
