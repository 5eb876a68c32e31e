"""Uncertainty against worked examples that others published."""

from decimal import Decimal
from fractions import Fraction
from statistics import NormalDist

import pytest

from trace.codes import uncertainty


@pytest.mark.outside("published", "JCGM 100:2008, F.2.2.1 (a weighing instrument that shows grams), from memory")
def test_a_display_of_whole_grams_is_off_by_0_29_g() -> None:
    assert uncertainty.of_step(1) == Fraction(1, 12)
    assert round(uncertainty.standard(uncertainty.of_step(1)), 2) == Decimal("0.29")


@pytest.mark.outside("published", "JCGM 100:2008, 4.3.7 (expansion of copper, 16.52 ± 0.40), from memory")
def test_limits_of_0_40_are_0_23() -> None:
    variance = uncertainty.of_limits(Decimal("0.40"))
    assert round(float(variance), 4) == 0.0533
    assert round(uncertainty.standard(variance), 2) == Decimal("0.23")


@pytest.mark.outside("published", "JCGM 100:2008, 5.2.2 (ten resistors calibrated with one standard), from memory")
def test_what_shares_one_error_adds_up_before_it_is_squared() -> None:
    """Ten resistors of 1 kΩ, each by the same standard with u = 100 mΩ: in series 1 Ω, and not 0.32 Ω."""
    limit = Fraction(100)  # mΩ; the example gives the standard uncertainty itself
    together = uncertainty.standard(3 * uncertainty.in_common([limit] * 10))
    apart = uncertainty.standard(sum((3 * uncertainty.of_limits(limit) for _ in range(10)), Fraction(0)))
    assert together == 1000
    assert round(apart / 1000, 2) == Decimal("0.32")


@pytest.mark.outside("published", "University of Tartu, worked example “Uncertainty of Simple Weighing”")
def test_a_simple_weighing() -> None:
    """Repeatability 0.17 mg, drift within ± 0.2 mg, a display of 0.1 mg (± 0.05 mg): u = 0.207525 mg."""
    variance = Fraction("0.17") ** 2 + uncertainty.of_limits(Decimal("0.2")) + uncertainty.of_step(Decimal("0.1"))
    assert round(uncertainty.standard(variance), 6) == Decimal("0.207525")


def test_nothing_is_off_by_nothing() -> None:
    assert uncertainty.standard(uncertainty.in_common([])) == 0


@pytest.mark.outside("published", "JCGM 100:2008, Table G.1: k = 2 holds 95.45 % of a normal distribution")
def test_twice_the_standard_uncertainty_is_about_95_per_cent() -> None:
    assert NormalDist().cdf(uncertainty.COVERAGE) - NormalDist().cdf(-uncertainty.COVERAGE) == pytest.approx(
        0.9545, abs=5e-5
    )


@pytest.mark.outside("published", "EURACHEM/CITAC Guide CG 4, A1: a balance within ± 0.15 mg, u = 0.09 mg; from memory")
def test_a_balance_within_0_15_mg() -> None:
    assert round(uncertainty.standard(uncertainty.of_limits(Decimal("0.15"))), 2) == Decimal("0.09")


@pytest.mark.outside("identity", "3² + 4² + 12² = 13²: contributions add up as squares (JCGM 100:2008, 5.1.2)")
def test_contributions_add_up_as_squares() -> None:
    variances = [uncertainty.of_limits(part) for part in (3, 4, 12)]
    assert 3 * sum(variances, Fraction(0)) == 13**2


@pytest.mark.outside("published", "JCGM 100:2008, 7.2.6 (10.057 62 ohms with 27 milliohms; 28.05 kHz), from memory")
def test_an_uncertainty_has_two_digits_and_its_value_the_same_place() -> None:
    ohms = uncertainty.shown_beside(Decimal("10.05762"), Decimal("0.027"))
    assert (str(ohms), str(uncertainty.shown(Decimal("0.027")))) == ("10.058", "0.027")
    assert f"{uncertainty.shown(Decimal('28.05')):f}" == "28"


@pytest.mark.parametrize(
    ("value", "off", "said"),
    [
        ("0.4", "0.130973", ("0.40", "0.13")), ("12.345678", "0.0996", ("12.35", "0.10")),
        ("1234.5", "123.4", ("1230", "120")), ("0.4", "0", ("0.4", "0")), ("2.345", "0.0949", ("2.345", "0.095")),
        ("-0.125", "0.995", ("-0.1", "1.0")), ("0", "0.13", ("0.00", "0.13")),
    ],
)  # fmt: skip
def test_no_figure_has_more_digits_than_it_is_known_to(value: str, off: str, said: tuple[str, str]) -> None:
    found = uncertainty.shown_beside(Decimal(value), Decimal(off)), uncertainty.shown(Decimal(off))
    assert tuple(f"{one:f}" for one in found) == said
