"""The wall cut through: layers to scale, outside on top, each with its material, kilograms and lots."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from trace.drawings.hatching import bubbles, hatch_lines
from trace.drawings.shapes import Block, Bubble, LayerFill, Line, WallPair, WallSection, Words
from trace.drawings.share_bars import share_bar
from trace.drawings.words import amount_range, shorten, words_width

HEAD, LOT, BLOCK_GAP = 22.0, 38.0, 10.0  # heights of a layer's first line, of each lot, and the air after it
TOP = 18.0
UNSURE = 30.0  # height of a layer whose thickness nobody recorded
NARROW = 450.0
DIMENSIONS = 60.0  # room for the dimension line and its figures
THINNEST, TALLEST, USUAL = 12.0, 320.0, 190.0
LARGEST = 24.0  # units a mm


@dataclass(frozen=True, slots=True)
class _Band:
    layer: LayerFill
    top: float
    bottom: float


def wall_section(layers: Sequence[LayerFill], *, width: float = 520.0) -> WallSection:
    """Draw the wall, one band a layer, all at one scale (the words beside it say the kilograms).

    The scale makes the wall about 190 units tall, the thinnest layer at least 12. A layer without a thickness
    is drawn with broken edges; a layer without a record is drawn dashed and empty.
    """
    strip = 96.0 if width < NARROW else 170.0
    left, right = DIMENSIONS, DIMENSIONS + strip
    text_left = right + 28
    bands = _bands(layers)
    head = HEAD + 18 if width < NARROW else HEAD  # material on a line of its own
    heights = [_words_height(band.layer, head) for band in bands]
    tall = max(bands[-1].bottom if bands else 0.0, sum(heights) - BLOCK_GAP)
    down = TOP + (tall - (bands[-1].bottom if bands else 0.0)) / 2
    fills: list[Block] = []
    foam: list[Bubble] = []
    lines: list[Line] = []
    words: list[Words] = []
    bars: list[Block] = []
    text_top = TOP + (tall - sum(heights) + BLOCK_GAP) / 2
    for n, (band, high) in enumerate(zip(bands, heights, strict=True)):
        layer, top, bottom = band.layer, band.top + down, band.bottom + down
        fills.append(
            Block(left, top, strip, bottom - top, "" if layer.missing else layer.colour, _fill_kind(layer))
        )
        if layer.missing:
            words.append(
                Words(left + strip / 2, (top + bottom) / 2 + 5, _("no record"), "middle", "label-strong")
            )
        elif layer.foam:
            foam += bubbles(left, top, strip, bottom - top)
        else:
            lines.append(Line(hatch_lines(left, top, strip, bottom - top, falling=n % 2 == 1), "hatch"))
        lines.append(Line(f"M{left - 18:.1f} {top:.1f}V{bottom:.1f}M{left - 23:.1f} {top:.1f}h10", "tick"))
        lines.append(Line(f"M{left - 23:.1f} {bottom:.1f}h10", "tick"))
        words.append(Words(left - 27, (top + bottom) / 2 + 4.5, _thickness(layer), "end", "label"))
        meet = text_top + 10
        lines.append(
            Line(
                f"M{right - 8:.1f} {(top + bottom) / 2:.1f}L{right + 12:.1f} {meet:.1f}H{text_left - 5:.1f}",
                "leader",
            )
        )
        _say_layer(layer, x=text_left, top=text_top, width=width, words=words, bars=bars)
        text_top += high
    if bands:
        top, bottom = bands[0].top + down, bands[-1].bottom + down
        words.append(Words(left - 27, bottom + 15, "mm", "end", "label-soft"))
        words.append(Words(left + 4, top - 4, _("outside"), "start", "label-soft"))
        lines.append(Line(_broken_edge(left, top, bottom) + _broken_edge(right, top, bottom), "edge"))
    return WallSection(
        width=width,
        height=round(TOP + tall + 20, 1),
        fills=tuple(fills),
        bubbles=tuple(foam),
        lines=tuple(lines),
        words=tuple(words),
        bars=tuple(bars),
        description=_description(layers),
    )


def wall_sections(layers: Sequence[LayerFill]) -> WallPair:
    """The section for a sheet: for a desk and paper, and for a telephone."""
    return WallPair(wall_section(layers, width=520.0), wall_section(layers, width=384.0))


def _bands(layers: Sequence[LayerFill]) -> list[_Band]:
    known = [float(x.thickness_mm) for x in layers if x.thickness_mm and not x.missing]
    scale = max(USUAL / sum(known), THINNEST / min(known)) if known else 1.0
    scale = min(scale, LARGEST, TALLEST / sum(known)) if known else scale
    bands: list[_Band] = []
    y = 0.0
    for layer in layers:
        high = float(layer.thickness_mm) * scale if layer.thickness_mm and not layer.missing else UNSURE
        bands.append(_Band(layer, y, y + high))
        y += high
    return bands


def _words_height(layer: LayerFill, head: float) -> float:
    return head + (0 if layer.missing else LOT * len(layer.lots)) + BLOCK_GAP


def _fill_kind(layer: LayerFill) -> str:
    if layer.missing:
        return "layer layer-missing"
    if any(lot.held for lot in layer.lots):
        return "layer layer-marked"
    return "layer" if layer.thickness_mm else "layer layer-unsure"


def _thickness(layer: LayerFill) -> str:
    if layer.missing or not layer.thickness_mm:
        return "?"
    return layer.thickness_words or str(layer.thickness_mm)


def _say_layer(
    layer: LayerFill, *, x: float, top: float, width: float, words: list[Words], bars: list[Block]
) -> None:
    """One layer's words and bars: name and kilograms, then each lot, certain solid, may dashed."""
    room = width - x
    kg = f"{layer.kg} kg" if layer.kg is not None and not layer.missing else _("no record")
    name, head = f"{layer.name}  {layer.material}", HEAD
    if width < NARROW:
        name, head = layer.name, HEAD + 18
        words.append(Words(x, top + 32, shorten(layer.material, room, 12.5), "start", "label-soft"))
    words.append(Words(x, top + 15, shorten(name, room - words_width(kg, 14), 14), "start", "label-strong"))
    words.append(Words(width, top + 15, kg, "end", "label-strong"))
    if layer.missing:
        return
    longest = max([lot.most for lot in layer.lots] + [layer.kg or Decimal(0)], default=Decimal(0))
    for n, lot in enumerate(layer.lots):
        y = top + head + LOT * n
        said = {"certain": _("certain"), "may": _("may"), "cannot": _("cannot")}[lot.verdict]
        label = _("%(lot)s, on hold") % {"lot": lot.label} if lot.held else lot.label
        kind = "label-stop" if lot.held else "label"
        words.append(Words(x, y + 13, shorten(label, room - 70, 13), "start", kind))
        words.append(Words(width, y + 13, said, "end", "label"))
        words.append(Words(width, y + 29, amount_range(lot.least, lot.most), "end", "label"))
        scale = (room - 118) / float(longest) if longest else 0.0
        bars += share_bar(
            (x, y + 20), least=lot.least, most=lot.most, scale=scale, room=room - 118, colour=layer.colour
        )


def _broken_edge(x: float, top: float, bottom: float) -> str:
    """A cut edge: straight with one kink, as a break is drawn."""
    middle = (top + bottom) / 2
    return f"M{x:.1f} {top:.1f}V{middle - 9:.1f}l5 5l-10 8l5 5V{bottom:.1f}"


def _description(layers: Sequence[LayerFill]) -> str:
    parts = []
    for layer in layers:
        if layer.missing:
            parts.append(_("%(layer)s: no record") % {"layer": layer.name})
            continue
        thick = f"{_thickness(layer)} mm" if layer.thickness_mm else _("thickness not recorded")
        parts.append(
            f"{layer.name}: {layer.material}, {thick}"
            + (f", {layer.kg} kg" if layer.kg is not None else "")
            + "".join(_(", %(lot)s on hold") % {"lot": lot.label} for lot in layer.lots if lot.held)
        )
    return _("Wall section, outside first. %(layers)s.") % {"layers": ". ".join(parts)}
