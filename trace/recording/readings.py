"""Figures that are read off an instrument and typed: temperatures, speeds, masses, thicknesses, certificate values."""

from decimal import Decimal, InvalidOperation

LARGEST = 1_000_000


def reading(text: str) -> Decimal | None:
    """A reading as typed, or None when it is no plain number below a million."""
    try:
        value = Decimal(text.strip())
    except InvalidOperation:
        return None
    # Decimal takes the digits of every script; the table takes only those of ASCII.
    plain = value.is_finite() and text.isascii() and "e" not in text.lower() and "_" not in text
    return value if plain and abs(value) < LARGEST and len(text.strip()) <= 14 else None


def mass_trouble(text: str) -> str:
    """Why a text is no mass in kg, as a sentence; nothing is no trouble."""
    if not text or (reading(text) or 0) > 0:
        return ""
    return f"“{text[:20]}” is not a mass: write kilograms with a point, as in 28.60."
