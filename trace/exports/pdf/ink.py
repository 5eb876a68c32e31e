"""Type and ink of a printed sheet: one typeface in two weights, lengths in points, and text broken into lines."""

from functools import lru_cache

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth

from trace.exports.pdf.typeface import BOLD, REGULAR, printable

INK, SOFT, RULE, HAIR = HexColor("#141d26"), HexColor("#3d4852"), HexColor("#8b8676"), HexColor("#d5d0c2")
STOP, TINT, WHITE = HexColor("#a80f1a"), HexColor("#efebdf"), HexColor("#ffffff")

MM: float = mm
PAGE_WIDTH, PAGE_HEIGHT = 210 * MM, 297 * MM
MARGIN = 9 * MM
INSET_X, INSET_Y = 5 * MM, 4.5 * MM
BODY, SMALL, HEAD, TITLE = 9.2, 8.1, 10.0, 12.8
LEADING = 1.2

__all__ = ["BOLD", "REGULAR", "Color", "HexColor", "width"]


@lru_cache(maxsize=20_000)
def words(text: str) -> str:
    """Text with only the letters that the typeface has , however long, its line ends kept."""
    if text.isascii() and text.isprintable():
        return " ".join(text.split())
    return "\n".join(printable(line) for line in text.splitlines()) if text else ""


@lru_cache(maxsize=20_000)
def width(text: str, font: str, size: float) -> float:
    """Width in points."""
    return float(stringWidth(text, font, size))


def lines_of(text: str, font: str, size: float, room: float) -> list[str]:
    """`text` broken at blanks into lines of `room` points; a word that is longer is broken where it must. Nothing is
    left out. Of an empty text one empty line."""
    found: list[str] = []
    plain = words(text)
    if "\n" not in plain and width(plain, font, size) <= room:
        return [plain]
    for paragraph in plain.splitlines() or [""]:
        line = ""
        for word in paragraph.split():
            longer = f"{line} {word}" if line else word
            if width(longer, font, size) <= room:
                line = longer
                continue
            if line:
                found.append(line)
            *full, line = _pieces(word, font, size, room)
            found += full
        found.append(line)
    return found


def _pieces(word: str, font: str, size: float, room: float) -> list[str]:
    """A word in as many pieces as its width needs, each at least one sign."""
    pieces = [""]
    for sign in word:
        if pieces[-1] and width(pieces[-1] + sign, font, size) > room:
            pieces.append("")
        pieces[-1] += sign
    return pieces
