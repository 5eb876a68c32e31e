"""A paper read back from its PDF: the title block on every sheet, lists whole, rows unbroken, drawings in it."""

import re
from datetime import UTC, datetime

import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas
from svg.path import Arc, parse_path

from tests.exports.conftest import MakePaper
from tests.exports.printed import bare, pages_of, pdf_of
from tests.pages.story import Told
from trace.drawings.strip import NAME_AT, SIZE, STRIP_AT, StripLine, StripRows, strip_rows
from trace.drawings.words import words_width
from trace.exports.files.data import fingerprint
from trace.exports.kinds.side_by_side import STRIPS_EACH
from trace.exports.paper import Column, Paper, Picture, Said, Table
from trace.exports.pdf import sheet
from trace.exports.pdf.drawn import curves_of, read_matrix
from trace.exports.pdf.ink import REGULAR, lines_of, width, words
from trace.exports.pdf.sheet import Stamp, end_page, in_fours
from trace.exports.pdf.tables import said
from trace.recording.acts.goods_in import Certify

STAMP = Stamp(datetime(2026, 12, 3, 7, 10, tzinfo=UTC), "Priya Ashdown", "9c41" * 16, "HR-118")


def long_list(count: int) -> Paper:
    """Rows whose first and last word say which row they are of."""
    columns = (
        Column("row", "Row", "Its number.", wide=1), Column("text", "Text", "Several lines of it.", wide=3),
    )  # fmt: skip
    rows = tuple((f"first{n:04d}", "lorem " * (n % 60) + f"last{n:04d}") for n in range(count))
    table = Table("list", "A long list", "One row.", columns, rows)
    known = datetime(2026, 12, 3, 6, 52, tzinfo=UTC)
    return Paper("hull", "What", "Title", (("number", "1"),), known, 12, ("A gap.",), (table,), "Caution.", "Plant")


def test_every_sheet_has_the_title_block_and_its_number(story: Told, paper_of: MakePaper) -> None:
    serial = story.hulls["bag change"]
    paper = paper_of("hull", number=serial)
    stamp = Stamp(STAMP.printed, STAMP.by, fingerprint(paper), STAMP.number)
    pages = pages_of(pdf_of(paper, stamp))
    assert len(pages) > 3
    for n, text in enumerate(pages, start=1):
        for part in (serial, "HR-118", "As known on", "3 Dec 2026 07:10", "Priya Ashdown", f"{n} of {len(pages)}",
                     "This is a record, not approval.", in_fours(stamp.fingerprint)[:39]):  # fmt: skip
            assert part in text, (n, part)


@pytest.mark.parametrize("hull", ["bag change", "no foam", "gone"])
@pytest.mark.outside("library", "pypdfium2 reads the sheets back")
def test_nothing_is_cut(story: Told, paper_of: MakePaper, hull: str) -> None:
    paper = paper_of("hull", number=story.hulls[hull])
    pages = pages_of(pdf_of(paper, STAMP))
    whole = bare(" ".join(pages))
    first = bare(pages[0] + pages[1])
    for gap in paper.gaps:
        assert bare(words(gap)) in first, gap
    for table in paper.tables():
        for row in table.rows:
            for n in table.shown:
                cell = said(row[n], table.columns[n])
                assert all(bare(words(word)) in whole for word in cell.split()), (table.name, cell)
    assert not any("…" in said(row[n], t.columns[n]) for t in paper.tables() for row in t.rows for n in t.shown)


def test_bad_against_good_prints_each_row_that_differs(story: Told, paper_of: MakePaper) -> None:
    bad = "\n".join(story.hulls[name] for name in ("held", "no log", "bag change"))
    paper = paper_of("side-by-side", bad=bad, sold="no")
    text = " ".join(" ".join(pages_of(pdf_of(paper, STAMP))).split())
    [rows] = [table.rows for table in paper.tables() if table.name == "differs"]
    assert len(rows) > 3 and "The same in all, bad and good, as far as records say" in text
    assert all(word in text for row in rows for word in str(row[2]).split())


def test_gaps_stand_before_anything_else_on_the_first_sheet(story: Told, paper_of: MakePaper) -> None:
    text = pages_of(pdf_of(paper_of("hull", number=story.hulls["no foam"]), STAMP))[0]
    assert "No record of the foam" in text
    assert text.index("lacks or leaves in doubt") < text.index("Model, colour")


