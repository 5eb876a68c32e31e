"""One label: text stays in its place, whatever it is; the ruler is true; sizes are whole dots."""

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.labels.raster import ink, pages, texts
from trace.codes import issue_label_code
from trace.labels.arrange import MM_PER_PT, Drawing, TextAt, arrange
from trace.labels.layouts import (
    A4_SHEET,
    DOTS_PER_MM,
    LAYOUTS,
    ROLL_62X29,
    ROLL_100X150,
    Face,
    Layout,
    Orientation,
    both_sides,
)
from trace.labels.pdf import draw
from trace.labels.text import ASCENT, BOLD, CAP_HEIGHT, DESCENT, printable, shorten, width, wrap

CODE = issue_label_code(2_000_000_011)
FACE = Face(CODE, "T430-02", ("Tamsin 430, arms S1 and S2", "Tag 2 of 2"), "Mould")
ANY_TEXT = st.text(st.characters(exclude_categories=()), max_size=120)  # lone surrogates too
FACES = st.builds(
    Face,
    code=st.integers(0, 3_404_825_446).map(issue_label_code),
    title=ANY_TEXT,
    lines=st.lists(ANY_TEXT, max_size=12).map(tuple),
    kind=ANY_TEXT,
    near_oven=st.booleans(),
    orientation=st.sampled_from(["upright", "turned"]),
    side=ANY_TEXT,
)
EVERY_WAY = list(
    itertools.product(LAYOUTS.values(), ["", "LOT.LAN"], [False, True], ["upright", "turned"], [False, True])
)


