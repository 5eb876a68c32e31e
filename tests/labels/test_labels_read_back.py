"""Four hundred labels of every stock, half of them with a host: rasterised, read back and measured.

With LONG_TESTS (deploy/test --long) a thousand.
"""

import os
import random
from collections import Counter

import pytest

from tests.labels.raster import cell_box, ink, pages, symbols
from trace.codes import issue_label_code
from trace.labels.layouts import LAYOUTS, Face
from trace.labels.pdf import draw
from trace.labels.symbol import payload

FACES = 500 if os.environ.get("LONG_TESTS") else 200
QUIET = 4  # modules of white round a symbol, ISO/IEC 18004 (from memory)
NAMES = [
    "LL-35 red",
    "FM-22",
    "M8-N brass, nickel over copper, plated on both ends",
    "T430-02",
    "Tamsin 430 red",
    "W" * 200,
    "Ångström-Pulver Größe 0,5 – łódź ≥ 3 ✓ 塑料",
    "",
]
LINES = [
    ("Lot V-2291, Verrin Polymers", "500 kg, made 2027-02-11", "Use by 2027-11-08"),
    ("Lot N-0417, Marrow Lane Fasteners and a great deal more that cannot fit on any label at all " * 3,),
    tuple(f"line {n} of very many" for n in range(60)),
    ("\u202eevil\x00\n\u2066 text " * 20, "\ud800", "𝔘" * 500),
    (),
]


def faces_to_print(seed: int) -> list[Face]:
    """FACES of them with ordinary, overlong and hostile text; every fourth for a place near an oven."""
    rng = random.Random(seed)
    return [
        Face(
            code=issue_label_code(n),
            title=rng.choice(NAMES),
            lines=rng.choice(LINES),
            kind=rng.choice(["Bag", "Octabin", "Mould", "", "K" * 90]),
            near_oven=i % 4 == 3,
            orientation="turned" if i % 5 == 4 else "upright",
            side=rng.choice(["", "side 1 of 2"]),
        )
        for i, n in enumerate(rng.sample(range(3_404_825_447), FACES))
    ]


@pytest.mark.parametrize("host", ["", "LOT.LAN"])
@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_every_label_is_read_back_from_the_dots(name: str, host: str) -> None:
    layout = LAYOUTS[name]
    faces = faces_to_print(seed=len(name) + len(host))
    printed = pages(draw(faces, layout, host))
    assert len(printed) == -(-len(faces) // layout.per_page)
    for number, page in enumerate(printed):
        assert page.size == (round(8 * layout.page_mm[0]), round(8 * layout.page_mm[1]))
        first = number * layout.per_page
        asked = Counter(
            (payload(face.code, host), cell)
            for cell, face in enumerate(faces[first : first + layout.per_page])
            for _ in range(2 if face.near_oven else 1)
        )
        seen = symbols(page, layout)
        assert Counter((symbol.text, symbol.cell) for symbol in seen) == asked
        for symbol in seen:
            face = faces[first + symbol.cell]
            dots = layout.dots_near_oven if face.near_oven else layout.dots
            assert symbol.side == (25 if host else 21)
            assert symbol.dots == (dots.address if host else dots.code)
            # Every module is all dark or all white: nothing falls between two dots.
            modules = page.crop(symbol.box).reduce(symbol.dots)
            assert sum(modules.histogram()[1:255]) == 0
            quiet = QUIET * symbol.dots
            left, top, right, bottom = symbol.box
            around = (left - quiet, top - quiet, right + quiet, bottom + quiet)
            cell = cell_box(layout, symbol.cell)
            assert around[0] >= cell[0] and around[1] >= cell[1]
            assert around[2] <= cell[2] and around[3] <= cell[3]
            zone = page.crop(around)
            zone.paste(255, (quiet, quiet, quiet + right - left, quiet + bottom - top))
            assert ink(zone) is None, "something stands in the quiet zone"


def test_the_check_of_the_quiet_zone_sees_a_single_dot() -> None:
    layout = LAYOUTS["62x29"]
    page = pages(draw([Face(issue_label_code(1), "LL-35 red")], layout))[0]
    (symbol,) = symbols(page, layout)
    page.putpixel((symbol.box[0] - 2, symbol.box[1] + 10), 0)
    zone = page.crop((symbol.box[0] - 4 * symbol.dots, symbol.box[1], symbol.box[0], symbol.box[3]))
    assert ink(zone) is not None