@pytest.mark.outside("library", "pypdfium2 reads the sheets back")
def test_what_was_let_pass_and_what_is_outside_limits_stands_on_the_first_sheet(
    story: Told, paper_of: MakePaper
) -> None:
    text = pages_of(pdf_of(paper_of("hull", number=story.hulls["no foam"]), STAMP))[0]
    assert text.index("COOK-HELD let pass: Its tub was empty") < text.index("Mould plan")
    plain = pages_of(pdf_of(paper_of("hull", number=story.hulls["gone"]), STAMP))[0]
    assert "Outside limits" not in plain
    # Its skin's certificate was read once more, and the first reading had been wrong.
    box = story.plant.boxes["red"][0]
    story.plant.scan(Certify(container=box, lot_on_certificate="V-2288", values={"mfi": "8.01"}), person="P-06")
    anew = pages_of(pdf_of(paper_of("hull", anew=True, number=story.hulls["gone"]), STAMP))[0]
    assert "LL-35 red lot V-2288: mfi 8.01 on its certificate, limits 3.2 to 3.8." in " ".join(anew.split())


@pytest.mark.outside("library", "pypdfium2 reads the sheets back")
def test_a_long_table_repeats_its_head_and_splits_no_row() -> None:
    pages = pages_of(pdf_of(long_list(300), STAMP))
    assert len(pages) > 5
    where: dict[str, int] = {}
    for n, text in enumerate(pages):
        assert "Row Text" in text
        for word in re.findall(r"(?:first|last)\d{4}", text):
            assert word not in where, word
            where[word] = n
    assert len(where) == 600
    assert all(where[f"first{n:04d}"] == where[f"last{n:04d}"] for n in range(300))
    assert "300 rows. End of list." in pages[-1]


def test_a_row_longer_than_a_page_is_told_whole() -> None:
    table = Table("t", "T", "", (Column("text", "Text", "", wide=1),), ((" ".join(f"w{n}" for n in range(6000)),),))
    known = datetime(2026, 12, 3, tzinfo=UTC)
    paper = Paper("hull", "What", "Title", (), known, 1, (), (table, Said("S", ("The end.",))), "C.")
    found = set(re.findall(r"w\d+", " ".join(pages_of(pdf_of(paper, STAMP)))))
    assert found == {f"w{n}" for n in range(6000)}


def test_the_same_paper_is_the_same_bytes(story: Told, paper_of: MakePaper) -> None:
    serial = story.hulls["sled"]
    one, two = (pdf_of(paper_of("hull", number=serial, anew=True), STAMP) for _n in range(2))
    assert one == two
    assert one != pdf_of(paper_of("hull", number=serial), Stamp(STAMP.printed, "Somebody else", "9c41" * 16, "HR-118"))


def test_a_full_page_is_kept_packed_and_the_file_is_the_same_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The bytes that the library makes when it packs every page at the end; meanwhile no page's text is kept."""
    paper = long_list(300)
    unpacked: list[str | None] = []

    def look(canvas: Canvas) -> None:
        end_page(canvas)
        unpacked.extend(page.stream for page in canvas._doc.Pages.pages)

    monkeypatch.setattr(sheet, "end_page", look)
    packed = pdf_of(paper, STAMP)
    assert len(unpacked) > 50
    assert set(unpacked) == {None}
    monkeypatch.setattr(sheet, "end_page", Canvas.showPage)
    assert pdf_of(paper, STAMP) == packed


def test_the_drawings_are_in_it(story: Told, paper_of: MakePaper) -> None:
    text = " ".join(pages_of(pdf_of(paper_of("hull", number=story.hulls["bag change"]), STAMP))[:2])
    for part in ("Mould plan", "Wall section, as charged", "outside", "N-0398", "6.90"):
        assert part in text, part


@given(st.text(max_size=200), st.floats(min_value=20, max_value=300))
def test_lines_lose_no_letter_and_keep_to_their_room(text: str, room: float) -> None:
    lines = lines_of(text, REGULAR, 8, room)
    assert bare("".join(lines)) == bare(words(text))
    assert all(width(line, REGULAR, 8) <= room or len(line) == 1 for line in lines)


