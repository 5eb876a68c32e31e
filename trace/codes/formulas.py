"""The arithmetic of charges, walls, shrinkage, arm speeds and blends; decimals in and out, and nothing is rounded
but what says so.

Results are estimates for planning and for checking records. What a product needs is settled by its own
trials; how plant may be run, by its maker's instructions and local rules.
"""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

MM_PER_M = Decimal(1000)
L_PER_M3 = Decimal(1000)


class FormulaError(ValueError):
    """The values given cannot be put into the formula; the text says why."""


def percent_of(part: Decimal | int, whole: Decimal | int, places: int = 1) -> Decimal:
    """How many per cent `part` is of `whole`, rounded half up to so many places; above 100 where it is more.

    What a recall has reached is units corrected of units affected, what is reconciled of a lot is accounted for of
    received. Raises FormulaError where `whole` is not above zero.
    """
    _above_zero(whole=Decimal(whole))
    return (Decimal(part) * 100 / Decimal(whole)).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def charge_mass_kg(area_m2: Decimal, wall_mm: Decimal, density_kg_m3: Decimal) -> Decimal:
    """Mass of one layer, m = A t rho, for a wall thin against its radius (common practice)."""
    _above_zero(area_m2=area_m2, wall_mm=wall_mm, density_kg_m3=density_kg_m3)
    return area_m2 * wall_mm / MM_PER_M * density_kg_m3


def wall_from_charge_mm(charge_kg: Decimal, area_m2: Decimal, density_kg_m3: Decimal) -> Decimal:
    """Mean wall of one layer, t = m / (rho A) (common practice).

    For a foaming layer the density is the one it foamed to: without it, show a range.
    """
    _above_zero(charge_kg=charge_kg, area_m2=area_m2, density_kg_m3=density_kg_m3)
    return charge_kg / (density_kg_m3 * area_m2) * MM_PER_M


def box_shell_mass_kg(
    length_mm: Decimal, width_mm: Decimal, height_mm: Decimal, wall_mm: Decimal, density_kg_m3: Decimal
) -> Decimal:
    """Exact mass of a closed box of even wall, outer sizes given: outer less inner volume (geometry)."""
    outer = (length_mm, width_mm, height_mm)
    _above_zero(wall_mm=wall_mm, density_kg_m3=density_kg_m3)
    if min(outer) <= 2 * wall_mm:
        raise FormulaError(f"A wall of {wall_mm} mm leaves no inside in a box of {min(outer)} mm.")
    solid, hollow = Decimal(1), Decimal(1)
    for side in outer:
        solid *= side / MM_PER_M
        hollow *= (side - 2 * wall_mm) / MM_PER_M
    return (solid - hollow) * density_kg_m3


def thin_wall_error(thin_kg: Decimal, exact_kg: Decimal) -> Decimal:
    """Exact mass over thin-wall mass, less 1: -0.02 means the thin-wall formula says about 2 % too much."""
    _above_zero(thin_kg=thin_kg, exact_kg=exact_kg)
    return exact_kg / thin_kg - 1


def charge_volume_l(charge_kg: Decimal, bulk_density_kg_m3: Decimal) -> Decimal:
    """Litres of loose powder, V = m / rho_bulk, for tub and mould half to hold (common practice)."""
    _above_zero(charge_kg=charge_kg, bulk_density_kg_m3=bulk_density_kg_m3)
    return charge_kg / bulk_density_kg_m3 * L_PER_M3


def wall_band_mm(nominal_mm: Decimal, tolerance: Decimal) -> tuple[Decimal, Decimal]:
    """Least and greatest wall for a tolerance given as a fraction (0.2 for 20 %), 0 to below 1."""
    _above_zero(nominal_mm=nominal_mm)
    if not 0 <= tolerance < 1:
        raise FormulaError(f"A tolerance is a fraction from 0 to below 1, as 0.2 for 20 %, not {tolerance}.")
    return nominal_mm * (1 - tolerance), nominal_mm * (1 + tolerance)


