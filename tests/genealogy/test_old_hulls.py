"""When an old hull can have been made, from a day, a month or a year on record."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

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
