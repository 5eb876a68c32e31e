"""A bar for an amount between two bounds: solid up to what is certain, dashed up to what may be."""

from decimal import Decimal

from trace.drawings.shapes import Block


def share_bar(
    at: tuple[float, float], *, least: Decimal, most: Decimal, scale: float, room: float, colour: str
) -> list[Block]:
    """One or two blocks from `at` (x, y), `scale` drawing units to a unit of the amounts, at most `room`."""
    x, y = round(at[0], 1), round(at[1], 1)

    def long(amount: Decimal) -> float:
        return round(min(max(float(amount) * scale, 2.0), room), 1)

    blocks = []
    if most > least:
        blocks.append(Block(x, y, long(most), 10, "", "bar-may"))
    if least > 0:
        blocks.append(Block(x, y, long(least), 10, colour, "bar-certain"))
    return blocks
