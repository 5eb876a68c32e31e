"""Amounts are exact, and a wrong one is answered by one sentence that says what to write."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trace.codes import AmountError, CodeError, kg_to_mg, mg_to_kg, parse_amount


@pytest.mark.parametrize(
    ("text", "uom", "amount"),
    [
        ("12.20", "mg", 12_200_000),
        (" 9.15\n", "mg", 9_150_000),
        ("0.000001", "mg", 1),
        ("0", "mg", 0),
        ("007", "pc", 7),
        ("8", "pc", 8),
        ("430", "mm", 430),
    ],
)
def test_plain_numbers(text: str, uom: str, amount: int) -> None:
    assert parse_amount(text, uom) == amount


@pytest.mark.parametrize(
    ("text", "uom", "says"),
    [
        ("1,5", "mg", "write 1.5 with a point"),
        ("1,234.5", "mg", "write 1234.5 without commas"),
        ("-1", "mg", "without the minus sign"),
        ("−1", "mg", "without the minus sign"),
        ("1e9", "mg", "without an exponent"),
        ("NaN", "mg", "write digits and a decimal point"),
        ("Infinity", "mg", "write digits and a decimal point"),
        ("+5", "mg", "write digits and a decimal point"),
        ("1_000", "mg", "write digits and a decimal point"),
        ("١٢", "mg", "write digits and a decimal point"),
        ("", "mg", "No amount was given"),
        ("  ", "pc", "No amount was given"),
        (".5", "mg", "write 0.5"),
        ("12.2 kg", "mg", "without the unit"),
        ("1.1234567", "mg", "at most 6"),
        ("100000.1", "mg", "above the limit of 100000 kg"),
        ("9" * 5000, "mg", "too long"),
        ("1.0", "pc", "whole number"),
        ("8 pc", "pc", "without the unit"),
        ("1\u202e2", "mg", "1·2"),
    ],
)
def test_a_wrong_amount_gets_one_clear_sentence(text: str, uom: str, says: str) -> None:
    with pytest.raises(AmountError) as refusal:
        parse_amount(text, uom)
    said = str(refusal.value)
    assert says in said
    assert said.isprintable()
    assert said.endswith(".")
    assert isinstance(refusal.value, CodeError)


def test_limit_is_the_callers_in_the_unit_as_typed() -> None:
    assert parse_amount("25", "mg", Decimal("25")) == 25_000_000
    with pytest.raises(AmountError, match=r"25\.1 kg is above the limit of 25 kg"):
        parse_amount("25.1", "mg", Decimal("25"))
    with pytest.raises(AmountError, match="9 pieces is above the limit of 8 pieces"):
        parse_amount("9", "pc", Decimal(8))


def test_other_units_are_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="mg, pc or mm"):
        parse_amount("1", "kg")


@pytest.mark.parametrize(
    "value", [Decimal("NaN"), Decimal("Infinity"), Decimal("1E+30"), Decimal("1E-7"), "x"]
)
def test_kilograms_that_make_no_milligrams(value: str | Decimal) -> None:
    with pytest.raises(AmountError):
        kg_to_mg(value)


def test_decimals_with_exponents_and_signs_are_taken() -> None:
    assert (kg_to_mg(Decimal("1E+1")), kg_to_mg(Decimal("-0.5"))) == (10_000_000, -500_000)


@given(st.integers(-(10**18), 10**18))
def test_milligrams_survive_the_way_through_kilograms(mg: int) -> None:
    kg = mg_to_kg(mg)
    assert kg_to_mg(kg) == mg
    assert "E" not in str(kg)


@given(st.text(max_size=60), st.sampled_from(["mg", "pc", "mm"]))
def test_any_text_is_an_amount_or_a_sentence(text: str, uom: str) -> None:
    try:
        assert parse_amount(text, uom) >= 0
    except AmountError as refusal:
        assert str(refusal).isprintable()


def test_a_decimal_is_as_exact_as_its_text_and_refused_in_the_same_sentences() -> None:
    assert kg_to_mg(Decimal("12.20")) == 12_200_000
    for value, says in (("1e18", "more than any amount"), ("NaN", "is not an amount"), ("0.0000001", "finer than")):
        with pytest.raises(AmountError, match=says):
            kg_to_mg(Decimal(value))


def test_a_text_as_long_as_an_amount_may_be_is_read() -> None:
    assert parse_amount("0" * 39 + "7", "pc") == 7
    with pytest.raises(AmountError, match="too long"):
        parse_amount("0" * 40 + "7", "pc")
