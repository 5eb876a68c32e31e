"""GS1 check digits and element strings: what stands in a supplier's bar code."""

import calendar
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal

from trace.codes.errors import CodeError
from trace.codes.gs1_table import IDENTIFIERS, Identifier
from trace.codes.plain import printable

SEPARATOR = "\x1d"  # FNC1 as scanners send it; written ^ in print, a character no value may hold
LONGEST_TEXT = 4296  # the most characters one QR symbol of the alphanumeric mode holds
_NOW = "Scan the label again; if it is misprinted, type its lot by hand and tell the supplier."


@dataclass(frozen=True, slots=True)
class ElementString:
    """Application identifiers and their values, in the order of the label."""

    elements: tuple[tuple[str, str], ...]

    def value(self, identifier: str) -> str | None:
        """The value of an application identifier, None when the label does not hold it."""
        return dict(self.elements).get(identifier)

    @property
    def readable(self) -> str:
        """The human readable form, identifiers in brackets."""
        return "".join(f"({code}){value}" for code, value in self.elements)

    @property
    def encoded(self) -> str:
        """As a symbol holds it: a separator after each value of open length, except at the end."""
        parts = [f"{c}{v}{'' if IDENTIFIERS[c].length else SEPARATOR}" for c, v in self.elements]
        return "".join(parts).removesuffix(SEPARATOR)

    @property
    def lot(self) -> str | None:
        """The supplier's lot, AI 10."""
        return self.value("10")

    @property
    def item(self) -> str | None:
        """The 14 digits of the trade item number, AI 01 or 02."""
        return self.value("01") or self.value("02")

    @property
    def net_kg(self) -> Decimal | None:
        """The net weight in kilograms, AI 310n; the last digit of the identifier counts the decimals."""
        return next((Decimal(v).scaleb(-int(c[3])) for c, v in self.elements if c.startswith("310")), None)

    def on(self, identifier: str, today: date | None = None) -> date | None:
        """The calendar day of a date identifier (11, 13, 15, 17 …), None when the label does not hold it."""
        value = self.value(identifier)
        return None if value is None else gs1_date(value, today)


def check_digit(digits: str) -> str:
    """Return the GS1 check digit of `digits` (without it): weights 3, 1, 3 … from the right, modulo 10.

    Raises CodeError unless `digits` is 1 to 40 digits.
    """
    if not re.fullmatch("[0-9]{1,40}", digits):
        raise CodeError(
            f"“{printable(digits)}” has no check digit.", "It is not made of digits.", "Give digits only."
        )
    total = sum(int(d) * (3 if place % 2 == 0 else 1) for place, d in enumerate(reversed(digits)))
    return str(-total % 10)


def gs1_date(value: str, today: date | None = None) -> date:
    """Return the day of a six-digit GS1 date YYMMDD; day 00 is the last of the month.

    The year is the one nearest to `today` (default: the current day in UTC): 51 or more years ahead belongs
    to the century before, 50 or more behind to the next (GS1 General Specifications 7.12). Raises CodeError.
    """
    if not re.fullmatch("[0-9]{6}", value):
        raise CodeError(f"“{printable(value)}” is not a date.", "A date has six digits, YYMMDD.", _NOW)
    now = (today or datetime.now(UTC).date()).year
    yy, month, day = int(value[:2]), int(value[2:4]), int(value[4:])
    ahead = yy - now % 100
    year = now - now % 100 + yy + (-100 if ahead >= 51 else 0 if ahead > -50 else 100)
    if not 1 <= month <= 12 or day > calendar.monthrange(year, month)[1]:
        raise CodeError(f"“{value}” is not a date.", f"The year {year} has no such day (YYMMDD).", _NOW)
    return date(year, month, day or calendar.monthrange(year, month)[1])


