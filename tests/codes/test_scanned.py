"""What a scanned text is, and that no text whatever does more than be shown or refused."""

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from trace.codes import (
    CodeError,
    check_digit,
    issue_label_code,
    parse_digital_link,
    parse_element_string,
    parse_hull_number,
    parse_label_code,
    parse_scan,
    printable,
    storable,
)
from trace.codes.label import ALPHABET
from trace.codes.scanned import _clause

PREFIXES = ("GHM-T430-",)


@pytest.mark.parametrize(
    ("text", "kind", "found"),
    [
        ("337M9ECK", "label", "337M9ECK"),
        ("\x02337m-9eck\r", "label", "337M9ECK"),
        ("]Q1HTTPS://LOT.LAN/S/337M9ECK", "label", "337M9ECK"),
        ("https://another.host/S/337M9ECK", "label", "337M9ECK"),
        ("GHM-T430-004417", "plate", "GHM-T430-004417"),
        ("ghm-t430-004417", "plate", "GHM-T430-004417"),
        ("QZX0A123D626", "hull number", "QZX0A123D626"),
        ("us-abc12345a626", "hull number", "US-ABC12345A626"),
        ("]C1010952123454321310LOT42", "supplier", "010952123454321310LOT42"),
        ("(01)09521234543213(10)LOT42", "supplier", "(01)09521234543213(10)LOT42"),
        ("https://a/01/09521234543213/10/LOT42", "supplier", "https://a/01/09521234543213/10/LOT42"),
        ("V-2291", "foreign", "V-2291"),
        ("N-0417", "foreign", "N-0417"),
        ("34673467", "foreign", "34673467"),  # eight digits of a supplier
        ("337M9ECO", "foreign", "337M9ECO"),  # not repaired; its sentence says to read again
        ("GHM-T430-", "foreign", "GHM-T430-"),
        ("<script>alert(1)</script>", "foreign", "<script>alert(1)</script>"),
        ("https://elsewhere.example/s/offer", "foreign", "https://elsewhere.example/s/offer"),
    ],
)
def test_kinds(text: str, kind: str, found: str) -> None:
    scanned = parse_scan(text, PREFIXES)
    assert (scanned.kind, scanned.text) == (kind, found)
    assert (scanned.label is not None) == (kind == "label")
    assert (scanned.hull is not None) == (kind == "hull number")
    assert (scanned.supplier is not None) == (kind == "supplier")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "empty"),
        (" \x1d\r\n", "empty"),
        ("337M-9ECO", "“O” is not used"),
        ("337M9ECC", "check character"),
        ("HTTPS://LOT.LAN/S/337M9ECC", "check character"),
        ("33\u202e7M9ECK", "U+202E"),
        ("３３７M9ECK", "U+FF13"),
        ("x" * 5000, "5000 characters"),
    ],
)
def test_our_own_misread_labels_and_absurd_texts_are_refused(text: str, why: str) -> None:
    with pytest.raises(CodeError) as refusal:
        parse_scan(text, PREFIXES)
    assert why in str(refusal.value)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("QZX0O123D626", "hull number"),
        ("0109521234543214", "check digit"),
        ("https://elsewhere.example/s/offer", "never opened"),
    ],
)
def test_foreign_text_says_what_it_looked_like(text: str, word: str) -> None:
    assert word in parse_scan(text).sentence


HOSTILE = st.one_of(
    st.text(max_size=200),
    st.text(st.characters(categories=["Cc", "Cf", "Cs", "Zs", "Zl", "Co", "Mn", "Nd"]), max_size=60),
    st.text(f"{ALPHABET}OI0 -\u2013\u202e\u200b\u0410ſı", min_size=7, max_size=10),
    st.text("0123456789^\x1d()ABab", max_size=80),
    st.builds(
        lambda host, rest: f"https://{host}{rest}",
        st.text(max_size=20),
        st.text("/S01?&=%2f;#é", max_size=60),
    ),
    st.builds(
        lambda a, b: a + b, st.sampled_from(["]C1", "01", "00", "(01)", "8006", "8008"]), st.text(max_size=40)
    ),
    st.text("ABCQZXIO0123456789-", min_size=11, max_size=16),
)


@settings(max_examples=3000, deadline=None)
@given(HOSTILE)
@example("\ud800")
@example("]C1")
@example("https://")
@example("ß" * 8)
@example("(01)²²²²²²²²²²²²²²")
@example("800826030２")
def test_any_text_is_named_or_refused_in_plain_words(text: str) -> None:
    try:
        scanned = parse_scan(text, PREFIXES)
    except CodeError as refusal:
        said = str(refusal)
        assert said.isprintable()
        assert said.endswith(".")
        return
    assert 0 < len(scanned.shown) <= 80
    assert scanned.shown.isprintable()
    assert scanned.sentence.isprintable()
    assert scanned.sentence.endswith(".")
    assert "\x00" not in scanned.text
    scanned.text.encode()


@settings(max_examples=1000, deadline=None)
@given(HOSTILE)
@example("https://a/01/12312312312333/22/T/\t10/A")
def test_every_reader_refuses_in_plain_words(text: str) -> None:
    readers = (parse_label_code, parse_hull_number, parse_element_string, parse_digital_link, check_digit)
    for read in readers:
        try:
            read(text)
        except CodeError as refusal:
            assert str(refusal).isprintable()


@given(st.integers(0, 23**7 - 1), st.text(st.characters(codec="ascii", categories=["L", "N"]), min_size=1))
def test_a_label_is_read_under_any_host(n: int, host: str) -> None:
    code = issue_label_code(n)
    assert parse_scan(f"HTTPS://{host}/S/{code}").text == code


@given(st.text(max_size=200), st.integers(1, 100))
def test_shown_text_is_short_and_printable(text: str, limit: int) -> None:
    line = printable(text, limit)
    assert len(line) <= limit
    assert line.isprintable()


def test_storable_text_has_no_nul_and_no_lone_surrogate() -> None:
    assert storable("a\x00b\ud800c") == "a\ufffdb\ufffdc"
    assert len(storable("x" * 9000)) == 4096


def test_a_text_of_just_the_length_is_shown_whole() -> None:
    assert (printable("abc", 3), printable("abcd", 3)) == ("abc", "ab…")


def test_eight_characters_are_a_label_only_where_they_look_like_one() -> None:
    """Eight letters of another script are nobody's label; eight digits may be a supplier's, or ours misread."""
    strange, digits = parse_scan("ÄÖÜßÄÖÜß"), parse_scan("34673467")
    assert (strange.kind, digits.kind) == ("foreign", "foreign")
    assert "taken as a supplier's code" in strange.sentence
    assert "if it should be one, scan or read it again" in digits.sentence


def test_our_label_in_the_digits_of_another_script_is_no_supplier_s_code() -> None:
    with pytest.raises(CodeError, match="another script"):
        parse_scan("\uff13\uff14\uff16\uff17\uff13\uff14\uff16\uff17")


def test_a_sentence_goes_on_within_another_with_its_own_words() -> None:
    assert [_clause(one) for one in ("The key of 01 is wrong.", "A", "")] == ["the key of 01 is wrong.", "a", ""]
