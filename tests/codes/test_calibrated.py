"""What a calibration found: which point was worst, and whether all were within their limits."""

from decimal import Decimal

import pytest

from trace.codes.calibrated import Point, worst


def point(reference: str, found: str, limit: str = "") -> Point:
    shown = Decimal(found)
    return Point(Decimal(reference), shown, shown, Decimal(limit) if limit else None)


@pytest.mark.parametrize(
    ("points", "at"),
    [
        ((("1", "1.01", "0.01"), ("5", "5.03", "0.10"), ("10", "10.02", "0.10")), "1"),
        ((("5", "5.03", "0.10"), ("10", "9.95", "0.10")), "10"),
        ((("5", "5.01"), ("10", "9.95"), ("20", "20.00")), "10"),
    ],
    ids=["of its own limit, not by its size", "below as well as above", "by its size where nothing says a limit"],
)
def test_the_worst_point_is_the_one_furthest_off(points: tuple[tuple[str, ...], ...], at: str) -> None:
    assert worst([point(*one) for one in points]).reference == Decimal(at)
