"""How far a scale may be off, against the published table."""

from decimal import Decimal

import pytest

from trace.codes.permissible import in_service, permissible

R76 = "OIML R 76-1:2006 (E), 3.5.1, table 6 and 3.5.2"
# class, load in e, error in e: on both sides of each step of the table.
TABLE = [
    ("I", 50_000, "0.5"), ("I", 50_001, "1"), ("I", 200_000, "1"), ("I", 200_001, "1.5"),
    ("II", 5_000, "0.5"), ("II", 5_001, "1"), ("II", 20_000, "1"), ("II", 20_001, "1.5"), ("II", 100_000, "1.5"),
    ("III", 0, "0.5"), ("III", 500, "0.5"), ("III", 501, "1"), ("III", 2_000, "1"), ("III", 2_001, "1.5"),
    ("III", 10_000, "1.5"),
    ("IIII", 50, "0.5"), ("IIII", 51, "1"), ("IIII", 200, "1"), ("IIII", 201, "1.5"), ("IIII", 1_000, "1.5"),
]  # fmt: skip


@pytest.mark.outside("published", R76)
@pytest.mark.parametrize(("accuracy", "load", "error"), TABLE)
def test_the_steps_of_the_table(accuracy: str, load: int, error: str) -> None:
    e = Decimal("0.02")
    assert permissible(accuracy, load * e, e) == Decimal(error) * e
    assert in_service(accuracy, load * e, e) == 2 * Decimal(error) * e


def test_beyond_the_table_nothing_is_said() -> None:
    e = Decimal("0.01")
    assert permissible("III", 10_001 * e, e) is None
    assert permissible("V", e, e) is None and in_service("III", Decimal(-1), e) is None
