"""Label codes against python-stdnum's ISO/IEC 7064 code and against every error the check must catch."""

import json
from itertools import pairwise, product
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_2

from trace.codes import CodeError, issue_label_code, parse_label_code
from trace.codes.label import ALPHABET, CODES

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "label_codes.json").read_text())
numbers = st.integers(0, CODES - 1)


@pytest.mark.parametrize(("n", "code"), VECTORS["codes"])
def test_issued_codes_are_the_published_ones(n: int, code: str) -> None:
    assert issue_label_code(n) == code
    assert parse_label_code(code).printed == f"{code[:4]}-{code[4:]}"


@given(numbers)
def test_check_character_is_that_of_iso_7064(n: int) -> None:
    code = issue_label_code(n)
    assert mod_37_2.calc_check_digit(code[:-1], alphabet=ALPHABET) == code[-1]
    assert mod_37_2.is_valid(code, alphabet=ALPHABET)


@given(numbers)
def test_a_code_leads_back_to_its_number(n: int) -> None:
    assert parse_label_code(issue_label_code(n)).number == n


@pytest.mark.parametrize("n", [-1, CODES])
def test_numbers_outside_are_refused(n: int) -> None:
    with pytest.raises(ValueError, match="outside"):
        issue_label_code(n)


def test_fold_catches_every_error_of_two_neighbours_wherever_it_stands() -> None:
    """Exhaustive: the fold is linear, so an error shows unless its weighted difference is 0 modulo 23.

    Single substitution, adjacent transposition, jump transposition and twin error at each of 8 places.
    """
    weights = [pow(2, 7 - place, 23) for place in range(8)]
    values = range(23)
    for w in weights:
        assert all(w * (a - b) % 23 for a, b in product(values, values) if a != b)
    for left, right in pairwise(weights):
        for a, b in product(values, values):
            if a != b:
                assert (left * (a - b) + right * (b - a)) % 23  # ab read as ba
                assert (left + right) * (a - b) % 23  # aa read as bb
    for left, right in zip(weights, weights[2:], strict=False):
        assert all((left - right) * (a - b) % 23 for a, b in product(values, values) if a != b)


@given(numbers, st.data())
def test_every_single_error_and_swap_of_a_real_code_is_refused(n: int, data: st.DataObject) -> None:
    code = issue_label_code(n)
    for place in range(8):
        for other in ALPHABET.replace(code[place], ""):
            with pytest.raises(CodeError):
                parse_label_code(code[:place] + other + code[place + 1 :])
    place = data.draw(st.integers(0, 6))
    if code[place] != code[place + 1]:
        with pytest.raises(CodeError, match="check character"):
            parse_label_code(code[:place] + code[place + 1] + code[place] + code[place + 2 :])


@pytest.mark.parametrize(
    "text",
    [
        "337M9ECK",
        "337M-9ECK",
        " 337m 9eck\r\n",
        "3-3-7-M-9-E-C-K",
        "HTTPS://LOT.LAN/S/337M9ECK",
        "https://old-host.example:8443/s/337m-9eck",
        "http://192.168.1.20/S/337M9ECK/",
    ],
)
def test_bare_code_and_address_of_any_host_are_read(text: str) -> None:
    assert parse_label_code(text).code == "337M9ECK"


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("337M-9ECO", "“O” is not used"),
        ("I37M-9ECK", "“I” is not used"),
        ("0", "“0” is not used"),
        ("3", "It has 1 character;"),
        ("337M-9EC", "7 characters"),
        ("337M-9ECKK", "9 characters"),
        ("337M-9ECC", "check character"),
        ("", "empty"),
        ("---", "empty"),
        ("337M\u20139ECK", "U+2013"),
        ("33\u202e7M9ECK", "U+202E"),
        ("３３７M9ECK", "U+FF13"),
        ("337M9\u0415CK", "U+0415"),
        ("\ufb007M9ECK", "U+FB00"),
        ("ſ37M9ECK", "U+017F"),
        ("https://lot.lan/x/337M9ECK", "not used"),
        ("A" * 5000, "5000 characters"),
    ],
)
def test_refusals_say_why_and_what_now(text: str, why: str) -> None:
    with pytest.raises(CodeError) as refusal:
        parse_label_code(text)
    assert why in str(refusal.value)
    assert refusal.value.what
    assert refusal.value.now.endswith(".")
