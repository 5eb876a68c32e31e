"""Random scans, right and wrong ones, against a plain model of what may follow what: refused exactly where it says.

The model (`plain_states.py`) is written from the trade's own order of states (common practice, no source) and knows no
rule. Each shift is made by its seed: STATES_FIRST (0) and STATES_SHIFTS (6, with LONG_TESTS 400).
"""

from __future__ import annotations

import os
from collections.abc import Mapping

import pytest
from django.db import transaction

from tests.cast import Cast
from tests.recording.random_shift import shift_of
from trace.readmodels.rebuild import differences
from trace.recording.rules import engine

LONG = bool(os.environ.get("LONG_TESTS"))
SHIFTS = int(os.environ.get("STATES_SHIFTS", "400" if LONG else "6"))
FIRST = int(os.environ.get("STATES_FIRST", "0"))
SCANS = 150
# Of so many shifts one is rebuilt and compared at its end.
REBUILT = 6
# Rules that a shift meets often enough to miss them.
PLANTED = ("MOULD-HAS-CHARGE", "TUB-FULL", "SOURCE-HELD", "LAYER-IN-ALREADY", "PACK-HELD", "NOT-TO-DEMOULD")


def told_shift(cast: Cast, seed: int) -> None:
    """One shift, told and taken back."""
    now = cast.clock.now
    try:
        with transaction.atomic():
            shift = shift_of(cast, seed)
            for _ in range(SCANS):
                shift.tell(shift.next_act())
            shift.stands()
            if seed % REBUILT == 0:
                assert differences() == []
            transaction.set_rollback(True)
    finally:
        cast.clock.now = now


@pytest.mark.parametrize("seed", range(FIRST, FIRST + SHIFTS))
def test_scans_are_refused_where_the_states_say_so_and_nowhere_else(cast: Cast, seed: int) -> None:
    told_shift(cast, seed)


@pytest.mark.parametrize("code", PLANTED if LONG else PLANTED[:1])
def test_a_rule_that_is_silent_is_missed(cast: Cast, code: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The test of this test: with one rule off, some shift goes on where the model says stop."""
    in_force = engine._in_force

    def without(rule: engine.Rule, switched: Mapping[str, str]) -> str:
        return "off" if rule.code == code else in_force(rule, switched)

    monkeypatch.setattr(engine, "_in_force", without)
    with pytest.raises(AssertionError, match="the model says False"):
        for seed in range(20):
            told_shift(cast, seed)
