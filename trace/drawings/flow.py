"""A flow: what came together on the left, where it went on the right, each stream as wide as its amount.

The widths of all streams are to one scale, so that what is missing is seen beside what is there. Common practice for
balances of mass and energy.
"""

from collections.abc import Sequence

from trace.drawings.shapes import Anchor, Band, FlowDrawing, FlowPair, Line, Stream, Words
from trace.drawings.words import shorten

NARROW = 450.0
# A stream is never thinner than can be seen, and each has room for two lines of words.
THINNEST, ROW, TOP = 2.0, 40.0, 30.0


def flow_drawings(came: Sequence[Band], went: Sequence[Band], *, title: str, total: str) -> FlowPair:
    """The flow for a sheet: for a desk and paper, and for a telephone. `title` names what it is the flow of, `total`
    how much came."""
    wide, narrow = (_flow(came, went, title=title, total=total, width=width) for width in (860.0, 384.0))
    return FlowPair(wide, narrow)


def _flow(came: Sequence[Band], went: Sequence[Band], *, title: str, total: str, width: float) -> FlowDrawing:
    small = width < NARROW
    whole = max(sum(b.amount for b in came), sum(b.amount for b in went), 0.0)
    high = 220.0 if small else 260.0
    scale = high / whole if whole else 0.0
    rows = [max(ROW, b.amount * scale + 6) for b in went]
    left = [max(ROW, b.amount * scale + 6) for b in came]
    height = TOP + max(sum(rows), sum(left), high) + 8
    words_left = 100.0 if small else 190.0
    words_right = 148.0 if small else 300.0
    bar = (words_left + (14 if small else 110), 10.0)
    ends = width - words_right
    streams: list[Stream] = []
    words: list[Words] = [
        Words(bar[0] + bar[1] / 2, 18, shorten(f"{title}, {total}", width, 14), "middle", "label-strong")
    ]
    middle = TOP + (height - TOP - 8 - whole * scale) / 2
    at, y = middle, TOP + (height - TOP - 8 - sum(left)) / 2
    for band, row in zip(came, left, strict=True):
        thick = max(band.amount * scale, THINNEST)
        mid = y + row / 2
        streams.append(_stream((words_left, mid - thick / 2), (bar[0], at), thick, band))
        words += _words(band, words_left - 8, mid, words_left - 8, "end", small=small)
        at, y = at + band.amount * scale, y + row
    at, y = middle, TOP + (height - TOP - 8 - sum(rows)) / 2
    for band, row in zip(went, rows, strict=True):
        thick = max(band.amount * scale, THINNEST)
        mid = y + row / 2
        streams.append(_stream((bar[0] + bar[1], at), (ends, mid - thick / 2), thick, band))
        words += _words(band, ends + 8, mid, words_right - 8, "start", small=small)
        at, y = at + band.amount * scale, y + row
    lines = (Line(f"M{bar[0]:.1f} {middle:.1f}h{bar[1]}v{max(whole * scale, THINNEST):.1f}h-{bar[1]}Z", "flow-bar"),)
    return FlowDrawing(width, round(height, 1), tuple(streams), lines, tuple(words), _description(title, came, went))


def _stream(start: tuple[float, float], end: tuple[float, float], thick: float, band: Band) -> Stream:
    """A ribbon from the left edge `start` to the right edge `end` (its upper corners), as thick at both."""
    (x0, y0), (x1, y1) = start, end
    mid = (x0 + x1) / 2
    d = (
        f"M{x0:.1f} {y0:.1f}C{mid:.1f} {y0:.1f} {mid:.1f} {y1:.1f} {x1:.1f} {y1:.1f}v{thick:.1f}"
        f"C{mid:.1f} {y1 + thick:.1f} {mid:.1f} {y0 + thick:.1f} {x0:.1f} {y0 + thick:.1f}Z"
    )
    return Stream(d, "band-missing" if band.missing else "band", "" if band.missing else band.fill)


def _words(band: Band, x: float, mid: float, room: float, where: Anchor, *, small: bool) -> list[Words]:
    label = band.short if small and band.short else band.label
    first = Words(x, mid - 2, shorten(label, room, 14), where, "label-strong" if band.missing else "label")
    return [first, Words(x, mid + 14, shorten(band.text, room, 12.5), where, "label-soft")]


def _description(title: str, came: Sequence[Band], went: Sequence[Band]) -> str:
    left = "; ".join(f"{band.label}: {band.text}" for band in came)
    right = "; ".join(f"{band.label}: {band.text}" for band in went)
    return f"{title}. {left}. {right}."
