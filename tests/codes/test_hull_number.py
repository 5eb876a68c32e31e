"""Hull numbers against 33 CFR 181.25, the model-year period of 33 CFR 175.3, and published strings."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trace.codes import CodeError, build_hull_number, parse_hull_number, us_model_years

VECTORS = json.loads((Path(__file__).parents[1] / "vectors" / "hull_numbers.json").read_text())


@pytest.mark.parametrize("row", VECTORS["valid"], ids=lambda row: row[0])
def test_well_formed_numbers_are_read(row: list[object]) -> None:
    printed, country, maker, serial, month, made, model_year, fits = row
    hull = parse_hull_number(str(printed))
    assert (hull.country, hull.maker, hull.serial, hull.month) == (country, maker, serial, month)
    assert (hull.production_years, hull.model_year) == ((made,), model_year)
    assert hull.printed == printed
    assert hull.fits_us_model_year() is fits


@pytest.mark.parametrize(("text", "why"), VECTORS["invalid"])
def test_others_are_refused_with_the_reason(text: str, why: str) -> None:
    with pytest.raises(CodeError, match=why):
        parse_hull_number(text)


@pytest.mark.parametrize(("text", "year"), VECTORS["two_digit_model_years"])
@pytest.mark.outside("published", "33 CFR 181.25")
def test_82_and_83_are_1982_and_1983_as_the_rule_says(text: str, year: int) -> None:
    assert parse_hull_number(text).model_year == year


@pytest.mark.parametrize("text", ["us-abc12345a626", "USABC12345A626", " US-ABC12345A626\n"])
def test_case_blanks_and_a_missing_hyphen_are_taken(text: str) -> None:
    assert parse_hull_number(text).printed == "US-ABC12345A626"


@pytest.mark.parametrize("text", ["", "ABC12345\uff21626", "ABC12345A6²6", "А" * 12, "US--ABC12345A626"])
def test_other_scripts_and_shapes_are_refused(text: str) -> None:
    with pytest.raises(CodeError):
        parse_hull_number(text)


@pytest.mark.parametrize(
    ("year", "month", "expected"),
    [
        (2026, 5, (2026,)),
        (2026, 6, (2026, 2027)),
        (2026, 7, (2026, 2027)),
        (2026, 8, (2027,)),
        (2026, 12, (2027,)),
    ],
)
def test_model_year_runs_from_june_to_the_next_july(year: int, month: int, expected: tuple[int, ...]) -> None:
    """33 CFR 175.3: 1 June to 31 July of the next year, named by its end."""
    assert us_model_years(year, month) == expected


SERIALS = st.text("0123456789ABCDEFGHJKLMNPRSTUVWXYZ", min_size=5, max_size=5)


@given(
    SERIALS, st.integers(1, 12), st.integers(1973, 2070), st.booleans(), st.sampled_from([None, "NO", "US"])
)
def test_what_is_built_is_read_back(
    serial: str, month: int, year: int, later: bool, country: str | None
) -> None:
    built = build_hull_number("QZX", serial, month, year, year + later, country=country)
    assert parse_hull_number(built.printed) == built
    assert built.production_years == (year,)
    assert len(built.bare) == 12


@pytest.mark.parametrize(
    ("maker", "serial", "month", "year", "model_year"),
    [
        ("QZX", "0A12O", 4, 2026, 2026),
        ("QZX", "0A12", 4, 2026, 2026),
        ("qzx", "0A123", 4, 2026, 2026),
        ("QZX", "0A123", 13, 2026, 2026),
        ("QZX", "0A123", 4, 2026, 2028),
        ("QZX", "0A123", 4, 2026, 2025),
        ("QZX", "0A123", 4, 1926, 1926),
        ("QZ", "X0A123", 4, 2026, 2026),
    ],
)
def test_parts_that_make_no_number_are_refused(
    maker: str, serial: str, month: int, year: int, model_year: int
) -> None:
    with pytest.raises(CodeError):
        build_hull_number(maker, serial, month, year, model_year)


def test_a_number_is_written_as_it_is_printed() -> None:
    assert str(parse_hull_number("us-abc12345a626")) == "US-ABC12345A626"