def extent(text: TextAt) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of a text in mm, by the published font metrics."""
    em = text.size * MM_PER_PT
    tall = CAP_HEIGHT if text.font == BOLD and text.text[4:5] == "-" else ASCENT
    right = text.x + width(text.text, text.font, text.size) * MM_PER_PT
    return text.x, text.baseline - tall * em, right, text.baseline + DESCENT * em


def check_places(drawing: Drawing) -> None:
    """All text lies on the label, outside every quiet zone."""
    zones = []
    for symbol in drawing.symbols:
        quiet, side = 4 * symbol.dots, len(symbol.modules) * symbol.dots
        zone = (symbol.x - quiet, symbol.y - quiet, symbol.x + side + quiet, symbol.y + side + quiet)
        left, top, right, bottom = (edge / DOTS_PER_MM for edge in zone)
        assert left >= 0 and top >= 0 and right <= drawing.w + 1e-6 and bottom <= drawing.h + 1e-6
        zones.append((left, top, right, bottom))
    boxes = [extent(text) for text in drawing.texts]
    boxes += [(bar.x, bar.y, bar.x + bar.w, bar.y + bar.h) for bar in drawing.bars]
    for left, top, right, bottom in boxes:
        assert left >= 0 and top >= 0 and right <= drawing.w and bottom <= drawing.h
        for zone_left, zone_top, zone_right, zone_bottom in zones:
            clear = right <= zone_left or left >= zone_right or bottom <= zone_top or top >= zone_bottom
            assert clear, "text in the quiet zone"


@given(FACES, st.sampled_from(sorted(LAYOUTS)), st.sampled_from(["", "LOT.LAN"]), st.booleans())
@settings(max_examples=250, deadline=None)
def test_any_text_stays_out_of_the_quiet_zone(face: Face, name: str, host: str, ruler: bool) -> None:
    check_places(arrange(face, LAYOUTS[name], host, ruler=ruler))


@given(st.lists(FACES, min_size=1, max_size=3), st.sampled_from(sorted(LAYOUTS)))
@settings(max_examples=60, deadline=None)
def test_any_text_can_be_drawn(faces: list[Face], name: str) -> None:
    assert draw(faces, LAYOUTS[name]).startswith(b"%PDF-")


@pytest.mark.parametrize(("layout", "host", "near", "orientation", "ruler"), EVERY_WAY)
def test_code_and_name_are_on_every_label(
    layout: Layout, host: str, near: bool, orientation: Orientation, ruler: bool
) -> None:
    face = replace(FACE, near_oven=near, orientation=orientation)
    drawing = arrange(face, layout, host, ruler=ruler)
    check_places(drawing)
    shown = {text.text: text for text in drawing.texts}
    printed = f"{CODE[:4]}-{CODE[4:]}"
    assert shown[printed].size >= 7.5 and "T430-02" in shown
    code = shown[printed]
    below = [bar for bar in drawing.bars if bar.x == code.x and bar.y > code.baseline]
    bar = min(below, key=lambda bar: bar.y)
    assert bar.w == pytest.approx(width(printed, BOLD, code.size) * MM_PER_PT)
    assert len(drawing.symbols) == (2 if near else 1)
    for symbol in drawing.symbols:
        assert symbol.dots >= 6  # 0.75 mm, the least for a phone at 30 cm (common practice)


def test_the_ruler_is_on_each_sheet_and_on_the_first_label_of_a_roll() -> None:
    faces = [replace(FACE, code=issue_label_code(n)) for n in range(50)]
    says = "100 %, do not fit to page"
    assert [page.count(says) for page in texts(draw(faces, A4_SHEET))] == [1, 1, 1]
    for layout in (ROLL_62X29, ROLL_100X150):
        assert [page.count(says) for page in texts(draw(faces[:3], layout))] == [1, 0, 0]


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
@pytest.mark.parametrize("host", ["", "LOT.LAN"])
def test_the_ruler_costs_a_label_none_of_its_lines(layout: Layout, host: str) -> None:
    """What goods-in prints on a bag: lot, amount, use-by date and supplier stand on the first label too."""
    bag = Face(CODE, "LL-35 red", ("Lot V-2400", "500.00 kg", "Use by 2027-12-31", "VERRIN"), "Container")
    shown = " ".join(text.text for text in arrange(bag, layout, host, ruler=True).texts)
    assert [line for line in bag.lines if line not in shown] == []
    assert "…" not in shown


@pytest.mark.parametrize(("name", "mm"), [("a4", 30), ("62x29", 30), ("100x150", 50)])
def test_the_ruler_is_as_long_as_it_says(name: str, mm: int) -> None:
    layout = LAYOUTS[name]
    drawing = arrange(FACE, layout, ruler=True)
    line = max((bar for bar in drawing.bars if bar.h < 0.3), key=lambda bar: bar.w)
    assert any(text.text.endswith(f"{mm} mm") for text in drawing.texts)
    page = pages(draw([FACE], layout))[0]
    y = round((layout.origin_mm[1] + line.y + line.h) * DOTS_PER_MM) - 1
    left, right = round(line.x * DOTS_PER_MM) - 3, round((line.x + line.w) * DOTS_PER_MM) + 3
    box = ink(page.crop((left, y, right, y + 1)))
    assert box is not None and abs((box[2] - box[0]) - mm * DOTS_PER_MM) <= 1


def test_pages_have_the_size_of_the_stock() -> None:
    assert [page.size for page in pages(draw([FACE], ROLL_62X29))] == [(496, 232)]  # 62 × 29 mm in eighths
    assert [page.size for page in pages(draw([FACE], ROLL_100X150))] == [(800, 1200)]
    assert [page.size for page in pages(draw([FACE] * 25, A4_SHEET))] == [(1680, 2376)] * 2  # ISO 216 A4


def test_a_pack_has_one_label_on_two_faces() -> None:
    first, second = both_sides(replace(FACE, kind="Pack"), "side 1 of 2", "side 2 of 2")
    one, two = texts(draw([first, second], ROLL_100X150))
    printed = f"{CODE[:4]}-{CODE[4:]}"
    assert printed in one and printed in two and "side 1 of 2" in one and "side 2 of 2" in two


def test_the_same_faces_make_the_same_bytes_and_none_are_refused() -> None:
    assert draw([FACE], A4_SHEET, "LOT.LAN") == draw([FACE], A4_SHEET, "LOT.LAN")
    with pytest.raises(ValueError, match="no label to print"):
        draw([], A4_SHEET)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("LL-35 red", "LL-35 red"),
        ("Größe 0,5 – Ångström €", "Größe 0,5 – Ångström €"),
        ("Łódź čš ≥ 3", "Lódz cš >= 3"),
        ("a\u0301", "á"),
        ("two\nlines\tand \u00a0 blanks", "two lines and blanks"),
        ("\u202ered\u202c\u200b\x00\x07", "red"),
        ("塑料 powder", "?? powder"),
        ("ﬁne ①", "fine 1"),
        ("\ud800x", "?x"),
    ],
)
def test_characters_the_typeface_lacks(text: str, shown: str) -> None:
    assert printable(text) == shown


@given(ANY_TEXT, st.floats(1, 200), st.integers(1, 4))
@settings(deadline=None)
def test_shortened_text_fits(text: str, room: float, most: int) -> None:
    clean = printable(text)
    lines = wrap(clean, BOLD, 9, room, most)
    assert len(lines) <= most and all(width(line, BOLD, 9) <= room for line in lines)
    short = shorten(clean, BOLD, 9, room)
    assert short in (clean, "") or (short.endswith("…") and clean.startswith(short[:-1].rstrip()))