def parse_element_string(text: str, today: date | None = None) -> ElementString:
    """Read a GS1 element string: as scanned (separators GS or ^), or as printed with identifiers in brackets.

    A separator too many is ignored. A missing one cannot be noticed here when the next identifier could
    belong to the value: compare lots with those expected. Raises CodeError for identifiers not known here,
    wrong lengths, characters or check digits, days that do not exist, and identifiers that miss or exclude a
    companion.
    """
    if len(text) > LONGEST_TEXT:
        raise CodeError(
            "This is not a GS1 label.", f"It has {len(text)} characters.", "Scan the label again."
        )
    given = text.strip(" \t\r\n").replace("^", SEPARATOR)
    elements = _printed(given) if given.startswith("(") else _scanned(given)
    for code, value in elements:
        check_value(code, value, today)
    check_companions(elements)
    return ElementString(elements)


def check_value(code: str, value: str, today: date | None = None) -> None:
    """Raise CodeError unless `value` is well formed for the application identifier `code`."""
    identifier = _known(code)
    said = f"({code}){printable(value, 40)}: the {identifier.title} is not well formed."
    if not identifier.value.fullmatch(value):
        raise CodeError(said, identifier.form, _NOW)
    if identifier.check in ("key", "pieces"):
        key = value if identifier.check == "key" else value[:14]
        if check_digit(key[:-1]) != key[-1]:
            raise CodeError(said, "Its check digit does not fit, so a digit was misread or misprinted.", _NOW)
    if identifier.check == "pieces" and not 0 < int(value[14:16]) <= int(value[16:]):
        raise CodeError(said, f"There is no piece {value[14:16]} of {value[16:]}.", _NOW)
    if identifier.check == "date":
        gs1_date(value, today)
    if identifier.check == "time":
        if value[4:6] == "00":
            raise CodeError(said, "Its day is 00.", _NOW)
        gs1_date(value[:6], today)
        if int(value[6:8]) > 23 or int(value[8:10] or 0) > 59 or int(value[10:] or 0) > 59:
            raise CodeError(said, "It names an hour, minute or second that does not exist.", _NOW)


def check_companions(elements: tuple[tuple[str, str], ...]) -> None:
    """Raise CodeError when an identifier misses a companion, meets one it excludes, or has two values."""
    values: dict[str, str] = {}
    for code, value in elements:
        if values.setdefault(code, value) != value:
            raise CodeError(f"({code}) stands twice.", "Its two values differ.", _NOW)
    for code in values:
        identifier = IDENTIFIERS[code]
        for group in identifier.needs:
            if not any(other in values for other in group):
                raise CodeError(f"({code}) stands alone.", f"It needs {' or '.join(group)} with it.", _NOW)
        for other in identifier.excludes:
            if other in values:
                raise CodeError(f"({code}) and ({other}) stand together.", "They exclude one another.", _NOW)


def _scanned(given: str) -> tuple[tuple[str, str], ...]:
    rest, elements = given.removeprefix(SEPARATOR), []
    while rest:
        identifier = _leading(rest)
        rest = rest[len(identifier.code) :]
        if identifier.length:
            value, rest = rest[: identifier.length], rest[identifier.length :]
            rest = rest.removeprefix(SEPARATOR)
        else:
            value, _, rest = rest.partition(SEPARATOR)
        elements.append((identifier.code, value))
    if not elements:
        raise CodeError("This is not a GS1 label.", "It is empty.", "Scan the label again.")
    return tuple(elements)


def _printed(given: str) -> tuple[tuple[str, str], ...]:
    elements = tuple(re.findall(r"\(([0-9]{2,4})\)([^()]*)", given))
    if "".join(f"({code}){value}" for code, value in elements) != given:
        raise CodeError(
            f"“{printable(given)}” is not a GS1 label.", "Its brackets do not hold identifiers of digits.", _NOW
        )
    return elements


def _leading(rest: str) -> Identifier:
    """The identifier at the beginning of `rest`; no known one is the beginning of another."""
    for size in (2, 3, 4):
        if len(rest) >= size and rest[:size] in IDENTIFIERS:
            return IDENTIFIERS[rest[:size]]
    return _known(rest[:4])


def _known(code: str) -> Identifier:
    identifier = IDENTIFIERS.get(code)
    if identifier is None:
        raise CodeError(
            f"“{printable(code)}” begins no part of a GS1 label known here.",
            "Identifiers are the two to four digits before a value.",
            _NOW,
        )
    return identifier
