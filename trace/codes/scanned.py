"""Tell what a scanned text is: our label, a hull's number, a supplier's label, or something foreign."""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from trace.codes.digital_link import parse_digital_link
from trace.codes.errors import CodeError
from trace.codes.gs1 import SEPARATOR, ElementString, parse_element_string
from trace.codes.hull_number import HullNumber, parse_hull_number
from trace.codes.label import ALPHABET, LENGTH, LabelCode, code_part, is_address_form, parse_label_code
from trace.codes.plain import printable, storable

Kind = Literal["label", "hull number", "plate", "supplier", "foreign"]
LONGEST_SCAN = 2000
# Blanks and the start and end marks some scanners add; plain str.strip() would take the separator GS away.
_AROUND = " \t\r\n\x02\x03\ufeff"
# Symbology identifiers of ISO/IEC 15424 that scanners may send first, and those that announce GS1 data.
_SYMBOLOGY = re.compile(r"\][A-Za-z][0-9A-Za-z]")
_GS1_SYMBOLOGIES = ("]C1", "]e0", "]d2", "]Q3", "]J1")
_GS1_BEGINNINGS = re.compile(r"(?:00[0-9]{18}|0[12][0-9]{14}|414[0-9]{13}|8006[0-9]{18})")
_HULL = re.compile(r"(?:[A-Z]{2}-?)?[A-Z0-9]{8}[A-Z][0-9]{3}", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True, slots=True)
class Scanned:
    """What a scanned text is.

    `text` is the form to look up (8 characters of a label, a hull number or plate in capitals, else the text
    as scanned, made storable); `shown` at most 80 printable characters of it; `sentence` is the one thing a
    person should know. One of `label`, `hull` and `supplier` is set for these kinds.
    """

    kind: Kind
    text: str
    shown: str
    sentence: str
    label: LabelCode | None = None
    hull: HullNumber | None = None
    supplier: ElementString | None = None


def parse_scan(text: str, plate_prefixes: Sequence[str] = ()) -> Scanned:
    """Say what `text` is; never opens an address and never repairs a character.

    `plate_prefixes` are the beginnings of the plant's own plate numbers (such as `GHM-T430-`). Raises
    CodeError, and nothing else, for an empty text, one too long for a label, and one of our own labels that
    was misread.
    """
    if len(text) > LONGEST_SCAN:
        raise CodeError(
            f"This symbol holds {len(text)} characters.",
            "No label of this plant or of a supplier is so long.",
            "Scan the plant's own label.",
        )
    given = text.strip(_AROUND)
    symbology = _SYMBOLOGY.match(given)
    announced = symbology is not None and symbology[0] in _GS1_SYMBOLOGIES
    given = given[3:] if symbology else given
    if not given.strip(_AROUND + SEPARATOR):
        raise CodeError("Nothing was scanned.", "The text is empty.", "Scan the label again.")
    return (
        _plate(given, plate_prefixes)
        or _label(given)
        or _hull(given)
        or _supplier(given, announced)
        or _foreign(given, "This is not a label of this plant; it is taken as a supplier's code.")
    )


def _plate(given: str, prefixes: Sequence[str]) -> Scanned | None:
    serial = given.upper()
    if not (given.isascii() and given.isprintable() and len(given) <= 80):
        return None
    if any(prefix and serial.startswith(prefix.upper()) and serial != prefix.upper() for prefix in prefixes):
        return Scanned("plate", serial, serial, "This is the plate of a hull.")
    return None


def _label(given: str) -> Scanned | None:
    """Our label; CodeError when it is meant as one and cannot be read; None for something else."""
    address = is_address_form(given)
    part = code_part(given) if len(given) <= 300 else ""
    # Look-alikes of other scripts and invisible characters are seen through to know what was meant, no more.
    meant = "".join(c for c in unicodedata.normalize("NFKC", part[:60]) if c.isprintable() and c not in " -")
    ours = sum(c.upper() in ALPHABET for c in meant)
    likely = ours >= LENGTH - 2 or (address and meant.isalnum())
    if len(part) > 60 or len(meant) != LENGTH or not likely:
        return None
    try:
        label = parse_label_code(given)
    except CodeError:
        # Suppliers number with eight characters too. Only the plant's address, its printed form or a text in
        # its alphabet with letters is surely one of its labels.
        in_print = re.fullmatch(r"\s*\S{4}-\S{4}\s*", part) is not None
        if address or in_print or (ours == LENGTH and not meant.isdecimal()) or not part.isascii():
            raise
        return _foreign(
            given, "This is not a label of this plant; if it should be one, scan or read it again."
        )
    return Scanned("label", label.code, label.printed, "This is a label of this plant.", label=label)


def _hull(given: str) -> Scanned | None:
    if not _HULL.fullmatch(given):
        return None
    try:
        hull = parse_hull_number(given)
    except CodeError as error:
        return _foreign(given, f"This looks like a hull number but is none: {_clause(error.why)}")
    return Scanned("hull number", hull.printed, hull.printed, "This is the number of a hull.", hull=hull)


def _supplier(given: str, announced: bool) -> Scanned | None:
    address = re.match("https?://", given, re.IGNORECASE) is not None
    likely = announced or given.startswith((SEPARATOR, "(")) or _GS1_BEGINNINGS.match(given) is not None
    if not address and not likely:
        return None
    try:
        content = parse_digital_link(given).content if address else parse_element_string(given)
    except CodeError as error:
        if address:
            return _foreign(given, "This is an address of another site; it is shown and never opened.")
        return _foreign(given, f"This looks like a GS1 label but cannot be read as one: {_clause(error.why)}")
    return Scanned(
        "supplier", storable(given), printable(content.readable), "This is a GS1 label.", supplier=content
    )


def _foreign(given: str, sentence: str) -> Scanned:
    return Scanned("foreign", storable(given), printable(given), sentence)


def _clause(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]
