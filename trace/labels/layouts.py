"""What a label says (Face) and the stocks it is printed on (Layout); all lengths in millimetres."""

from dataclasses import dataclass, replace
from typing import Literal

# A 203 dpi label printer has eight dots to the millimetre. Every module is a whole number of them.
DOTS_PER_MM = 8

Orientation = Literal["upright", "turned"]


@dataclass(frozen=True, slots=True)
class Face:
    """One label to print.

    `code` is the label code, `title` the name to be read at arm's length (a material, a mould), `lines` what
    follows in smaller type, `kind` the word for the thing (“Bag”, “Mould”, “Pack”). `near_oven` draws the
    symbol twice, because a burn or a splash of paint that hits one of them cannot be repaired by error
    correction. `orientation` "turned" runs the text along the other edge of the stock, for a label that is
    hung or stuck sideways. `side` says which of several faces of one thing this label is for.
    """

    code: str
    title: str
    lines: tuple[str, ...] = ()
    kind: str = ""
    near_oven: bool = False
    orientation: Orientation = "upright"
    side: str = ""


@dataclass(frozen=True, slots=True)
class Dots:
    """Printer dots to a module: for the bare code (version 1) and for the address (version 2)."""

    code: int
    address: int

    def of(self, version: int) -> int:
        """Dots for a symbol version, 1 or 2."""
        return self.code if version == 1 else self.address


@dataclass(frozen=True, slots=True)
class Layout:
    """A stock: page and label size, where labels stand on the page, module and type sizes.

    `edge` is kept free of text on every side (what an office printer cannot reach, what a roll wanders);
    `inset` is kept free of symbols, whose own quiet zone comes on top. Type sizes in points are the largest
    used; `code_pt` shrinks until the code fits the width.
    """

    name: str
    page_mm: tuple[float, float]
    label_mm: tuple[float, float]
    columns: int
    rows: int
    origin_mm: tuple[float, float]
    edge_mm: float
    inset_mm: float
    dots: Dots
    dots_near_oven: Dots
    code_pt: float
    title_pt: float
    line_pt: float

    @property
    def per_page(self) -> int:
        """Labels on one page."""
        return self.columns * self.rows


# Module sizes: 0.75 mm is the least that a phone reads at 30 cm, 1.0 mm reads at 60 cm, 1.5 to 2.0 mm suits a
# pack or a rack (common practice, tried with simulated photos; no printer and no phone has confirmed it).
A4_SHEET = Layout(
    name="A4 sheet, 24 labels of 70 × 37 mm",
    page_mm=(210, 297),
    label_mm=(70, 37),
    columns=3,
    rows=8,
    origin_mm=(0, 0.5),
    edge_mm=4,
    inset_mm=1,
    dots=Dots(code=9, address=8),
    dots_near_oven=Dots(code=6, address=6),
    code_pt=19,
    title_pt=13,
    line_pt=7.5,
)
ROLL_62X29 = Layout(
    name="Roll, 62 × 29 mm",
    page_mm=(62, 29),
    label_mm=(62, 29),
    columns=1,
    rows=1,
    origin_mm=(0, 0),
    edge_mm=1.2,
    inset_mm=0.5,
    dots=Dots(code=7, address=6),
    dots_near_oven=Dots(code=6, address=6),
    code_pt=19,
    title_pt=12,
    line_pt=7.5,
)
ROLL_100X150 = Layout(
    name="Roll, 100 × 150 mm, packs and racks",
    page_mm=(100, 150),
    label_mm=(100, 150),
    columns=1,
    rows=1,
    origin_mm=(0, 0),
    edge_mm=5,
    inset_mm=1,
    dots=Dots(code=18, address=16),
    dots_near_oven=Dots(code=12, address=12),
    code_pt=44,
    title_pt=34,
    line_pt=16,
)
LAYOUTS: dict[str, Layout] = {"a4": A4_SHEET, "62x29": ROLL_62X29, "100x150": ROLL_100X150}


def both_sides(face: Face, first: str, second: str) -> tuple[Face, Face]:
    """Two faces of one pack label, marked with the words `first` and `second`: a pack on a high rack is then
    read from the aisle whichever way it lies. Both carry the same code, so either scan names the pack."""
    return replace(face, side=first), replace(face, side=second)
