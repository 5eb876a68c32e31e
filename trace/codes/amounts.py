"""Amounts at the edges: typed text and decimals in, whole milligrams, pieces or millimetres out."""

import re
from decimal import Decimal, localcontext

from trace.codes.errors import AmountError
from trace.codes.plain import printable

MG_PER_KG = 1_000_000
LIMIT = Decimal(100_000)  # kilograms, pieces or millimetres: above any container of the trade
LONGEST_TEXT = 40
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_TYPED = {"mg": ("kg", 6), "pc": ("pieces", 0), "mm": ("mm", 0)}


def kg_to_mg(value: str | Decimal) -> int:
    """Return kilograms (a Decimal, or digits with a decimal point) as whole milligrams.

    Raises AmountError for text that is no plain number, for a number that is not finite and for parts of a
    milligram: nothing is rounded.
    """
    kg = _number(value, "12.20") if isinstance(value, str) else value
    if not kg.is_finite():
        raise AmountError(f"“{kg}” is not an amount.")
    with localcontext(prec=60):
        mg = kg * MG_PER_KG
        whole = int(mg) if abs(kg) < 10**18 else None
        if whole is None:
            raise AmountError(f"“{printable(str(kg))}” kg is more than any amount here can be.")
        if mg != whole:
            raise AmountError(f"“{printable(str(kg))}” kg is finer than a milligram: give at most 6 decimals.")
    return whole


def mg_to_kg(mg: int) -> Decimal:
    """Return whole milligrams as kilograms, exactly, without an exponent and with at least 3 decimals."""
    kg = Decimal(mg).scaleb(-6)
    for places in ("0.001", "0.0001", "0.00001"):
        shorter = kg.quantize(Decimal(places))
        if shorter == kg:
            return shorter
    return kg


def parse_amount(text: str, uom: str, limit: Decimal = LIMIT) -> int:
    """Read a typed amount and return it in `uom`: "mg" (typed in kg), "pc" (pieces) or "mm".

    `limit` is the greatest amount taken, in the unit as typed (kg, pieces, mm). Zero is an amount; a sign, an
    exponent, a comma or a unit is not part of one. Raises AmountError, one sentence saying what to write;
    ValueError for another `uom`.
    """
    if uom not in _TYPED:
        raise ValueError(f"Amounts are kept in mg, pc or mm, not in {uom!r}.")
    unit, decimals = _TYPED[uom]
    number = _number(text, "12.20" if decimals else "12")
    written = text.strip()
    if not decimals and "." in written:
        raise AmountError(f"“{written}” is not a whole number: write {unit} without a decimal point.")
    if len(written.partition(".")[2]) > decimals:
        raise AmountError(f"“{written}” has too many decimals: write at most {decimals}, as in 12.20.")
    if number > limit:
        raise AmountError(f"{printable(written)} {unit} is above the limit of {limit:f} {unit} here: check it.")
    return kg_to_mg(number) if uom == "mg" else int(number)


def _number(text: str, example: str) -> Decimal:
    """Return the plain decimal number in `text`; AmountError says what to write instead."""
    written = text.strip()
    if not written:
        raise AmountError(f"No amount was given: write a number such as {example}.")
    if len(written) > LONGEST_TEXT:
        raise AmountError(f"This is too long for an amount: write a number such as {example}.")
    if _NUMBER.fullmatch(written):
        return Decimal(written)
    said = f"“{printable(written)}” is not an amount"
    if re.fullmatch(r"[0-9]+,[0-9]+", written):
        raise AmountError(f"{said}: write {written.replace(',', '.')} with a point.")
    if re.fullmatch(r"[0-9]{1,3}(,[0-9]{3})+(\.[0-9]+)?", written):
        raise AmountError(f"{said}: write {written.replace(',', '')} without commas.")
    if re.fullmatch(r"[-−–][0-9.,]+", written):
        raise AmountError(f"{said}: an amount is never below zero, so write it without the minus sign.")
    if re.fullmatch(r"\.[0-9]+", written):
        raise AmountError(f"{said}: write 0{written} with a digit before the point.")
    if re.fullmatch(r"[0-9.]+[eE][-+]?[0-9]+", written):
        raise AmountError(f"{said}: write all digits, as in {example}, without an exponent.")
    if re.fullmatch(r"[0-9.,]+\s*[A-Za-z]+", written):
        raise AmountError(f"{said}: write the number alone, as in {example}, without the unit.")
    raise AmountError(f"{said}: write digits and a decimal point, as in {example}.")
