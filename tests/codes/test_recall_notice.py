"""What a recall notice must say and may not say, against Regulation (EU) 2023/988, Art. 36(2)."""

from decimal import Decimal
from typing import Any

import pytest

from trace.codes.formulas import FormulaError, percent_of
from trace.codes.recall_notice import FIELDS, HEADLINE, NEEDED, notice_faults

BOTH = ("repair", "refund")
GOOD = {
    "headline": "Product safety recall",
    "product": "Tamsin 430 touring kayak",
    "brand": "Grebe Haven Mouldings",
    "picture": "Drawing of the model, port side",
    "numbers": "GHM-T430-004401 to GHM-T430-004412",
    "on_product": "On the plate behind the seat",
    "sold": "Wharfe & Weir Paddlesport, April to June 2026",
    "hazard": "The seat can tear out of the hull. Whoever paddles can fall in and be trapped.",
    "action": "Stop using the kayak immediately. Answer with the reply sheet.",
    "remedy": "Bring it to your dealer: it is repaired or paid back, free of charge.",
    "contact": "0800 000 000",
    "share": "Please tell everybody who may have one.",
}


def faults(remedies: Any = BOTH, **changed: str) -> list[tuple[str, str]]:
    return [(one.field, one.what) for one in notice_faults({**GOOD, **changed}, remedies)]


def test_a_notice_with_every_element_and_nothing_else_has_no_fault() -> None:
    assert faults() == []
    assert faults(headline="PRODUCT SAFETY RECALL") == []


# Art. 36(2): (a) headline; (b) picture, name, brand, numbers with where they stand, where and when sold; (c) hazard;
# (d) what to do; (e) remedies; (f) a free number or service; (g) sharing.
@pytest.mark.outside("published", "Regulation (EU) 2023/988, Art. 36(2)")
def test_each_element_of_article_36_is_missed() -> None:
    assert set(NEEDED) == set(FIELDS) - {"only_one", "language"} == set(GOOD)
    for field in NEEDED:
        assert (field, "missing") in faults(**{field: "  "})
    everything = [(one.field, one.what) for one in notice_faults({}, ())]
    assert everything == [*((field, "missing") for field in NEEDED), ("remedy", "remedies")]


@pytest.mark.outside("published", "Regulation (EU) 2023/988, Art. 36(2)(a)")
def test_the_headline_is_the_words_of_the_law() -> None:
    assert HEADLINE == "Product safety recall"
    for other in ("Voluntary product recall", "Product safety recall: Tamsin 430", "Important information"):
        assert ("headline", "headline") in faults(headline=other)


# The first five are the words that Art. 36(2)(c) names; the sixth what it says of accidents.
@pytest.mark.parametrize(
    "words",
    [
        "This is a voluntary measure.", "We act on a precautionary basis.", "A discretionary recall.",
        "In rare situations the seat can tear out.", "In specific situations the seat can tear out.",
        "There have been no reported accidents.",
        "We voluntarily recall it.", "As a precaution we ask you.", "IN RARE CASES it cracks.",
        "No injuries are known.",
        "Accidents have not been reported.", "Out of an abundance of caution", "It is very unlikely to break.",
    ],
)  # fmt: skip
@pytest.mark.outside("published", "Regulation (EU) 2023/988, Art. 36(2)(c)")
def test_words_that_play_the_risk_down_are_found_wherever_they_stand(words: str) -> None:
    for field in ("hazard", "action", "remedy", "sold"):
        assert (field, "plays down") in faults(**{field: f"{GOOD[field]} {words}"})


@pytest.mark.parametrize(
    "words",
    [
        "The seat can tear out and the paddler can drown.", "A rare earth magnet can come loose.",
        "The specific part is the M8 insert.", "Two accidents have been reported.", "Two people were hurt.",
    ],
)
def test_a_plain_hazard_is_let_stand(words: str) -> None:
    assert faults(hazard=words) == []


def test_use_must_stop_and_at_once() -> None:
    assert faults(action="Send the kayak back.") == [("action", "stop use")]
    assert faults(action="Stop using it when the season ends.") == [("action", "at once")]
    assert faults(action="Do not use it. Stop at once.") == []


def test_two_remedies_or_one_with_a_reason() -> None:
    """Art. 37 (from memory): a choice between at least two of repair, replacement and refund."""
    assert faults(remedies=()) == faults(remedies=("refund",)) == [("remedy", "remedies")]
    assert faults(remedies=("refund",), only_one="The mould is gone: it cannot be made again.") == []
    assert faults(remedies=("repair", "voucher")) == [("remedy", "which remedy"), ("remedy", "remedies")]


def test_another_language_is_looked_through_for_what_is_missing() -> None:
    in_german = {"language": "de", "headline": "Produktsicherheitsrückruf", "action": "Sofort nicht mehr benutzen."}
    assert faults(**in_german) == []
    assert faults(**in_german, hazard="") == [("hazard", "missing")]


def test_every_fault_is_said_at_once() -> None:
    found = faults((), headline="Notice", hazard="Voluntary.", contact="", action="Wait.")
    assert len(found) == 5


# Check values: a published boating recall with 705 of 1499 units corrected (US Coast Guard recall 17CG114s); the
# balance of 1000 kg is computed from the formula.
@pytest.mark.parametrize(
    ("part", "whole", "places", "said"),
    [
        (705, 1499, 1, "47.0"), (Decimal("969.2"), 1000, 2, "96.92"), (0, 3, 1, "0.0"), (3, 3, 1, "100.0"),
        (1, 8, 1, "12.5"), (1, 16, 1, "6.3"), (Decimal("1004.9"), 1000, 1, "100.5"),
    ],
)  # fmt: skip
@pytest.mark.outside("published", "US Coast Guard recall 17CG114s: 705 of 1499 units corrected")
def test_percent(part: Decimal | int, whole: int, places: int, said: str) -> None:
    assert str(percent_of(part, whole, places)) == said


def test_percent_of_nothing_is_none() -> None:
    with pytest.raises(FormulaError):
        percent_of(1, 0)
