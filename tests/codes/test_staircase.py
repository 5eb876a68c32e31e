"""The mean failure height of a staircase, against a published table and an independent reckoning."""

from decimal import Decimal
from random import Random
from statistics import fmean

import pytest

from trace.codes.staircase import next_height, reckoned

Drops = list[tuple[Decimal, bool]]


def counted(step: str, failed: dict[str, int], passed: dict[str, int]) -> Drops:
    return [
        (Decimal(height), bad) for bad, heights in ((True, failed), (False, passed)) for height, n in heights.items()
        for _ in range(n)
    ]  # fmt: skip


@pytest.mark.outside(
    "published",
    "J. Soc. Cosmetic Chemists 20 (1969), no. 1, a drop test by the up-and-down method: its counts as read from a scan",
)
def test_a_published_table() -> None:
    failed = {"0.9": 1, "1.2": 5, "1.5": 6, "1.8": 3, "2.1": 1}
    passed = {"0.6": 1, "0.9": 6, "1.2": 7, "1.5": 3, "1.8": 1}
    found = reckoned(counted("0.3", failed, passed), Decimal("0.3"))
    assert found is not None and (found.counted, found.by_failures) == (16, True)
    assert found.mean == Decimal("1.3125") and found.deviation is not None
    assert round(found.deviation, 4) == Decimal("0.4925")


@pytest.mark.outside("identity", "the mean of the rarer outcome's heights, half a step towards the other")
@pytest.mark.parametrize("seed", range(12))
def test_it_is_the_mean_of_the_rarer_outcome_half_a_step_off(seed: int) -> None:
    rng = Random(seed)
    step, height = Decimal("0.15"), Decimal("1.05")
    drops: Drops = []
    for _ in range(24):
        failed = rng.gauss(1.2, 0.2) < float(height)
        drops.append((height, failed))
        height = next_height(height, failed, step)
    found = reckoned(drops, step)
    assert found is not None
    rarer = [float(at) for at, failed in drops if failed is found.by_failures]
    assert len(rarer) * 2 <= len(drops) and found.counted == len(rarer)
    assert float(found.mean) == pytest.approx(fmean(rarer) + (-0.075 if found.by_failures else 0.075))
    # By the other outcome it is nearly the same: a staircase crosses from one to the other at each turn.
    others = [float(at) for at, failed in drops if failed is not found.by_failures]
    assert float(found.mean) == pytest.approx(fmean(others) + (0.075 if found.by_failures else -0.075), abs=0.1)


@pytest.mark.parametrize(
    ("drops", "step"),
    [
        ([], "0.15"), ([("1.05", True)], "0.15"), ([("1.05", False), ("1.20", False)], "0.15"),
        ([("1.05", False), ("1.15", True)], "0.15"), ([("1.05", False), ("1.20", True)], "0"),
    ],
)  # fmt: skip
def test_what_is_no_staircase_says_nothing(drops: list[tuple[str, bool]], step: str) -> None:
    assert reckoned([(Decimal(at), failed) for at, failed in drops], Decimal(step)) is None


def test_where_the_next_drop_is() -> None:
    step = Decimal("0.15")
    assert next_height(Decimal("1.05"), True, step) == Decimal("0.90")
    assert next_height(Decimal("1.05"), False, step) == Decimal("1.20")
    assert next_height(Decimal("0.15"), True, step) == step
