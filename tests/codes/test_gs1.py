"""GS1 check digits, element strings and Digital Link addresses against GS1's own published cases."""

import json
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import ean

from trace.codes import (
    CodeError,
    build_digital_link,
    check_digit,
    gs1_date,
    parse_digital_link,
    parse_element_string,
)
from trace.codes.gs1 import LONGEST_TEXT

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "gs1.json").read_text())
TODAY = date.fromisoformat(VECTORS["today"])


@pytest.mark.parametrize(("digits", "check"), VECTORS["check_digit"])
@pytest.mark.outside("published", "GS1 check digits: member pages and syntax dictionary")
def test_check_digit(digits: str, check: str) -> None:
    assert check_digit(digits) == check


@pytest.mark.parametrize("digits", VECTORS["check_digit_bad"])
def test_wrong_check_digits_are_noticed(digits: str) -> None:
    assert check_digit(digits[:-1]) != digits[-1]


@given(st.text("0123456789", min_size=12, max_size=12))
@pytest.mark.outside("library", "python-stdnum: ean")
def test_check_digit_is_that_of_python_stdnum(digits: str) -> None:
    assert check_digit(digits) == ean.calc_check_digit(digits)


@pytest.mark.parametrize("digits", ["", "12a", " 23456789012345675", "١٢٣"])
def test_check_digit_of_other_text_is_refused(digits: str) -> None:
    with pytest.raises(CodeError):
        check_digit(digits)


@pytest.mark.parametrize(("text", "elements"), VECTORS["element_string"])
def test_element_strings(text: str, elements: list[list[str]] | None) -> None:
    if elements is None:
        with pytest.raises(CodeError):
            parse_element_string(text, TODAY)
    else:
        assert [list(pair) for pair in parse_element_string(text, TODAY).elements] == elements


@pytest.mark.parametrize(("text", "accepted"), VECTORS["engine_raw"])
@pytest.mark.outside("published", "GS1 syntax engine, its own test cases")
def test_cases_of_the_syntax_engine(text: str, accepted: bool) -> None:
    if accepted:
        parse_element_string(text, TODAY)
    else:
        with pytest.raises(CodeError):
            parse_element_string(text, TODAY)


@pytest.mark.parametrize(("text", "encoded"), VECTORS["encode"])
def test_printed_form_becomes_the_scanned_form(text: str, encoded: str | None) -> None:
    if encoded is None:
        with pytest.raises(CodeError):
            parse_element_string(text, TODAY)
    else:
        assert parse_element_string(text, TODAY).encoded == encoded


@pytest.mark.parametrize(("code", "value", "day"), VECTORS["date_today_2026"])
def test_dates(code: str, value: str, day: str) -> None:
    label = parse_element_string(code + value, TODAY)
    assert label.on(code, TODAY) == date.fromisoformat(day)


@pytest.mark.parametrize(("yy", "year"), [(76, 2076), (77, 1977), (26, 2026), (99, 1999), (0, 2000)])
def test_century_of_a_two_digit_year(yy: int, year: int) -> None:
    """GS1 General Specifications 7.12 by the dictionary's date linter: 51 and more ahead is the past."""
    assert gs1_date(f"{yy:02}0131", TODAY).year == year


def test_a_year_far_behind_belongs_to_the_next_century() -> None:
    assert gs1_date("100131", date(2095, 1, 1)).year == 2110


def test_supplier_label_tells_lot_item_weight_and_expiry() -> None:
    label = parse_element_string("010952123454321317261231310300125010LOT42", TODAY)
    assert (label.lot, label.item, label.net_kg) == ("LOT42", "09521234543213", Decimal("1.250"))
    assert label.on("17", TODAY) == date(2026, 12, 31)
    assert label.readable == "(01)09521234543213(17)261231(3103)001250(10)LOT42"
    assert label.value("21") is None


def test_the_item_in_a_case_is_the_item_of_the_label() -> None:
    # AI 02 names what is in the case; the case has its own number, AI 00, and tells how many there are, AI 37.
    label = parse_element_string("0010952100000000000802095212345432133712", TODAY)
    assert (label.item, label.value("01")) == ("09521234543213", None)


