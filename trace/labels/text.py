"""Text of a label: characters the printed typeface has, shortened to the width there is."""

import unicodedata
from bisect import bisect_right
from collections.abc import Callable, Mapping

from reportlab.pdfbase.pdfmetrics import stringWidth

REGULAR, BOLD = "Helvetica", "Helvetica-Bold"
# Shares of the type size, Helvetica's published metrics: capitals, capitals with accents, descenders.
CAP_HEIGHT, ASCENT, DESCENT = 0.72, 0.95, 0.23
LEADING = 1.22
_LONGEST = 300
_NARROWEST = 0.19  # width of the narrowest letter in type sizes
# Letters that Unicode does not take apart, and signs of the trade that the typeface lacks.
_PLAIN = str.maketrans(
    {"ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i", "≤": "<=", "≥": ">=", "−": "-", "′": "'", "″": '"'}
)


def printable(text: str, most: int | None = _LONGEST) -> str:
    """`text` on one line, with only characters the PDF's standard typeface has (Windows code page 1252). Of a longer
    text the first `most` characters; None: all of it.

    No typeface is embedded. A character outside the page loses its accents (č becomes c); one that is still
    outside becomes `?`, so that a reader sees that something stood there; control and direction marks go.
    """
    return in_letters(text[:most], _has, _PLAIN)


def in_letters(text: str, has: Callable[[str], bool], plain: Mapping[int, str]) -> str:
    """`text` on one line, in letters that a typeface has, once those of `plain` were put in place of others. Of another
    letter its bare form, where the typeface has that, else `?`; control and direction marks go."""
    kept: list[str] = []
    for character in " ".join(unicodedata.normalize("NFC", text).split()).translate(plain):
        if has(character):
            kept.append(character)
            continue
        bare = "".join(c for c in unicodedata.normalize("NFKD", character) if has(c))
        if bare:
            kept.append(bare)
        elif unicodedata.category(character) not in ("Cc", "Cf", "Mn", "Me"):
            kept.append("?")
    return "".join(kept).strip()


def width(text: str, font: str, size: float) -> float:
    """Width of printable text in points."""
    return float(stringWidth(text, font, size))


def shorten(text: str, font: str, size: float, room: float) -> str:
    """Printable `text`, cut with an ellipsis if it is wider than `room` points; "" when nothing fits."""
    if width(text, font, size) <= room:
        return text
    text = text[: int(room / (_NARROWEST * size)) + 1]  # no need to measure what can never fit
    kept = bisect_right(range(1, len(text) + 1), room, key=lambda n: width(text[:n].rstrip() + "…", font, size))
    return text[:kept].rstrip() + "…" if kept else ""


def wrap(text: str, font: str, size: float, room: float, most: int) -> tuple[str, ...]:
    """Printable `text` broken at blanks into at most `most` lines of `room` points; the last is shortened."""
    lines: list[str] = []
    words = text.split()
    while words and len(lines) < most - 1:
        taken = 1
        while taken < len(words) and width(" ".join(words[: taken + 1]), font, size) <= room:
            taken += 1
        lines.append(shorten(" ".join(words[:taken]), font, size, room))
        words = words[taken:]
    if words and most > 0:
        lines.append(shorten(" ".join(words), font, size, room))
    return tuple(lines)


def _has(character: str) -> bool:
    try:
        character.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return character.isprintable() or character == " "
