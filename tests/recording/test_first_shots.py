"""The first mouldings after a colour change or a cold start are held for a look; the check of a machine before use."""

from __future__ import annotations

import pytest

from tests.cast import LEAD, PLANNER, WO_RED, WO_TRIAL, Cast, rows_of
from trace.recording.acts.demould import Demould
from trace.recording.acts.pre_use import CheckMachine
from trace.recording.acts.setup import Define

MOULD = "T430-01"


def setting(cast: Cast, first: int) -> None:
    cast.scan(Define(kind="setting", key="first shots", body={"value": first}), person=PLANNER)


def shot(cast: Cast, order: str = WO_RED, mould: str = MOULD, arm: str = "S1") -> str:
    """How one more moulding of the mould is answered."""
    cast.moulding(mould, arm, order=order)
    return cast.scan(Demould(mould=mould)).outcome


def held() -> list[str]:
    sql = "SELECT u.kind FROM hold h JOIN unit u ON u.id = h.unit WHERE h.rule = 'FIRST-SHOT' ORDER BY h.id"
    return [kind for (kind,) in rows_of(sql)]


def test_nothing_is_held_where_the_plant_asks_for_none(cast: Cast) -> None:
    cast.scan(CheckMachine(machine="OVEN-2", cold=True), person=LEAD)
    assert [shot(cast), shot(cast)] == ["accepted", "accepted"]


def test_the_first_after_a_cold_start_of_their_oven_are_held(cast: Cast) -> None:
    setting(cast, 2)
    assert shot(cast) == "accepted"
    cast.scan(CheckMachine(machine="OVEN-2", cold=True), person=LEAD)
    assert [shot(cast), shot(cast), shot(cast)] == ["flagged", "flagged", "accepted"]
    assert len(held()) == 2
    # Another mould has its own first shots; another oven's cold start is none of its.
    assert shot(cast, mould="T430-02", arm="S2") == "flagged"
    cast.scan(CheckMachine(machine="OVEN-1", cold=True), person=LEAD)
    assert shot(cast) == "accepted"


def test_the_first_of_another_colour_are_held_and_a_trial_is_marked_as_one(cast: Cast) -> None:
    setting(cast, 1)
    assert shot(cast) == "accepted"  # what was in it before the records nobody knows
    assert shot(cast, WO_TRIAL) == "accepted"  # teal, and a trial
    assert [shot(cast), shot(cast)] == ["flagged", "accepted"]
    [words] = rows_of("SELECT answer FROM scan WHERE outcome = 'flagged' ORDER BY id DESC LIMIT 1")
    assert "shot 1 of the first 1 after a change from teal to red" in str(words)


@pytest.mark.parametrize("faults", [("?",), ("guards", "paint")])
def test_only_what_is_looked_at_can_be_out_of_order(cast: Cast, faults: tuple[str, ...]) -> None:
    command = CheckMachine(machine="OVEN-2", faults=faults)
    assert cast.scan(command, person=LEAD, expect="AMOUNT-UNREADABLE").outcome == "refused"
