"""Uncertainty of amounts that were read off instruments: of one reading, and of a sum of many.

After JCGM 100:2008 (the Guide to the expression of uncertainty in measurement), from memory. Variances are exact
fractions, in the square of the unit of what is given; only the root taken at the end is rounded.
"""

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction

# Expanded uncertainty is so many standard ones: about 95 % where many small effects add up (JCGM 100:2008, 6.3.3).
COVERAGE = 2
# So many digits of an uncertainty say something (JCGM 100:2008, 7.2.6).
SIGNIFICANT = 2
Number = int | Fraction | Decimal


def of_step(step: Number) -> Fraction:
    """Variance of one reading of a display that moves by `step`: step²/12 (JCGM 100:2008, F.2.2.1)."""
    return Fraction(step) ** 2 / 12


def of_limits(limit: Number) -> Fraction:
    """Variance of an error of which only ± `limit` is known: limit²/3 (JCGM 100:2008, 4.3.7)."""
    return Fraction(limit) ** 2 / 3


def in_common(limits: Iterable[Number]) -> Fraction:
    """Variance of a sum of readings that share one error, as of one scale: the limits add up before they are squared
    (JCGM 100:2008, 5.2.2, whose example is ten resistors calibrated with one standard)."""
    return of_limits(sum((Fraction(limit) for limit in limits), Fraction(0)))


def standard(variance: Fraction) -> Decimal:
    """The standard uncertainty, to 20 digits, in the unit of what was given."""
    with localcontext(prec=40):
        root = (Decimal(variance.numerator) / Decimal(variance.denominator)).sqrt()
    with localcontext(prec=20):
        return +root


def shown(uncertainty: Decimal) -> Decimal:
    """An uncertainty to two significant digits, as it is read; files keep all of them (JCGM 100:2008, 7.2.6)."""
    if not uncertainty:
        return uncertainty
    rounded = _to_place(uncertainty, uncertainty.adjusted() - SIGNIFICANT + 1)
    # 0.0996 became 0.100: one digit too many.
    return _to_place(rounded, rounded.adjusted() - SIGNIFICANT + 1)


def shown_beside(value: Decimal, uncertainty: Decimal) -> Decimal:
    """A value to the place of its uncertainty's last digit as that is read; as it is where there is none."""
    return _to_place(value, int(shown(uncertainty).as_tuple().exponent)) if uncertainty else value


def _to_place(value: Decimal, exponent: int) -> Decimal:
    """Rounded there, a half away from nought; left of the point noughts stand where digits say nothing."""
    with localcontext(prec=60):
        return value.quantize(Decimal(1).scaleb(exponent), ROUND_HALF_UP)
