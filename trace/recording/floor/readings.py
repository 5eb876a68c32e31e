"""Figures that are read off an instrument and typed: temperatures, speeds, masses, thicknesses, certificate values."""

from decimal import Decimal, InvalidOperation
from typing import Any

LARGEST = 1_000_000
# A moulding weighs what was charged, its inserts and graphics, less what stuck or spilt: beyond these shares of the
# charges the figure was mistyped. Common practice, no source.
LIGHTEST, HEAVIEST = Decimal("0.5"), Decimal(2)
THICKEST = 10  # times the least of its zone: common practice, no source
# Between these a set temperature, the air inside and a peak can lie, in °C: common practice, no source.
COLDEST_C, HOTTEST_C = 0, 500


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


def charged_trouble(text: str, charged: int | None) -> str:
    """Why a mass in kg cannot be that of something made of so many mg, as a sentence; nothing where it can."""
    value = reading(text)
    if value is None or not charged:
        return ""
    kilograms = Decimal(charged) / 1_000_000
    if LIGHTEST * kilograms <= value <= HEAVIEST * kilograms:
        return ""
    return f"{text[:20]} kg is impossible: {kilograms.normalize():f} kg were charged. Read the scale again."


def mass_limits(recipes: list[dict[str, Any]], charged: int | None) -> tuple[Decimal, Decimal] | None:
    """Between which kg something made by these recipes (one a moulding) out of so many mg lies; None where nobody can
    say.

    The layers' tolerances are allowed both ways, what is trimmed or spilt (`flash_kg`) below and what inserts and
    graphics add (`fittings_kg`) above. Where a recipe does not say these, half of its lightest layer: a layer that is
    missing, or in it twice, still shows.
    """
    layers = [layer for recipe in recipes for layer in recipe.get("layers", [])]
    if not charged or not layers:
        return None
    apart = sum(Decimal(layer["tolerance_kg"]) for layer in layers)
    half = min(Decimal(layer["target_kg"]) for layer in layers) / 2
    said = [recipe.get("mass", {}) for recipe in recipes]
    flash, fittings = (sum(Decimal(one.get(name, half)) for one in said) for name in ("flash_kg", "fittings_kg"))
    kilograms = Decimal(charged) / 1_000_000
    return kilograms - apart - flash, kilograms + apart + fittings


def mass_facts(text: str, recipes: list[dict[str, Any]], charged: int | None) -> dict[str, Any]:
    """What the rules ask of a mass that was read off a scale; one that cannot be read is another rule's matter."""
    value, limits = reading(text), mass_limits(recipes, charged)
    low, high = limits or (Decimal(0), Decimal(0))
    return {
        "shown": text[:20],
        "charged": f"{(Decimal(charged or 0) / 1_000_000).normalize():f}",
        "low": f"{low:.2f}",
        "high": f"{high:.2f}",
        "light": value is not None and limits is not None and value < low,
        "heavy": value is not None and limits is not None and value > high,
    }


def number_trouble(values: dict[str, str]) -> str:
    """Why one of these texts, by what it is, is no number, as a sentence; nothing is no trouble."""
    for name, text in values.items():
        if text and reading(text) is None:
            return f"“{text[:20]}” is not a number for {name}: write digits and a point, as in 204.5."
    return ""


def temperature_trouble(values: dict[str, str]) -> str:
    """Why one of these texts, by what it is, is no temperature of an oven or a mould; nothing is no trouble."""
    trouble = number_trouble(values)
    for name, text in values.items():
        if text and not trouble and not COLDEST_C <= (reading(text) or 0) <= HOTTEST_C:
            trouble = (
                f"{text[:20]} °C for {name} is none that an oven or a mould shows: "
                f"write degrees Celsius from {COLDEST_C} to {HOTTEST_C}, as in 204.5."
            )
    return trouble


def window(given: Any) -> tuple[Decimal, Decimal] | None:
    """The [low, high] of a recipe; None where it gives none that can be read."""
    low, high = (reading(str(x)) for x in [*(given or ()), "", ""][:2])
    return None if low is None or high is None else (low, high)
