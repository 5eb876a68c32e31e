"""The typeface of a printed sheet: Source Sans Pro in two weights, of which each PDF holds the letters that it uses.

It has the letters of every European language: Latin, Greek and Cyrillic. Licence: SIL Open Font License 1.1, which the
package font-source-sans-pro brings along with it.
"""

import unicodedata
from functools import cache
from importlib.resources import files

from reportlab.pdfbase.pdfmetrics import getFont, registerFont
from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD = "SourceSansPro", "SourceSansPro-Bold"
_PLAIN = str.maketrans({"\u2010": "-", "\u2011": "-"})  # hyphens that the typeface draws as its own


def register() -> None:
    """Let the PDF's library know both weights."""
    for name, weight in ((REGULAR, "Regular"), (BOLD, "Bold")):
        registerFont(TTFont(name, str(files("font_source_sans_pro") / "files" / f"SourceSansPro-{weight}.ttf")))


def printable(text: str) -> str:
    """`text` on one line, in letters that the typeface has. Of another letter its bare form is printed, where the
    typeface has that, else `?`, so that a reader sees that something stood there; control and direction marks go."""
    kept = []
    for character in " ".join(unicodedata.normalize("NFC", text).split()).translate(_PLAIN):
        if has(character):
            kept.append(character)
            continue
        bare = "".join(c for c in unicodedata.normalize("NFKD", character) if has(c))
        if bare:
            kept.append(bare)
        elif unicodedata.category(character) not in ("Cc", "Cf", "Mn", "Me"):
            kept.append("?")
    return "".join(kept).strip()


@cache
def _glyphs() -> frozenset[int]:
    return frozenset.intersection(*(frozenset(getFont(name).face.charToGlyph) for name in (REGULAR, BOLD)))


def has(character: str) -> bool:
    """Whether both weights have it, and it shows."""
    return ord(character) in _glyphs() and (character.isprintable() or character == " ")


register()
