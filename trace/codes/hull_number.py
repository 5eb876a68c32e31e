"""Hull identification numbers: read, built and compared with the United States model-year period.

Layout of 33 CFR 181.25: 3 characters of the maker's code, 5 of the serial (letters or digits except I, O, Q),
the month of manufacture as a letter A to L, the last digit of its year, two digits of the model year. ISO
10087 puts a two-letter country code and a hyphen before it. The number has no check digit: a mistyped serial
is another well-formed number, so whoever looks one up compares it with the numbers issued.
"""

import re
from dataclasses import dataclass

from trace.codes.errors import CodeError
from trace.codes.plain import printable

MONTH_LETTERS = "ABCDEFGHIJKL"
# Two-digit years from 72 on are of the twentieth century: hull numbers began on 1 November 1972.
_CENTURY_PIVOT = 72
_AGAIN = "Read the number again, or look for the second one inside the hull."
_COUNTRY = re.compile(r"([A-Z]{2})-?(?=[^-]{12}\Z)")


@dataclass(frozen=True, slots=True)
class HullNumber:
    """A well-formed hull identification number."""

    country: str | None
    maker: str
    serial: str
    month: int
    production_years: tuple[int, ...]
    model_year: int

    @property
    def bare(self) -> str:
        """The 12 characters without the country code."""
        month = MONTH_LETTERS[self.month - 1]
        year_digit = self.production_years[0] % 10
        return f"{self.maker}{self.serial}{month}{year_digit}{self.model_year % 100:02}"

    @property
    def printed(self) -> str:
        """As it stands on the hull: `CC-` before the 12 characters when there is a country code."""
        return f"{self.country}-{self.bare}" if self.country else self.bare

    def fits_us_model_year(self) -> bool:
        """Tell whether the United States period gives this model year to the month of manufacture."""
        return any(self.model_year in us_model_years(year, self.month) for year in self.production_years)

    def __str__(self) -> str:
        return self.printed


def us_model_years(year: int, month: int) -> tuple[int, ...]:
    """Return the model years a hull made in that month may carry in the United States.

    A model year runs from 1 June to 31 July of the next year and is named by its end (33 CFR 175.3), so June
    and July belong to two.
    """
    return tuple(y for y, belongs in ((year, month <= 7), (year + 1, month >= 6)) if belongs)


def parse_hull_number(text: str) -> HullNumber:
    """Read a hull identification number: 12 characters, or `CC-` or `CC` and 12 characters. Case is folded.

    Raises CodeError for another layout and when no year of manufacture fits the model year: it must end in
    the digit given and be the model year or the year before.
    """
    given = text.strip()
    if not given:
        raise CodeError("There is no hull number.", "The text is empty.", _AGAIN)
    said = f"“{printable(given, 40)}” is not a hull number."
    if not given.isascii():
        raise CodeError(said, "It holds characters other than plain letters and digits.", _AGAIN)
    folded = given.upper()
    found = _COUNTRY.match(folded)
    country, number = (found[1], folded[found.end() :]) if found else (None, folded)
    for wrong, why in _layout_faults(number):
        if wrong:
            raise CodeError(said, why, _AGAIN)
    model_year = _full_year(int(number[10:]))
    years = tuple(y for y in (model_year - 1, model_year) if y % 10 == int(number[9]))
    if not years:
        raise CodeError(
            said,
            f"A hull of model year {model_year} is made in {model_year - 1} or {model_year}, "
            f"and neither ends in {number[9]}.",
            _AGAIN,
        )
    return HullNumber(country, number[:3], number[3:8], MONTH_LETTERS.index(number[8]) + 1, years, model_year)


def build_hull_number(
    maker: str, serial: str, month: int, year: int, model_year: int, *, country: str | None = None
) -> HullNumber:
    """Return the hull number for a maker's code, a 5-character serial, month and year made, and model year.

    Years have four digits. Raises CodeError when the parts make no well-formed number or when the number
    would be read back as another year.
    """
    if not 1 <= month <= 12:
        raise CodeError(f"{month} is no month.", "Months run from 1 to 12.", "Give the month of manufacture.")
    if model_year not in (year, year + 1):
        raise CodeError(
            f"Model year {model_year} does not fit a hull made in {year}.",
            "The model year is the year of manufacture or the one after.",
            "Correct one of the two.",
        )
    number = f"{maker}{serial}{MONTH_LETTERS[month - 1]}{year % 10}{model_year % 100:02}"
    built = parse_hull_number(f"{country}-{number}" if country else number)
    parts = (built.country, built.maker, built.serial, built.production_years, built.model_year)
    if parts != (country, maker, serial, (year,), model_year):
        raise CodeError(
            f"{built.printed} would not be read back as it was meant.",
            "The maker's code has 3 capitals or digits, the serial 5, and years run from 1972 to 2071.",
            "Correct the parts.",
        )
    return built


def _layout_faults(number: str) -> tuple[tuple[bool, str], ...]:
    """Say what is wrong with the 12 characters; the first that holds is the one to tell."""
    serial, month = number[3:8], number[8:9]
    bad = next((c for c in serial if c in "IOQ"), "")
    return (
        (
            re.search(r"[\s/-]", number) is not None,
            "Its 12 characters stand without hyphens, slashes or blanks.",
        ),
        (
            len(number) != 12,
            f"It has {len(number)} characters; the number has 12, or 14 with a country code.",
        ),
        (not number.isalnum(), "It holds a character that is neither a letter nor a digit."),
        (bool(bad), f"“{bad}” stands in the serial, where I, O and Q are not used (33 CFR 181.25)."),
        (month not in MONTH_LETTERS, f"“{month}” is no month letter; A is January and L is December."),
        (
            not number[9:].isdigit(),
            "Its last three characters are the year digit and the model year: digits.",
        ),
    )


def _full_year(two_digits: int) -> int:
    return two_digits + (1900 if two_digits >= _CENTURY_PIVOT else 2000)