@pytest.mark.parametrize(
    "text",
    [
        "(02)09521234543213",  # needs 37
        "(37)12",  # needs the container and its contents
        "(21)1234",  # needs an item
        "(254)12",  # needs the location
        "(01)09521234543213(02)09521234543213(37)4(00)006141411234567890",
        "(3103)001250",
        "(8006)095212345432130403",  # piece 4 of 3
        "(8006)095212345432130000",
        "(10)A(10)B",
        "(1A)12345",
        "(10)12345^",
        "(10)1(2",
        "8008" + "26030225",
        "8008" + "26030014",
        "8008" + "2603021",
        "\x1d",
    ],
)
def test_labels_that_contradict_themselves_are_refused(text: str) -> None:
    with pytest.raises(CodeError):
        parse_element_string(text, TODAY)


@pytest.mark.parametrize(("uri", "elements"), VECTORS["dl_parse"])
@pytest.mark.outside("published", "GS1 Digital Link, cases of the syntax engine")
def test_digital_links(uri: str, elements: list[list[str]] | None) -> None:
    if elements is None:
        with pytest.raises(CodeError):
            parse_digital_link(uri, TODAY)
    else:
        found = parse_digital_link(uri, TODAY).content.elements
        assert sorted(found) == sorted(tuple(pair) for pair in elements)


@pytest.mark.parametrize(("stem", "text", "uri"), VECTORS["dl_generate"])
def test_addresses_are_built_as_published(stem: str | None, text: str, uri: str | None) -> None:
    content = parse_element_string(text, TODAY)
    if uri is None:
        with pytest.raises(CodeError):
            build_digital_link(content)
    else:
        assert (build_digital_link(content, stem) if stem else build_digital_link(content)) == uri


@pytest.mark.parametrize(
    "uri",
    [
        "https://a/01/12312312312333/10/%zz",
        "https://a/01/12312312312333/10/%FF",
        "https://a/01/12312312312333/10/é",
        "https://a/01/12312312312333?10=ABC",  # a qualifier belongs into the path
        "https://a/01/12312312312333?99=A+B",  # a blank is no character of the set
        "https://a",
        "ftp://a/01/12312312312333",
        "https://a/" + "x" * 3000,
    ],
)
def test_other_addresses_are_refused(uri: str) -> None:
    with pytest.raises(CodeError):
        parse_digital_link(uri, TODAY)


SET_82 = "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"


@given(st.text(SET_82, min_size=1, max_size=20), st.text(SET_82, min_size=1, max_size=20))
def test_lot_and_serial_survive_both_ways_of_writing(lot: str, serial: str) -> None:
    label = parse_element_string(f"010952123454321310{lot}\x1d21{serial}", TODAY)
    assert (label.lot, label.value("21")) == (lot, serial)
    assert parse_element_string(label.encoded, TODAY) == label
    assert parse_digital_link(build_digital_link(label), TODAY).content == label


@pytest.mark.parametrize("text", ["", "26011", "2601011", "26O101", " 60101"])
def test_a_date_has_six_digits(text: str) -> None:
    with pytest.raises(CodeError, match="A date has six digits"):
        gs1_date(text, TODAY)


def test_a_label_may_be_as_long_as_the_longest_and_no_longer() -> None:
    longest = "10LOT42".ljust(LONGEST_TEXT)
    assert parse_element_string(longest, TODAY).lot == "LOT42"
    with pytest.raises(CodeError, match=f"It has {LONGEST_TEXT + 1} characters"):
        parse_element_string(longest + " ", TODAY)


@pytest.mark.parametrize(("piece", "fits"), [("0212", True), ("1212", True), ("1312", False), ("0012", False)])
def test_a_piece_is_one_of_as_many_as_there_are(piece: str, fits: bool) -> None:
    """AI 8006 (GS1 General Specifications, from memory): the item, which piece it is, of how many."""
    text = f"(8006)09521234543213{piece}"
    if fits:
        assert parse_element_string(text, TODAY).value("8006") == f"09521234543213{piece}"
    else:
        with pytest.raises(CodeError, match="There is no piece"):
            parse_element_string(text, TODAY)


def test_a_query_with_a_number_that_is_no_identifier_says_so() -> None:
    with pytest.raises(CodeError, match="“9999” in its query is no identifier known here"):
        parse_digital_link("https://a/01/09521234543213?9999=1")


def test_a_key_without_a_value_ends_no_path() -> None:
    with pytest.raises(CodeError, match="does not end in a GS1 key and a value"):
        parse_digital_link("https://a/b/c/01")


def test_an_address_as_long_as_one_may_be_is_read() -> None:
    address = "https://a/01/09521234543213?x="
    assert parse_digital_link(address + "y" * (2000 - len(address))).stem == "https://a"
    with pytest.raises(CodeError, match="It has 2001 characters"):
        parse_digital_link(address + "y" * (2001 - len(address)))