def shrinkage(mould_mm: Decimal, part_mm: Decimal) -> Decimal:
    """Linear shrinkage as a fraction of the mould, S = (L_mould - L_part) / L_mould."""
    _above_zero(mould_mm=mould_mm, part_mm=part_mm)
    return (mould_mm - part_mm) / mould_mm


def part_length_mm(mould_mm: Decimal, shrinkage_fraction: Decimal) -> Decimal:
    """Length of the cold part, the inverse of `shrinkage`."""
    _above_zero(mould_mm=mould_mm)
    if not 0 <= shrinkage_fraction < 1:
        raise FormulaError(f"A shrinkage is a fraction from 0 to below 1, not {shrinkage_fraction}.")
    return mould_mm * (1 - shrinkage_fraction)


def speed_ratio(arm_rpm: Decimal, plate_rpm: Decimal) -> Decimal:
    """Speed ratio R = arm / (plate - arm), the plate's speed taken on the drive shaft (trade handbooks).

    Negative when the shaft turns slower than the arm. Another definition in use is plate turns per arm turn
    (`plate_turns_per_arm_turn`): store both speeds and show R with its definition. FormulaError when the
    speeds are equal: the plate then stands still on its arm.
    """
    _above_zero(arm_rpm=arm_rpm, plate_rpm=plate_rpm)
    if plate_rpm == arm_rpm:
        raise FormulaError(
            f"Arm and plate both turn at {arm_rpm} rpm, so the ratio arm / (plate - arm) has no value; by "
            "the other definition, plate turns per arm turn, it is 1. Check both speeds."
        )
    return arm_rpm / (plate_rpm - arm_rpm)


def plate_rpm(arm_rpm: Decimal, ratio: Decimal) -> Decimal:
    """Drive shaft speed for a wanted ratio R, the inverse of `speed_ratio`: plate = arm (1 + 1/R)."""
    _above_zero(arm_rpm=arm_rpm)
    if ratio == 0:
        raise FormulaError("No plate speed gives a ratio of 0: the arm would have to stand still.")
    return arm_rpm * (1 + 1 / ratio)


def plate_turns_per_arm_turn(arm_rpm: Decimal, plate_rpm: Decimal) -> Decimal:
    """The other definition of a speed ratio, plate / arm: not to be mixed with `speed_ratio`."""
    _above_zero(arm_rpm=arm_rpm, plate_rpm=plate_rpm)
    return plate_rpm / arm_rpm


def blend_mfi(parts: Sequence[tuple[Decimal, Decimal]]) -> Decimal:
    """Melt flow index of a blend by the log rule, ln MFI = sum of w ln MFI; an estimate only.

    `parts` are (mass fraction, melt flow index in g/10 min), fractions adding up to 1.
    """
    _check_parts(parts)
    return sum((share * mfi.ln() for share, mfi in parts), Decimal(0)).exp()


def blend_density(parts: Sequence[tuple[Decimal, Decimal]]) -> Decimal:
    """Density of a blend of volumes that add up, 1/rho = sum of w/rho; an estimate only.

    `parts` are (mass fraction, density), fractions adding up to 1; any one unit of density.
    """
    _check_parts(parts)
    return 1 / sum((share / density for share, density in parts), Decimal(0))


def true_mass_kg(displayed_kg: Decimal, low_by: Decimal) -> Decimal:
    """What really lay on a scale found to read low by a fraction: displayed = true (1 - low_by).

    A negative `low_by` is a scale that read high.
    """
    if not -1 < low_by < 1:
        raise FormulaError(f"An error is a fraction between -1 and 1, as 0.018 for 1.8 %, not {low_by}.")
    return displayed_kg / (1 - low_by)


def _above_zero(**values: Decimal) -> None:
    for name, value in values.items():
        if not value.is_finite() or value <= 0:
            raise FormulaError(f"{name} must be above zero, not {value}.")


def _check_parts(parts: Sequence[tuple[Decimal, Decimal]]) -> None:
    total = sum((share for share, _ in parts), Decimal(0))
    if abs(total - 1) > Decimal("0.0001") or any(share < 0 for share, _ in parts):
        raise FormulaError(f"The fractions of a blend add up to 1; these add up to {total}.")
    for _, value in parts:
        _above_zero(value=value)
