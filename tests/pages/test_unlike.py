"""How the list of what is unlike the rest says each kind: of figures and times, in words that accuse nobody."""

from datetime import UTC, datetime
from typing import Any

import pytest

from trace.pages.open_lists.unlike import SAID
from trace.quality.unlike.found import Find, compared
from trace.readmodels.plantdata import Directory

DAWN = datetime(2026, 6, 8, 6, tzinfo=UTC)
OF = {"quantity": "gross", "instrument": "W-3", "layer": "skin", "product": "T430"}
SAYS: dict[str, tuple[dict[str, Any], str]] = {
    "repeated": ({**OF, "figure": "14.02", "count": 7, "one_in": 4012.0}, "14.02 read 7 times running"),
    "endings": ({**OF, "count": 40, "often": (0, 5), "chi_square": 104.0}, "40 figures that end in 0, 5 more often"),
    "zones alike": ({"product": "T430", "zones": 6, "hulls": 2}, "The same 6 thicknesses on 2 hulls"),
    "one figure": ({"product": "T430", "zones": 6, "hulls": 1, "figure": "4.1"}, "All zones of 1 hull read 4.1 mm"),
    "quick": ({"scale": "W-3", "count": 4, "seconds": 18}, "4 charges within 18 seconds"),
    "two scales": ({"scales": ["W-3", "W-4"], "seconds": 21}, "One label drawn from at W-3 and W-4, within 21 seconds"),
    "two racks": ({"one": "R4-2", "other": "R5-1", "minutes": 1}, "Put in R4-2 and in R5-1 within 1 minute"),
    "other time": (
        {"product": "T430", "stage": "heat", "minutes": 26.1, "usual": 14.2}, "Heat after 26 minutes, usually 14",
    ),
    "left here": ({"order": "SO-220"}, "Here by the records, though a truck of its order has left"),
    "exchanged": (
        {"part": "M8-N", "arm": "S1", "left": 812},
        "Another box of M8-N at S1, while the one before has 812 pieces left by the book",
    ),
    "lay together": ({"product": "T430", "count": 2}, "2 mouldings of one cycle lay out together"),
}  # fmt: skip


def test_each_kind_has_its_words() -> None:
    assert SAYS.keys() == SAID.keys()


@pytest.mark.parametrize("kind", SAID)
def test_a_kind_is_said_with_what_to_do(kind: str) -> None:
    said, words = SAYS[kind]
    what, detail = SAID[kind](Find(kind, DAWN, (1,), said))
    assert what.startswith(words) and detail.endswith(".") and "⟦" not in what + detail


def test_nothing_compared_is_nothing_found() -> None:
    assert list(compared([], Directory(0))) == []
