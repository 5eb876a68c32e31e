"""When an old hull can have been made, from a day, a month or a year on record."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.utils import timezone

from trace.genealogy.built import _said
from trace.genealogy.graph import Node
from trace.genealogy.missing import _made


@pytest.mark.parametrize(
    ("said", "day"),
    [
        ("2025-08-14", date(2025, 8, 14)),
        ("2025-08", date(2025, 8, 31)),
        ("2024-02", date(2024, 2, 29)),
        ("2025", date(2025, 12, 31)),
        ("", None),
        (None, None),
        ("August", None),
        ("2025-13", None),
    ],
)
def test_the_last_day_it_can_have_been_made(said: Any, day: date | None) -> None:
    hull = Node(1, "u", "hull", None, {"made": said}, None, None, None, 1, datetime(2026, 1, 5, tzinfo=UTC))
    assert _made(hull) == day


@pytest.mark.parametrize(
    ("made", "first", "last"),
    [
        ("2023-04-09", (4, 9), (4, 9)), ("2023-04", (4, 1), (4, 30)), ("2023-02", (2, 1), (2, 28)),
        ("2023", (1, 1), (12, 31)),
    ],
)  # fmt: skip
def test_the_first_and_the_last_day_that_a_record_may_mean(
    made: str, first: tuple[int, int], last: tuple[int, int]
) -> None:
    built = _said(made, datetime(2024, 5, 6, 12, tzinfo=UTC))
    days = [timezone.localdate(moment) for moment in (built.first, built.last)]
    assert days == [date(2023, *first), date(2023, *last)]
