"""How far a scale may be off by its class: OIML R 76-1 (2006), 3.5.1, table 6, and 3.5.2 for one in service."""

from decimal import Decimal

# Of each class: up to so many verification scale intervals half of one, then one, then one and a half.
STEPS: dict[str, tuple[int, int, int | None]] = {
    "I": (50_000, 200_000, None),
    "II": (5_000, 20_000, 100_000),
    "III": (500, 2_000, 10_000),
    "IIII": (50, 200, 1_000),
}
ERRORS = (Decimal("0.5"), Decimal(1), Decimal("1.5"))
IN_SERVICE = 2


def permissible(accuracy: str, load: Decimal, interval: Decimal) -> Decimal | None:
    """The largest error that a scale of this class may show for a load at its verification, in the unit of both; None
    for a load beyond what the table has, or a class that there is not."""
    if accuracy not in STEPS or interval <= 0 or load < 0:
        return None
    for most, error in zip(STEPS[accuracy], ERRORS, strict=True):
        if most is None or load <= most * interval:
            return error * interval
    return None


def in_service(accuracy: str, load: Decimal, interval: Decimal) -> Decimal | None:
    """What one may show that has been in use: twice as much."""
    error = permissible(accuracy, load, interval)
    return None if error is None else IN_SERVICE * error
