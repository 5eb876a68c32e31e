"""What a sheet says of a hull, as a cause by which others are asked for: of a figure a range around it."""

from decimal import Decimal, InvalidOperation

# How far around a figure others count as like it: common practice, no source. Of a certificate's value a share of it,
# since its unit is the supplier's.
WIDE = {
    "peak": "2", "stage": "2", "moulded-mass": "0.1", "hull-mass": "0.1", "thickness": "0.1", "charged": "0.1",
}  # fmt: skip
OF_A_CERTIFICATE = Decimal("0.02")


def same(word: str, value: object, part: str = "") -> str:
    """A cause of a thing or a fact, as “mould=T430-01”; "" where there is no value."""
    text = str(value or "").strip()
    return f"{_named(word, part)}={text}" if text else ""


def like(word: str, text: object, part: str = "") -> str:
    """A cause of a figure, as “peak=206..210”; "" where the text is none."""
    try:
        value = Decimal(str(text).strip())
    except InvalidOperation:
        return ""
    if not value.is_finite():
        return ""
    wide = _share(value) if word == "certificate" else Decimal(WIDE[word])
    return f"{_named(word, part)}={value - wide:f}..{value + wide:f}"


def _share(value: Decimal) -> Decimal:
    """So much of a value, to one digit more than it has."""
    digit = Decimal(1).scaleb(int(value.as_tuple().exponent) - 1)
    return max(abs(value) * OF_A_CERTIFICATE, digit).quantize(digit)


def _named(word: str, part: str) -> str:
    return f"{word}:{part}" if part else word
