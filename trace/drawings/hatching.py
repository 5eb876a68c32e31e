"""Hatching of cut material: slanting lines for solid plastic, bubbles for foam; worked out, never clipped."""

from trace.drawings.shapes import Bubble


def hatch_lines(x: float, y: float, width: float, height: float, *, falling: bool, step: float = 9.0) -> str:
    """Lines at 45 degrees inside a rectangle, as one path.

    Neighbouring parts slant opposite ways (practice of ISO 128, from memory).
    """
    path = []
    offset = step
    while offset < width + height:
        # the line u + v = offset, with u from the left (or the right when falling) and v from the top
        u1, v1 = min(offset, width), max(0.0, offset - width)
        u2, v2 = max(0.0, offset - height), min(offset, height)
        ax, bx = (x + width - u1, x + width - u2) if falling else (x + u1, x + u2)
        path.append(f"M{ax:.1f} {y + v1:.1f}L{bx:.1f} {y + v2:.1f}")
        offset += step
    return "".join(path)


def bubbles(x: float, y: float, width: float, height: float) -> list[Bubble]:
    """Foam as uneven bubbles, larger in the middle of the layer as foam is; the same every time."""
    found: list[Bubble] = []
    row, v = 0, 7.0
    while v < height - 3:
        depth = 1 - abs(2 * v / height - 1)
        u = 6.0 + (row % 2) * 7.0
        while u < width - 4:
            wobble = ((row * 37 + len(found) * 53) % 17) / 17
            r = round(1.5 + 2.3 * depth * wobble + 0.8 * wobble, 1)
            cx, cy = u + (wobble - 0.5) * 4, v + (((row * 29 + len(found) * 31) % 13) / 13 - 0.5) * 4
            cx = min(max(cx, r + 1), width - r - 1)
            cy = min(max(cy, r + 1), height - r - 1)
            found.append(Bubble(round(x + cx, 1), round(y + cy, 1), r))
            u += 13.0
        row, v = row + 1, v + 10.5
    return found
