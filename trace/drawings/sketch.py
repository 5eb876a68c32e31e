"""Small drawings of one thing: what a pack, a rack or an arm carries; a scale's checks; till when training holds."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from django.utils.translation import gettext as _

from trace.drawings.shapes import Block, Line, Words
from trace.drawings.words import shorten

Thing = Literal["hull", "pack", "mould", "plate", "arm", "box"]
Frame = Literal["pack", "lorry", "arm", "oven", "rack", "floor", "none"]
# Each around its own middle: outline, inner lines.
SHAPES: dict[Thing, tuple[str, str]] = {
    "hull": ("M-52 0C-36 -18 36 -18 52 0C36 14 -36 14 -52 0Z", "M-40 0H40"),
    "pack": ("M-40 -20H40V20H-40Z", "M-40 -8H40M-14 -20V20M14 -20V20"),
    "mould": ("M-50 2C-36 -18 36 -18 50 2C36 18 -36 18 -50 2Z", "M-58 2H58M-58 -4V8M58 -4V8"),
    "plate": ("M-52 -15H52V15H-52Z", "M-46 -9h3M43 -9h3M-46 9h3M43 9h3M-30 0H30"),
    "box": ("M-26 -20H26V20H-26Z", "M-26 -12H26M-8 -20V-12H8V-20"),
    "arm": ("M-46 -6H46V6H-46Z", "M-24 -18V18M24 -18V18M-56 0H-46"),
}
CELL_HIGH, LEAST_CELL, MARGIN = 84.0, 160.0, 16.0
WIDE, NARROW = 820.0, 384.0
MOST = 60  # cells drawn; the table beside names all
SIGN = 5.0


@dataclass(frozen=True, slots=True)
class Cell:
    """One thing of a row: its words, and whether it is there, open, or marked because it is held; `thing` where it is
    another than the rest."""

    label: str
    below: str = ""
    standing: Literal["done", "open", "marked"] = "done"
    thing: Thing | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """A thing put on the sheet by `transform`; `kind` is the class of its outline."""

    transform: str
    outline: str
    detail: str
    kind: str


@dataclass(frozen=True, slots=True)
class Sketch:
    """Plain shapes of one drawing; `description` is all of it as a sentence."""

    width: float
    height: float
    parts: tuple[Part, ...]
    blocks: tuple[Block, ...]
    lines: tuple[Line, ...]
    words: tuple[Words, ...]
    description: str


@dataclass(frozen=True, slots=True)
class SketchPair:
    """The same drawing for a desk and for a telephone."""

    wide: Sketch
    narrow: Sketch


@dataclass(frozen=True, slots=True)
class Check:
    """One check-weight: the plant day, how far off it showed, and whether that passed."""

    day: date
    off: Decimal
    passed: bool


@dataclass(frozen=True, slots=True)
class Until:
    """Something that holds until a day; None: nobody recorded until when."""

    label: str
    day: date | None


def rows_of(thing: Thing, cells: Sequence[Cell], frame: Frame, title: str) -> SketchPair:
    """Things side by side in what holds them; one that is open is dashed, one that is held is barred."""
    return SketchPair(_rows_of(thing, cells, frame, title, WIDE), _rows_of(thing, cells, frame, title, NARROW))


def _rows_of(thing: Thing, cells: Sequence[Cell], frame: Frame, title: str, width: float) -> Sketch:
    across = max(1, int((width - 2 * MARGIN) // LEAST_CELL))
    cell = (width - 2 * MARGIN) / across
    shown = cells[:MOST]
    high = max(1, -(-len(shown) // across)) * CELL_HIGH + 2 * MARGIN
    parts, words, lines = [], [], list(_frame(frame, width, high))
    for n, one in enumerate(shown):
        x = MARGIN + (n % across + 0.5) * cell
        y = MARGIN + (n // across) * CELL_HIGH + 26
        outline, detail = SHAPES[one.thing or thing]
        kind = {"done": "outline", "open": "layer-missing", "marked": "outline"}[one.standing]
        parts.append(Part(f"translate({x:.1f} {y:.1f})", outline, "" if one.standing == "open" else detail, kind))
        if one.standing == "marked":
            lines.append(Line(f"M{x - 30:.1f} {y + 20:.1f}L{x + 30:.1f} {y - 20:.1f}", "mark-bar"))
        label_kind = "label-stop" if one.standing == "marked" else "label-strong"
        words.append(Words(round(x, 1), round(y + 36, 1), shorten(one.label, cell - 6, 14), "middle", label_kind))
        words.append(Words(round(x, 1), round(y + 52, 1), shorten(one.below, cell - 6, 12.5), "middle", "label-soft"))
    more = len(cells) - len(shown)
    said = ", ".join(" ".join(part for part in (one.label, one.below) if part) for one in shown)
    said += _(" and %(n)d more") % {"n": more} if more else ""
    foot = 24.0 if frame == "lorry" else 4.0
    return Sketch(width, round(high + foot, 1), tuple(parts), (), tuple(lines), tuple(words), f"{title}: {said}.")


def _frame(frame: Frame, width: float, high: float) -> tuple[Line, ...]:
    box = f"M4 4H{width - 4:.1f}V{high:.1f}H4Z"
    if frame == "pack":
        return (Line(box, "edge"), Line(f"M4 14H{width - 4:.1f}", "rule"))
    if frame == "lorry":
        wheels = "".join(f"M{width * at:.1f} {high + 10:.1f}a9 9 0 1 0 0.1 0" for at in (0.15, 0.22, 0.86))
        return (Line(box, "edge"), Line(wheels, "edge"))
    if frame == "oven":
        return (Line(box, "edge"), Line(f"M10 10H{width - 10:.1f}V{high - 6:.1f}H10Z", "rule"))
    if frame in ("rack", "floor"):
        return tuple(_shelves(frame, width, high))
    if frame == "arm":
        return (Line(f"M0 {MARGIN + 4:.1f}H{width:.1f}M0 {MARGIN - 4:.1f}V{MARGIN + 12:.1f}", "edge"),)
    return ()


def _shelves(frame: Frame, width: float, high: float) -> Iterator[Line]:
    """What things stand on: the beams of a rack between its uprights, or the floor, under each row."""
    rows = round((high - 2 * MARGIN) / CELL_HIGH)
    for n in range(rows):
        y = MARGIN + n * CELL_HIGH + 47
        yield Line(f"M12 {y:.1f}H{width - 12:.1f}", "edge")
    if frame == "rack":
        for x in (4.0, width - 12):
            yield Line(f"M{x:.1f} 4H{x + 8:.1f}V{high:.1f}H{x:.1f}Z", "edge")


def checks_over_time(checks: Sequence[Check], tolerance: Decimal | None, title: str) -> SketchPair:
    """Check-weights in turn: a disc for one that passed, a cross for one that failed, the tolerance dashed."""
    return SketchPair(_checks(checks, tolerance, title, WIDE), _checks(checks, tolerance, title, NARROW))


def _checks(checks: Sequence[Check], tolerance: Decimal | None, title: str, width: float) -> Sketch:
    shown = checks[-40:] if width > NARROW else checks[-16:]
    largest = max([abs(one.off) for one in shown] + [tolerance or Decimal(0), Decimal("0.01")])
    left, right, middle, reach = 74.0, width - 16, 96.0, 66.0
    step = (right - left) / max(1, len(shown))

    def at(off: Decimal) -> float:
        return middle - float(off / largest) * reach

    lines = [Line(f"M{left:.1f} {middle:.1f}H{right:.1f}", "rule")]
    words = [Words(left - 8, middle + 5, "0 kg", "end", "label")]
    if tolerance:
        for sign in (1, -1):
            y = at(sign * tolerance)
            lines.append(Line(f"M{left:.1f} {y:.1f}H{right:.1f}", "leader-may"))
            words.append(Words(left - 8, y + 5, f"{'+' if sign > 0 else '−'}{tolerance} kg", "end", "label-soft"))
    for n, one in enumerate(shown):
        x, y = left + (n + 0.5) * step, at(one.off)
        if one.passed:
            half = f"a{SIGN} {SIGN} 0 1 0"
            lines.append(Line(f"M{x - SIGN:.1f} {y:.1f}{half} {2 * SIGN} 0{half} {-2 * SIGN} 0Z", "disc"))
        else:
            lines.append(Line(f"M{x - 7:.1f} {y - 7:.1f}l14 14M{x - 7:.1f} {y + 7:.1f}l14 -14", "mark-bar"))
            words.append(Words(round(x, 1), round(y - 11, 1), _("failed"), "middle", "label-stop"))
    if shown:
        words.append(Words(left, 186, f"{shown[0].day:%-d %b %Y}", "start", "label-soft"))
        words.append(Words(right, 186, f"{shown[-1].day:%-d %b %Y}", "end", "label-soft"))
    said = ", ".join(
        f"{one.day:%-d %b %Y} {one.off:+} kg {_('passed') if one.passed else _('failed')}" for one in shown
    ) or _("none recorded")
    return Sketch(width, 194.0, (), (), tuple(lines), tuple(words), f"{title}: {said}.")


def until_days(spans: Sequence[Until], today: date, title: str) -> SketchPair:
    """How long each holds from today on one scale: a bar to its day, dashed and empty where it has ended."""
    return SketchPair(_until(spans, today, title, WIDE), _until(spans, today, title, NARROW))


def _until(spans: Sequence[Until], today: date, title: str, width: float) -> Sketch:
    left, right = (200.0, width - 130) if width > NARROW else (112.0, width - 104)
    longest = max([(one.day - today).days for one in spans if one.day] + [30])
    blocks, words, said = [], [], []
    for n, one in enumerate(spans):
        y = 10 + 30.0 * n
        words.append(Words(4, y + 14, shorten(one.label, left - 8, 14), "start", "label-strong"))
        days = (one.day - today).days if one.day else 0
        if days > 0:
            blocks.append(Block(left, y + 3, round((right - left) * days / longest, 1), 12, "", "bar-certain"))
        else:
            blocks.append(Block(left, y + 3, right - left, 12, "", "bar-may"))
        text = f"{one.day:%-d %b %Y}" if one.day else _("not recorded")
        text = _("ended %(day)s") % {"day": text} if one.day and days <= 0 else text
        words.append(Words(width - 2, y + 14, text, "end", "label"))
        said.append(f"{one.label}: {text}")
    high = 10 + 30.0 * len(spans)
    lines = (Line(f"M{left:.1f} 4V{high:.1f}", "tick"),)
    words.append(Words(left, high + 16, _("today"), "start", "label-soft"))
    return Sketch(width, high + 22, (), tuple(blocks), lines, tuple(words), f"{title}: {'; '.join(said)}.")
