"""Our own label codes: eight characters, the last a check character, read from a label or typed."""

import re
from dataclasses import dataclass

from trace.codes.errors import CodeError
from trace.codes.plain import printable

# 23 characters, a prime number: leaves out those read for one another (0 O, 1 I L, 2 Z, 5 S, 8 B, G, U).
ALPHABET = "34679ACDEFHJKMNPQRTVWXY"
RADIX = 2
LENGTH = 8
CODES = len(ALPHABET) ** (LENGTH - 1)  # 3,404,825,447 different codes
LONGEST_TEXT = 300
_VALUE = {character: value for value, character in enumerate(ALPHABET)}
_ADDRESS = re.compile(r"https?://[^/?#\s]+/s/([^/?#]*)/?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class LabelCode:
    """One of our label codes, with a check character that fits."""

    code: str

    @property
    def printed(self) -> str:
        """The code as people read it, `XXXX-XXXX`."""
        return f"{self.code[:4]}-{self.code[4:]}"

    @property
    def number(self) -> int:
        """The number the code was issued for (inverse of `issue_label_code`)."""
        n = 0
        for character in self.code[:-1]:
            n = n * len(ALPHABET) + _VALUE[character]
        return n

def issue_label_code(n: int) -> str:
    """Return the label code of number `n` (0 to 3,404,825,446): 7 characters and a check character.

    The check character makes the fold t = (2 t + value) mod 23 over all eight characters end at 1: a pure
    system in the sense of ISO/IEC 7064 with modulus 23 and radix 2. Raises ValueError outside the range.
    """
    if not 0 <= n < CODES:
        raise ValueError(f"Label codes run from number 0 to {CODES - 1}; {n} is outside.")
    characters = []
    for _ in range(LENGTH - 1):
        n, value = divmod(n, len(ALPHABET))
        characters.append(ALPHABET[value])
    data = "".join(reversed(characters))
    return data + ALPHABET[(1 - RADIX * _fold(data)) % len(ALPHABET)]


def parse_label_code(text: str) -> LabelCode:
    """Read a label code from `text`: the bare code, or an address of any host that ends in `/S/<CODE>`.

    Hyphens and blanks are ignored and case is folded; a character outside the alphabet is refused, never
    repaired, because a guess would name another thing in the plant. Raises CodeError.
    """
    return LabelCode(_checked(code_part(text)))


def printed(code: str) -> str:
    """`XXXX-XXXX` for one of our label codes, any other text as it is: how a code is said to people."""
    try:
        return parse_label_code(code).printed
    except CodeError:
        return code


def code_part(text: str) -> str:
    """Return what stands after `/S/` when `text` is such an address, else `text` without outer blanks."""
    if len(text) > LONGEST_TEXT:
        raise CodeError(
            f"This text has {len(text)} characters.",
            "A label code has 8.",
            "Scan the label with the square symbol of this plant.",
        )
    stripped = text.strip()
    address = _ADDRESS.fullmatch(stripped)
    return address[1] if address else stripped


def is_address_form(text: str) -> bool:
    """Tell whether `text` is an address that ends in `/S/<something>`."""
    return len(text) <= LONGEST_TEXT and _ADDRESS.fullmatch(text.strip()) is not None


def _fold(characters: str) -> int:
    t = 0
    for character in characters:
        t = (RADIX * t + _VALUE[character]) % len(ALPHABET)
    return t


def _checked(part: str) -> str:
    again = "Read the label again or scan it."
    compact = re.sub(r"[- \t\xa0]", "", part)
    if not compact:
        raise CodeError("There is no label code.", "The text is empty.", "Scan or type the 8 characters.")
    for character in compact:
        if not character.isascii() or not character.isprintable():
            raise CodeError(
                f"“{printable(part)}” is not a label code.",
                f"It holds a character of another script or an invisible one (U+{ord(character):04X}).",
                again,
            )
    code = compact.upper()
    for character in code:
        if character not in _VALUE:
            raise CodeError(
                f"“{printable(part)}” is not a label code.",
                f"“{character}” is not used in label codes, since some characters are read for one another.",
                again,
            )
    if len(code) != LENGTH:
        raise CodeError(
            f"“{printable(part)}” is not a label code.",
            f"It has {len(code)} character{'s' if len(code) > 1 else ''}; a label code has {LENGTH}.",
            again,
        )
    if _fold(code) != 1:
        raise CodeError(
            f"“{printable(part)}” is not a label code.",
            "Its check character does not fit, so at least one character was misread.",
            again,
        )
    return code
