"""A paper as data, read back by other libraries: text stays text, numbers numbers, the same data is the same bytes."""

import csv
import hashlib
import io
import json
import time
from datetime import UTC, datetime
from decimal import Decimal
from zipfile import ZipFile

import jsonschema
import openpyxl
import pytest
import rfc8785

from tests.exports.conftest import MakePaper
from tests.exports.printed import pages_of, pdf_of
from tests.pages.story import Told
from trace.exports.asked import PaperError, Reader
from trace.exports.files.data import fingerprint, write_json
from trace.exports.files.packed import write_csv
from trace.exports.files.rows import harmless
from trace.exports.files.workbook import write_xlsx
from trace.exports.paper import Column, Paper, Table
from trace.exports.pdf.sheet import Stamp

# What spreadsheet programs have taken for a formula (OWASP ASVS 5.0.0, 1.2.10, and blanks or full-width signs before).
HOSTILE = ("=1+1", "+1", "-1+2", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1+1", "=cmd|' /C calc'!A0", '=HYPERLINK("x")')


def a_paper(*cells: str) -> Paper:
    columns = (Column("text", "Text", "A text."), Column("kg", "Mass", "A mass.", "number", "kg"))
    rows = tuple((cell, Decimal("12.240")) for cell in cells)
    known = datetime(2026, 12, 3, 6, 52, tzinfo=UTC)
    table = Table("hostile", "Hostile", "One text.", columns, rows)
    return Paper("hull", "=What", "@Title", (("number", "-1"),), known, 1, ("=a gap",), (table,), "+caution", "-plant")


def written(paper: Paper, write: object) -> bytes:
    out, step = io.BytesIO(), (lambda: None)
    write(paper, out, step)  # type: ignore[operator]
    return out.getvalue()


def tables(data: bytes) -> dict[str, list[list[str]]]:
    with ZipFile(io.BytesIO(data)) as packed:
        return {
            name.removesuffix(".csv"): list(csv.reader(io.StringIO(packed.read(name).decode("utf-8-sig"), newline="")))
            for name in packed.namelist()
        }


@pytest.mark.outside("library", "openpyxl reads the workbook back")
def test_no_cell_of_a_workbook_is_a_formula() -> None:
    book = openpyxl.load_workbook(io.BytesIO(written(a_paper(*HOSTILE), write_xlsx)))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert {cell.data_type for cell in cells} <= {"s", "n", "inlineStr"}
    texts = [row[0].value for row in book["hostile"].iter_rows(min_row=2)]
    # XML reads a carriage return as a line end, so it is written as an escape.
    assert [str(text).replace("_x000D_", "\r") for text in texts] == list(HOSTILE)
    assert all(row[0].quotePrefix for row in book["hostile"].iter_rows(min_row=2))
    assert [row[1].value for row in book["hostile"].iter_rows(min_row=2)] == [12.24] * len(HOSTILE)
    assert book["hostile"]["B2"].number_format == "0.000"


@pytest.mark.outside("published", "OWASP ASVS 5.0.0, 1.2.10: what spreadsheet programs take for a formula")
def test_no_cell_of_a_csv_file_is_a_formula() -> None:
    read = tables(written(a_paper(*HOSTILE), write_csv))
    assert [row[0] for row in read["hostile"][1:]] == [f"'{text}" for text in HOSTILE]
    assert {row[1] for row in read["hostile"][1:]} == {"12.240"}
    assert all(cell[:1] not in tuple("=+-@") for row in read["paper"] for cell in row)
    assert harmless("V-2288 = red") == "V-2288 = red"
    assert harmless("") == ""


def test_what_no_cell_can_hold_is_not_cut_but_refused() -> None:
    with pytest.raises(PaperError, match="take the CSV files"):
        written(a_paper("x" * 40_000), write_xlsx)
    assert len(tables(written(a_paper("x" * 40_000), write_csv))["hostile"][1][0]) == 40_000


@pytest.mark.parametrize("kind", ["hull", "lot", "scope", "balance", "balances"])
@pytest.mark.outside("library", "rfc8785 and hashlib")
def test_the_json_is_canonical_and_its_digest_is_the_fingerprint(
    story: Told, paper_of: MakePaper, kind: str
) -> None:
    words = {
        "hull": {"number": story.hulls["bag change"]}, "scope": {"q": "holds=N-0417"}, "balances": {"of": "WO-1041"},
    }  # fmt: skip
    paper = paper_of(kind, **words.get(kind, {"number": "V-2288"}))
    data = written(paper, write_json)
    assert data == rfc8785.dumps(json.loads(data))
    assert fingerprint(paper) == hashlib.sha256(data).hexdigest()
    names = [table["name"] for table in json.loads(data)["tables"]]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("write", [write_json, write_csv, write_xlsx])
def test_the_same_data_is_the_same_bytes(
    story: Told, paper_of: MakePaper, write: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = written(paper_of("hull", number=story.hulls["sled"]), write)
    monkeypatch.setattr(time, "time", lambda: 2_000_000_000.0)
    paper = paper_of("hull", number=story.hulls["sled"], anew=write is write_json)
    assert written(paper, write) == one


@pytest.mark.outside("identity", "figures added up again from each file are the paper's")
def test_the_files_say_the_same(story: Told, paper_of: MakePaper) -> None:
    """The kilograms re-added from each file: those of the paper."""
    paper = paper_of("hull", number=story.hulls["bag change"])
    read = tables(written(paper, write_csv))
    book = openpyxl.load_workbook(io.BytesIO(written(paper, write_xlsx)))
    said = {table["name"]: table["rows"] for table in json.loads(written(paper, write_json))["tables"]}
    for table in paper.tables():
        assert len(read[table.name]) == len(table.rows) + 1 == book[table.name].max_row == len(said[table.name]) + 1
    at = read["layers"][0].index("least")
    wanted = sum(row[at] for row in next(t for t in paper.tables() if t.name == "layers").rows if row[at])  # type: ignore[misc]
    assert sum(Decimal(row[at]) for row in read["layers"][1:] if row[at]) == wanted
    assert sum(Decimal(row["least"]) for row in said["layers"] if row["least"]) == wanted
    assert abs(sum(row[at].value or 0 for row in book["layers"].iter_rows(min_row=2)) - float(wanted)) < 1e-9


def test_every_column_of_every_file_is_described(story: Told, paper_of: MakePaper) -> None:
    paper = paper_of("lot", number="N-0417")
    read = tables(written(paper, write_csv))
    described = {(row[0], row[2]): row for row in read["columns"][1:]}
    for name, rows in read.items():
        if name not in ("paper", "columns"):
            assert set(rows[0]) == {column for table, column in described if table == name}
    assert all(row[1] and row[4] and row[5] for row in described.values())


def test_a_name_or_a_word_is_kept_from_who_may_not_see_it(story: Told, paper_of: MakePaper) -> None:
    whole = fingerprint_text(paper_of("hull", number=story.hulls["gone"]))
    less = fingerprint_text(paper_of("hull", Reader(), number=story.hulls["gone"]))
    assert "Wharfe & Weir Paddlesport" in whole
    assert "Wharfe & Weir Paddlesport" not in less
    assert "a consignee" in less
    whole = fingerprint_text(paper_of("hull", number=story.hulls["bag change"]))
    less = fingerprint_text(paper_of("hull", Reader(), number=story.hulls["bag change"]))
    assert "Scuff at the bow" in whole
    assert "Scuff at the bow" not in less
    assert "Left out for this reader" in less


def fingerprint_text(paper: Paper) -> str:
    return written(paper, write_json).decode()


@pytest.mark.outside("identity", "received = ways out + what is missing")
def test_a_balance_on_paper_adds_up_to_what_came(story: Told, paper_of: MakePaper) -> None:
    paper = paper_of("balance", number="V-2288")
    ways = next(table for table in paper.tables() if table.name == "ways").rows
    came, went, off = (sum(row[3] for row in ways if row[0] == side) for side in ("came", "went", "difference"))  # type: ignore[misc]
    assert came + off == went


@pytest.mark.outside("identity", "of each material: received + differences = ways out")
@pytest.mark.parametrize("of", ["WO-1041", "2026-05-01..2026-12-31", "2026-05-01..", "..2026-12-31"])
def test_balances_by_material_add_up_on_paper(story: Told, paper_of: MakePaper, of: str) -> None:
    paper = paper_of("balances", of=of)
    ways = next(table for table in paper.tables() if table.name == "ways").rows
    materials = {row[0] for row in ways}
    assert len(materials) > 3
    for material in materials:
        came, went, off = (
            sum(row[4] for row in ways if row[:2] == (material, side)) for side in ("came", "went", "difference")  # type: ignore[misc]
        )
        assert came + off == went, material
    with pytest.raises(PaperError, match="is no works order and no plant days"):
        paper_of("balances", of="..")


@pytest.mark.parametrize(
    ("kind", "words"),
    [("hull", {}), ("lot", {"number": "V-2288"}), ("scope", {"q": "holds=V-2288"}), ("balance", {"number": "V-2288"}),
     ("balances", {"of": "WO-1041"})],
)
def test_as_many_rows_are_told_as_a_table_says(
    story: Told, paper_of: MakePaper, kind: str, words: dict[str, str]
) -> None:
    """Long tables are made row by row, and their number is counted by itself."""
    for table in paper_of(kind, **(words or {"number": story.hulls["bag change"]})).tables():
        assert len(list(table.rows)) == len(table.rows), table.name
        assert list(table.rows) == list(table.rows)


@pytest.mark.outside("published", "RFC 4180, section 2, rules 1, 2, 6 and 7")
def test_csv_is_quoted_as_the_standard_quotes_it() -> None:
    """Rule 7: a quote in a field is doubled and the field in quotes; rule 6: so is one with a comma or line end."""
    with ZipFile(io.BytesIO(written(a_paper('b"bb', "b\r\nbb", "b,bb", "plain"), write_csv))) as packed:
        data = packed.read("hostile.csv")
    assert data == (
        b'\xef\xbb\xbftext,kg\r\n"b""bb",12.240\r\n"b\r\nbb",12.240\r\n"b,bb",12.240\r\nplain,12.240\r\n'
    )


ROW = {"type": "object", "additionalProperties": {"type": ["string", "integer", "boolean", "null"]}}
SCHEMA = {
    "$schema": "https://json-schema.org/draft/2020-12/schema", "type": "object", "additionalProperties": False,
    "required": ["as_known_on", "caution", "facts", "gaps", "kind", "plant", "question", "records", "said", "tables",
                 "title", "version", "what"],
    "properties": {
        **{name: {"type": "string"} for name in ("as_known_on", "caution", "kind", "plant", "title", "what")},
        "facts": {"type": "array", "items": {"required": ["pairs", "title"]}}, "records": {"type": "integer"},
        "gaps": {"type": "array", "items": {"type": "string"}}, "said": {"type": "array"}, "version": {"const": 1},
        "question": {"type": "array", "items": {"type": "array", "minItems": 2, "maxItems": 2}},
        "tables": {"type": "array", "items": {
            "type": "object", "additionalProperties": False, "required": ["columns", "name", "rows"],
            "properties": {
                "name": {"type": "string", "pattern": "^[a-z_]+$"}, "rows": {"type": "array", "items": ROW},
                "columns": {"type": "array", "items": {"required": ["kind", "name", "unit"]}},
            },
        }},
    },
}  # fmt: skip


@pytest.mark.outside("library", "jsonschema (JSON Schema 2020-12) reads the shape of each paper's JSON")
@pytest.mark.parametrize(
    ("kind", "words"), [("hull", {}), ("lot", {"number": "V-2288"}), ("scope", {"q": "holds=V-2288"})]
)
def test_the_json_has_its_shape(story: Told, paper_of: MakePaper, kind: str, words: dict[str, str]) -> None:
    paper = paper_of(kind, **(words or {"number": story.hulls["bag change"]}))
    jsonschema.Draft202012Validator(SCHEMA).validate(json.loads(written(paper, write_json)))


@pytest.mark.outside("library", "openpyxl: amounts are numbers, shown with the decimals they were read with")
def test_a_workbook_s_amounts_are_numbers(story: Told, paper_of: MakePaper) -> None:
    paper = paper_of("lot", number="V-2288")
    book = openpyxl.load_workbook(io.BytesIO(written(paper, write_xlsx)))
    for table in paper.tables():
        for n, column in enumerate(table.columns, start=1):
            for at, row in enumerate(table.rows, start=2):
                cell, said = book[table.name].cell(at, n), row[n - 1]
                if column.kind == "number" and isinstance(said, Decimal):
                    assert cell.value == pytest.approx(float(said)) and cell.data_type == "n"
                    assert len(cell.number_format.partition(".")[2]) == max(0, -int(said.as_tuple().exponent))


def test_bad_against_good_is_told_row_by_row_and_hull_by_hull(story: Told, paper_of: MakePaper) -> None:
    """The CSV and the JSON say the same: of each row how many have it, and of each hull whether it has."""
    bad = [story.hulls[name] for name in ("held", "no log", "bag change")]
    paper = paper_of("side-by-side", bad="\n".join(bad), sold="no", first="", last="", days="")
    found = tables(written(paper, write_csv))
    rows, hulls = (
        [dict(zip(lines[0], line, strict=True)) for line in lines[1:]]
        for lines in (found["differs"], found["hulls"])
    )
    assert rows and {one["hull"] for one in hulls if one["side"] == "bad"} == set(bad)
    for one in rows:
        for side in ("bad", "good"):
            has = [h["has"] for h in hulls if h["row"] == one["row"] and h["side"] == side]
            counted = has.count("certain"), len(has) - has.count("may")
            assert counted == (int(one[side]), int(one[f"of_{side}"])), one
    [whole] = [table for table in json.loads(written(paper, write_json))["tables"] if table["name"] == "hulls"]
    assert len(whole["rows"]) == len(hulls)
    with pytest.raises(PaperError, match="whole number"):
        paper_of("side-by-side", bad=bad[0], days="many")


def test_paper_has_no_more_digits_than_is_known_and_files_keep_all() -> None:
    columns = (
        Column("least", "Least", "Least.", "number", wide=1, off_by="off"),
        Column("came", "Came", "All.", "number", wide=1),
        Column("off", "Off", "How far.", "number", wide=1, off_by="off"),
    )  # fmt: skip
    row = Decimal("0.4"), Decimal("500.00"), Decimal("0.130973")
    table = Table("t", "T", "One.", columns, (row, (None, Decimal(7), None)))
    assert [str(cell) for cell in table.on_paper(row)] == ["0.40", "500.00", "0.13"]
    assert table.on_paper((None, Decimal(7), None)) == (None, Decimal(7), None)
    paper = Paper("balance", "W", "T", (), datetime(2026, 12, 3, tzinfo=UTC), 1, (), (table,), "C.")
    stamp = Stamp(datetime(2026, 12, 3, tzinfo=UTC), "Nobody", "0" * 64, "B-1")
    text = " ".join(pages_of(pdf_of(paper, stamp)))
    assert "0.13" in text and "0.130973" not in text
    assert "0.130973" in written(paper, write_json).decode()
    assert tables(written(paper, write_csv))["t"][1][2] == "0.130973"
