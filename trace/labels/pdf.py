"""Labels as one PDF: pages of the stock's size, each symbol one filled path on the printer's dots."""

from collections.abc import Sequence
from io import BytesIO

from django.utils.translation import gettext as _
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from trace.labels.arrange import Drawing, SymbolAt, arrange
from trace.labels.layouts import DOTS_PER_MM, Face, Layout
from trace.labels.symbol import runs

_DOT = mm / DOTS_PER_MM


def draw(faces: Sequence[Face], layout: Layout, label_host: str = "") -> bytes:
    """One label a face, in order, as PDF bytes; the same bytes for the same faces.

    The first label of every A4 sheet, or of a roll, carries the ruler. Raises CodeError for a code that is
    none, ValueError for a label host that does not fit or when there is nothing to print.
    """
    if not faces:
        raise ValueError(_("There is no label to print. Nothing was chosen. Choose at least one thing."))
    page_w, page_h = layout.page_mm
    out = BytesIO()
    canvas = Canvas(out, pagesize=(page_w * mm, page_h * mm), pageCompression=1, invariant=1)
    canvas.setTitle(layout.name)
    # Viewers that obey this print at 100 % unless somebody asks otherwise.
    canvas.setViewerPreference("PrintScaling", "None")
    for n, face in enumerate(faces):
        slot = n % layout.per_page
        if n and slot == 0:
            canvas.showPage()
        row, column = divmod(slot, layout.columns)
        left = layout.origin_mm[0] + column * layout.label_mm[0]
        top = layout.origin_mm[1] + row * layout.label_mm[1]
        canvas.saveState()
        canvas.translate(left * mm, (page_h - top) * mm)
        ruler = n == 0 or (slot == 0 and layout.per_page > 1)
        drawing = arrange(face, layout, label_host, ruler=ruler)
        if face.orientation == "turned":
            canvas.translate(0, -layout.label_mm[1] * mm)
            canvas.rotate(90)
        _paint(canvas, drawing)
        canvas.restoreState()
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _paint(canvas: Canvas, drawing: Drawing) -> None:
    """Draw one label below and to the right of the origin."""
    for symbol in drawing.symbols:
        _paint_symbol(canvas, symbol)
    for bar in drawing.bars:
        canvas.rect(bar.x * mm, -(bar.y + bar.h) * mm, bar.w * mm, bar.h * mm, stroke=0, fill=1)
    for text in drawing.texts:
        canvas.setFont(text.font, text.size)
        canvas.drawString(text.x * mm, -text.baseline * mm, text.text)


def _paint_symbol(canvas: Canvas, symbol: SymbolAt) -> None:
    canvas.saveState()
    canvas.translate(symbol.x * _DOT, -symbol.y * _DOT)
    canvas.scale(symbol.dots * _DOT, symbol.dots * _DOT)  # one unit is one module
    path = canvas.beginPath()
    for x, y, length in runs(symbol.modules):
        path.rect(x, -y - 1, length, 1)
    canvas.drawPath(path, stroke=0, fill=1)
    canvas.restoreState()
