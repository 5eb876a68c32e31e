"""What a 203 dpi label printer would burn: pages as black and white dots, and the symbols found on them."""

from dataclasses import dataclass

import pypdfium2
import zxingcpp
from PIL import Image, ImageOps

from trace.labels.layouts import Layout

DOTS_PER_POINT = 8 * 25.4 / 72  # eight dots to the millimetre, "203 dpi" in the trade
QR = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)


@dataclass(frozen=True)
class Seen:
    """A symbol measured in the picture: its text, dark box, dots to a module, modules to a side, and cell."""

    text: str
    box: tuple[int, int, int, int]
    dots: int
    side: int
    cell: int


def pages(pdf: bytes) -> list[Image.Image]:
    """Every page at 203 dpi, each dot black or white: printer heads know no grey."""
    # A hair below the true scale, because the renderer rounds the page size up to the next dot.
    scale = DOTS_PER_POINT * (1 - 1e-6)
    document = pypdfium2.PdfDocument(pdf)
    try:
        out = []
        for page in document:
            grey = page.render(scale=scale, grayscale=True).to_pil().convert("L")
            out.append(grey.point(lambda level: 255 if level >= 128 else 0))
            page.close()
        return out
    finally:
        document.close()


def texts(pdf: bytes) -> list[str]:
    """The text of every page, as a viewer would copy it."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        out = []
        for page in document:
            text_page = page.get_textpage()
            out.append(text_page.get_text_range())
            text_page.close()
            page.close()
        return out
    finally:
        document.close()


def ink(picture: Image.Image) -> tuple[int, int, int, int] | None:
    """Box round all dark dots, or None when there are none."""
    return ImageOps.invert(picture).getbbox()


def symbols(page: Image.Image, layout: Layout) -> list[Seen]:
    """All symbols of a page, found by an independent reader and then measured dot by dot."""
    found = zxingcpp.read_barcodes(page, formats=QR, try_invert=False, try_downscale=False)
    return [_measured(page, layout, symbol) for symbol in found]


def _measured(page: Image.Image, layout: Layout, symbol: zxingcpp.Barcode) -> Seen:
    corners = [
        (p.x, p.y)
        for p in (
            symbol.position.top_left,
            symbol.position.top_right,
            symbol.position.bottom_left,
            symbol.position.bottom_right,
        )
    ]
    slack = 3  # the reader's corners are good to a dot or two; all sides of a symbol have dark modules
    left, top = min(x for x, _ in corners) - slack, min(y for _, y in corners) - slack
    right, bottom = max(x for x, _ in corners) + slack, max(y for _, y in corners) + slack
    inner = ink(page.crop((left, top, right, bottom)))
    assert inner is not None
    box = (left + inner[0], top + inner[1], left + inner[2], top + inner[3])
    # The corner of a finder pattern is seven dark modules in a row.
    column = max(box[0], 0)
    run = 0
    turned = symbol.position.top_left.y > symbol.position.top_right.y + 8  # text runs upwards
    x, y = (column, box[3] - 1) if turned else (column, box[1])
    while page.getpixel((x + run, y)) == 0:
        run += 1
    assert run % 7 == 0, "a module is no whole number of dots"
    dots = run // 7
    assert (box[2] - box[0]) % dots == 0
    cell_w, cell_h = (round(8 * mm) for mm in layout.label_mm)
    origin_x, origin_y = (round(8 * mm) for mm in layout.origin_mm)
    cell = (box[1] - origin_y) // cell_h * layout.columns + (box[0] - origin_x) // cell_w
    return Seen(symbol.text, box, dots, (box[2] - box[0]) // dots, cell)


def cell_box(layout: Layout, cell: int) -> tuple[int, int, int, int]:
    """Edges of a label on its page, in dots."""
    row, column = divmod(cell, layout.columns)
    w, h = (round(8 * mm) for mm in layout.label_mm)
    x, y = round(8 * layout.origin_mm[0]) + column * w, round(8 * layout.origin_mm[1]) + row * h
    return (x, y, x + w, y + h)
