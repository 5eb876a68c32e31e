"""A lot's vessel or box, with the level that is left in it and bars of what went where."""

from collections.abc import Sequence
from decimal import Decimal

from django.utils.translation import gettext as _

from trace.drawings.shapes import (
    Block,
    ContainerDrawing,
    ContainerKind,
    ContainerPair,
    Line,
    Share,
    Words,
)
from trace.drawings.share_bars import share_bar
from trace.drawings.words import amount_range, shorten, words_width

BODY = 168.0  # height of the drawn container
BAR_ROW = 40.0
NARROW = 450.0

# Per kind: the outline of the inside from the top left clockwise, in a square of 100; then the drawing's ex
_INSIDE: dict[ContainerKind, tuple[tuple[float, float], ...]] = {
    "octabin": ((18, 12), (82, 12), (96, 12), (96, 92), (82, 98), (18, 98), (4, 92), (4, 12)),
    "bag": ((26, 14), (74, 14), (86, 30), (90, 90), (84, 98), (16, 98), (10, 90), (14, 30)),
    "box": ((4, 26), (96, 26), (96, 98), (4, 98)),
    "drum": ((14, 6), (86, 6), (86, 96), (14, 96)),
    "roll": ((8, 22), (92, 22), (92, 78), (8, 78)),
    "silo": ((26, 4), (74, 4), (74, 66), (56, 96), (44, 96), (26, 66)),
}
_EXTRA: dict[ContainerKind, str] = {
    "octabin": "M18 12V98M82 12V98M4 12L18 6H82L96 12M10 98V104H30V98M70 98V104H90V98",
    "bag": "M26 14L22 6H78L74 14M26 14H74M30 6V14M38 6V14M46 6V14M54 6V14M62 6V14M70 6V14",
    "box": "M4 26L16 12H84L96 26M16 12V26M84 12V26M42 26V40H58V26",
    "drum": "M14 36H86M14 66H86M18 6V2H82V6",
    "roll": "M92 22C99 22 99 78 92 78M8 22C1 22 1 78 8 78M92 44C95 44 95 56 92 56",
    "silo": "M26 66H74M20 66V104M80 66V104M44 96V104H56V96M26 4C30 -2 70 -2 74 4",
}


def container_drawing(
    kind: ContainerKind,
    *,
    filled: Decimal,
    left: Decimal,
    unit: str = "kg",
    colour: str = "",
    shares: Sequence[Share] = (),
    name: str = "",
    width: float = 860.0,
) -> ContainerDrawing:
    """Draw one container: `filled` is what went in, `left` what the book says is in it now, both in `unit`.

    Bars are to one scale: the length of a bar is its share of `filled`. Solid up to what is certain, dashed
    up to what may be. A level above full is drawn full and said in words.
    """
    body = 118.0 if width < NARROW else BODY
    s = body / 104
    x0, y0 = 4.0, 12.0
    inside = [(x0 + x * s, y0 + y * s) for x, y in _INSIDE[kind]]
    share_left = min(max(float(left / filled), 0.0), 1.0) if filled else 0.0
    top = min(y for _x, y in inside)
    bottom = max(y for _x, y in inside)
    level = bottom - (bottom - top) * share_left
    body_right = x0 + 104 * s
    lines = [
        Line("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in inside) + "Z", "edge"),
        Line(_scaled(_EXTRA[kind], s, x0, y0), "rule"),
        Line(f"M{body_right - 6:.1f} {level:.1f}h14", "tick"),
    ]
    text_left = body_right + 16
    words = [
        Words(
            text_left, 24, _("%(left)s %(unit)s left") % {"left": left, "unit": unit}, "start", "label-strong"
        ),
        Words(
            text_left,
            42,
            _("of %(filled)s %(unit)s") % {"filled": filled, "unit": unit},
            "start",
            "label-soft",
        ),
    ]
    bars: list[Block] = []
    room = width - text_left
    for n, share in enumerate(shares):
        y = 58 + BAR_ROW * n
        amount = amount_range(share.least, share.most, unit)
        said = "" if share.verdict == "certain" else _("may") if share.verdict == "may" else _("cannot")
        amount = f"{said} {amount}".strip()
        # on a telephone the amount stands behind the bar, so that the name has the line to itself
        behind = 112.0 if width < NARROW else 0.0
        beside = 0.0 if behind else words_width(amount, 14)
        words.append(Words(text_left, y + 13, shorten(share.label, room - beside, 14), "start", "label"))
        words.append(Words(width, y + (29.5 if behind else 13), amount, "end", "label"))
        bars += share_bar(
            (text_left, y + 20),
            least=share.least,
            most=share.most,
            scale=(room - behind) / float(filled) if filled else 0.0,
            room=room - behind,
            colour=colour,
        )
    height = max(y0 + 110 * s, 58 + BAR_ROW * len(shares)) + 6
    return ContainerDrawing(
        width=width,
        height=round(height, 1),
        fill_path=_below(inside, level) if share_left > 0 else "",
        fill=colour,
        lines=tuple(lines),
        bars=tuple(bars),
        words=tuple(words),
        description=_description(
            kind, name, left=f"{left} {unit}", filled=f"{filled} {unit}", unit=unit, shares=shares
        ),
    )


def container_drawings(
    kind: ContainerKind,
    *,
    filled: Decimal,
    left: Decimal,
    unit: str = "kg",
    colour: str = "",
    shares: Sequence[Share] = (),
    name: str = "",
) -> ContainerPair:
    """The container for a sheet: for a desk and paper, and for a telephone."""
    wide, narrow = (
        container_drawing(
            kind, filled=filled, left=left, unit=unit, colour=colour, shares=shares, name=name, width=w
        )
        for w in (860.0, 384.0)
    )
    return ContainerPair(wide, narrow)


def _below(outline: Sequence[tuple[float, float]], level: float) -> str:
    """The part of a closed outline below y = `level` (Sutherland and Hodgman's clipping against one line)."""
    kept: list[tuple[float, float]] = []
    for (ax, ay), (bx, by) in zip(outline, [*outline[1:], outline[0]], strict=True):
        if ay >= level:
            kept.append((ax, ay))
        if (ay < level) != (by < level):
            kept.append((ax + (bx - ax) * (level - ay) / (by - ay), level))
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in kept) + "Z" if kept else ""


def _scaled(path: str, scale: float, x0: float, y0: float) -> str:
    """A path of absolute M, L, H, V, C commands, scaled and moved."""
    out: list[str] = []
    command, n, number = "", 0, ""
    for sign in path + "M":
        if sign.isdigit() or sign in ".-" or (sign == " " and not number):
            number += sign.strip()
            continue
        if number:
            across = command == "H" or (command != "V" and n % 2 == 0)
            out.append(f"{float(number) * scale + (x0 if across else y0):.1f} ")
            n, number = n + 1, ""
        if sign.isalpha():
            command, n = sign, 0
            out.append(sign)
    return "".join(out[:-1]).strip()


def _description(
    kind: ContainerKind, name: str, *, left: str, filled: str, unit: str, shares: Sequence[Share]
) -> str:
    kinds = {
        "octabin": _("Octabin"),
        "bag": _("Bag"),
        "box": _("Box"),
        "drum": _("Drum"),
        "roll": _("Roll"),
        "silo": _("Silo"),
    }
    went = "; ".join(f"{s.label}: {amount_range(s.least, s.most, unit)}" for s in shares)
    said = _("%(kind)s %(name)s: %(left)s left of %(filled)s") % {
        "kind": kinds[kind],
        "name": name,
        "left": left,
        "filled": filled,
    }
    return f"{said}. {went}." if went else f"{said}."
