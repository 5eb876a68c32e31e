"""What a symbol holds, and that it never grows."""

import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from trace.codes import CodeError, issue_label_code
from trace.labels.symbol import SIDE_MODULES, matrix, payload, runs

CODE = issue_label_code(123_456_789)
NUMBERS = st.integers(0, 3_404_825_446)


def picture(text: str) -> Image.Image:
    """The symbol drawn from its runs, three dots to a module, with its quiet zone."""
    modules = matrix(text)
    side = len(modules) + 8
    small = Image.new("L", (side, side), 255)
    for x, y, length in runs(modules):
        small.paste(0, (x + 4, y + 4, x + 4 + length, y + 5))
    return small.resize((3 * side, 3 * side), Image.Resampling.NEAREST)


@pytest.mark.parametrize("host", ["", "LOT.LAN", "A", "10.0.0.5", "X:8443", "ABCDEFGHIJ"])
def test_a_reader_written_by_others_reads_it_at_version_1_or_2_with_correction_q(host: str) -> None:
    (seen,) = zxingcpp.read_barcodes(picture(payload(CODE, host)))
    assert seen.text == (f"HTTPS://{host}/S/{CODE}" if host else CODE)
    assert seen.ec_level == "Q"
    assert len(matrix(payload(CODE, host))) == SIDE_MODULES[2 if host else 1]


@given(NUMBERS)
@settings(max_examples=40, deadline=None)
def test_every_code_fits(n: int) -> None:
    code = issue_label_code(n)
    assert len(matrix(code)) == 21  # 17 + 4 × version modules, ISO/IEC 18004 (from memory)
    assert len(matrix(payload(code, "ABCDEFGH.J"))) == 25


@pytest.mark.parametrize(
    "host",
    ["ABCDEFGHIJK", "lot.lan", "LOT LAN", "LOT/LAN", "-LOT", "LOT.", "LÖT", "LOT:", "LOT:X", "LOT\n", " "],
)
def test_a_host_that_does_not_fit_is_refused_in_a_sentence(host: str) -> None:
    with pytest.raises(ValueError, match=r"does not fit the symbol\. .*Choose a shorter name"):
        payload(CODE, host)


@given(st.text(max_size=12))
def test_a_host_is_refused_or_stays_within_29_characters(host: str) -> None:
    # 29 capitals are what version 2 with correction Q holds: ISO/IEC 18004 (from memory).
    try:
        text = payload(CODE, host)
    except ValueError:
        return
    assert len(text) <= 29
    matrix(text)


def test_a_wrong_code_is_never_printed() -> None:
    wrong = CODE[:-1] + ("3" if CODE[-1] != "3" else "4")
    for code in (wrong, "", "1234-5678", CODE + CODE, "<script>"):
        with pytest.raises(CodeError):
            payload(code)
    assert payload(f"{CODE[:4]}-{CODE[4:].lower()}") == CODE  # as typed from a label


def test_a_text_too_long_is_an_error_and_never_a_bigger_symbol() -> None:
    assert len(matrix("A" * 16)) == 21  # 16 capitals: version 1, correction Q (from memory)
    with pytest.raises(ValueError, match="too long for a version 1 symbol"):
        matrix("A" * 17)
    assert len(matrix("/" + "A" * 28)) == 25
    with pytest.raises(ValueError, match="too long for a version 2 symbol"):
        matrix("/" + "A" * 29)
    with pytest.raises(ValueError, match="cannot stand in a symbol"):
        matrix("lower case")


def test_runs_cover_exactly_the_dark_modules() -> None:
    modules = matrix(payload(CODE, "LOT.LAN"))
    drawn = {(x + i, y) for x, y, length in runs(modules) for i in range(length)}
    assert drawn == {(x, y) for y, row in enumerate(modules) for x, dark in enumerate(row) if dark}
    assert sum(length for *_, length in runs(modules)) == len(drawn)  # none twice
