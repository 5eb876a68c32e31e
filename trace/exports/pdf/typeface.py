"""The typeface of a printed sheet: Source Sans Pro in two weights, of which each PDF holds the letters that it uses.

It has the letters of every European language: Latin, Greek and Cyrillic. Licence: SIL Open Font License 1.1, which the
package font-source-sans-pro brings along with it.
"""

from functools import cache
from importlib.resources import files

from reportlab.pdfbase.pdfmetrics import getFont, registerFont
from reportlab.pdfbase.ttfonts import TTFont

from trace.labels.text import in_letters

REGULAR, BOLD = "SourceSansPro", "SourceSansPro-Bold"
_PLAIN = str.maketrans({"\u2010": "-", "\u2011": "-"})  # hyphens that the typeface draws as its own


def register() -> None:
    """Let the PDF's library know both weights."""
    for name, weight in ((REGULAR, "Regular"), (BOLD, "Bold")):
        registerFont(TTFont(name, str(files("font_source_sans_pro") / "files" / f"SourceSansPro-{weight}.ttf")))


def printable(text: str) -> str:
    """`text` on one line, in letters that it has; where one lacks, a reader sees that something stood there."""
    return in_letters(text, has, _PLAIN)


@cache
def _glyphs() -> frozenset[int]:
    return frozenset.intersection(*(frozenset(getFont(name).face.charToGlyph) for name in (REGULAR, BOLD)))


def has(character: str) -> bool:
    """Whether both weights have it, and it shows."""
    return ord(character) in _glyphs() and (character.isprintable() or character == " ")


register()