@pytest.mark.outside("identity", "every point of the curves fulfils the ellipse's equation")
def test_an_arc_becomes_curves_that_lie_on_its_ellipse() -> None:
    """Against the ellipse's own equation; the largest error of a quarter turn so drawn is 0.00027 of the radius."""
    arc = parse_path("M128 95A40 19 0 1 1 208 95")[1]
    assert isinstance(arc, Arc)
    at = arc.start
    for one, two, end in curves_of(arc):
        for step in range(11):
            t = step / 10
            p = (1 - t) ** 3 * at + 3 * (1 - t) ** 2 * t * one + 3 * (1 - t) * t**2 * two + t**3 * end
            assert abs(((p.real - 168) / 40) ** 2 + ((p.imag - 95) / 19) ** 2 - 1) < 0.001
        at = end
    assert abs(at - arc.end) < 0.001


def test_a_transform_that_is_none_moves_nothing() -> None:
    assert read_matrix("matrix(1.5 0 0 1.5 3.0 0)") == (1.5, 0, 0, 1.5, 3, 0)
    assert read_matrix("none") == (1, 0, 0, 1, 0, 0)


# What each language's alphabet has besides plain ASCII (Unicode CLDR, exemplar characters), and other alphabets.
ALPHABETS = (
    "ąćęłńóśźż", "áčďéěíňóřšťúůýž", "ăâîșț", "ğıİöşü", "āčēģīķļņšūž", "ąčęėįšųūž", "őűáé", "ðþæö", "ċġħż", "åøæ",
    "ŵŷ", "đćčšž", "ñ¿¡ç", "œÿ«»", "ß„“", "αβγδεζηθικλμνξοπρστυφχψωάέήίόύώ", "абвгдежзийклмнопрстуфхцчшщъьюя", "ђјљњћџ",
    "іїєґ", "≤≥−°±×µ′″…–—’·√",
)  # fmt: skip


@pytest.mark.outside("library", "pypdfium2 reads every letter back; letters after Unicode CLDR, from memory")
def test_every_letter_of_european_languages_is_printed() -> None:
    table = Table("t", "T", "", (Column("text", "Text", "", wide=1),), tuple((text,) for text in ALPHABETS))
    known = datetime(2026, 12, 3, tzinfo=UTC)
    paper = Paper("hull", "Wałęsa & Ćwierć", "Żółć", (), known, 1, (), (table,), "C.", "Μουσείο")
    data = pdf_of(paper, STAMP)
    [page] = pages_of(data)
    assert [text for text in (*ALPHABETS, "Żółć", "Wałęsa & Ćwierć") if text not in page] == []
    assert data.count(b"/FontFile2") == 2 and len(data) < 60_000
    # Of other alphabets something is seen to stand there.
    assert words("漢字 ａ\u202e\u0000b") == "?? ab"


@pytest.mark.outside("published", "ISO 216: A4 is 210 mm x 297 mm")
def test_each_sheet_is_a4() -> None:
    document = pypdfium2.PdfDocument(pdf_of(long_list(40), STAMP))
    sizes = {tuple(round(points * 25.4 / 72, 1) for points in page.get_size()) for page in document}
    document.close()
    assert sizes == {(210.0, 297.0)}


def test_bad_against_good_draws_each_hull_of_each_row_and_cuts_no_name(story: Told, paper_of: MakePaper) -> None:
    bad = [story.hulls[name] for name in ("held", "no log", "bag change")]
    paper = paper_of("side-by-side", bad="\n".join(bad), sold="no")
    tables = {table.name: list(table.rows) for table in paper.tables()}
    drawn = [part.drawing for part in paper.parts if isinstance(part, Picture) and isinstance(part.drawing, StripRows)]
    strips = [one for drawing in drawn for _x, _y, one in drawing.strips]
    assert len(strips) == len(tables["differs"]) > STRIPS_EACH
    for strip, row in zip(strips, tables["differs"], strict=True):
        verdicts = [has for number, _hull, _side, has in tables["hulls"] if number == row[0]]
        counted = [path.count("M") for path in (strip.has, strip.may, strip.lacks)]
        assert counted == [verdicts.count(word) for word in ("certain", "may", "cannot")], row
    text = bare(" ".join(pages_of(pdf_of(paper, STAMP))))
    assert all(text.count(bare(words(str(row[2])))) >= 2 for row in tables["differs"])


def test_a_name_of_any_length_stands_whole_beside_its_strip() -> None:
    name = "a word of its own " * 9 + "x" * 200
    [*words_of] = strip_rows([StripLine(7, name, (1, 0), (-1,), "1/1", "0/1")]).words
    lines = [word.text for word in words_of if word.anchor == "start" and word.kind == "label"]
    assert "".join(lines).replace(" ", "") == name.replace(" ", "")
    assert all(words_width(line, SIZE) <= STRIP_AT - NAME_AT for line in lines)
