"""From a cause to the scope that asks for it: each is read by the scope's own grammar, and takes the same hulls."""

import pytest

from trace.genealogy.causes import read_cause
from trace.quality.factors import Factor, asks


@pytest.mark.parametrize(
    ("factor", "wanted"),
    [
        (Factor("reading", "peak internal air", "≥ 209.4 C"), "peak=209.4.."),
        (Factor("reading", "thickness bow", "≤ 4.1 mm"), "thickness:bow=..4.1"),
        (Factor("reading", "hull mass", "≥ 1012.55 kg"), "hull-mass=1012.55.."),
        # Compared to a tenth of a minute: nobody on the edge is lost.
        (Factor("reading", "minutes of cooling", "≥ 31.2 min"), "cooling-time=31.15.."),
        (Factor("reading", "minutes in the oven", "≤ 24 min"), "cook-time=..24.05"),
        (Factor("person", "P-07", "tipped"), "person=P-07"),
        (Factor("person", "P-07"), "person=P-07"),
        (Factor("scale", "W-3"), "scale=W-3"),
        (Factor("cavity", "2"), "cavity=2"),
    ],
)
def test_a_cause_is_asked_in_the_scope_s_own_words(factor: Factor, wanted: str) -> None:
    words = asks(factor, {})
    assert words == (wanted,)
    read_cause(list(words))


@pytest.mark.parametrize(
    "factor", [Factor("reading", "minutes from oven to plate", "≥ 9 min"), Factor("weekday", "Monday"),
               Factor("reading", "peak internal air", "≥ 209.4 F"), Factor("gap", "log")],
)  # fmt: skip
def test_what_no_scope_can_ask_has_no_words(factor: Factor) -> None:
    assert asks(factor, {}) == ()
