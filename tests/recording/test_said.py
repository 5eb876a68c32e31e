"""How amounts, spans of time and positions are said in answers, and what is no amount."""

from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import pytest

from tests.cast import STORES, WO_RED, Cast
from trace.genealogy.calibrations import FOUND_FAILED, FOUND_GOOD
from trace.genealogy.cause_said import _days_said
from trace.recording.acts.calibration import Calibrate
from trace.recording.acts.cases import CloseCase
from trace.recording.acts.drills import SignDrill
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.loading import _span as positions
from trace.recording.acts.saved_scopes import PutScopeAside
from trace.recording.commands import Command
from trace.recording.floor import words as say
from trace.recording.rules.base_facts import _span as time_span


def test_grams_are_said_with_the_digits_they_have() -> None:
    assert [say.grams(mg) for mg in (0, 1, 500, 1000, 12_300, 100_000)] == [
        "0 g", "0.001 g", "0.5 g", "1 g", "12.3 g", "100 g",
    ]  # fmt: skip


def test_a_span_of_time_is_said_in_what_one_counts_it_by() -> None:
    spans = [time_span(minutes * 60) for minutes in (0, 119, 120, 2879, 2880, 2881, 4320)]
    assert spans == ["0 minutes", "119 minutes", "2 hours", "47 hours", "2 days", "2 days", "3 days"]


def test_positions_in_a_row_are_said_by_their_ends() -> None:
    assert positions(["S1", "S2", "S3"]) == "S1–S3"
    assert positions(["S1", "S3"]) == "S1, S3"
    assert positions(["S1"]) == "S1"
    assert positions([]) == "no position"


def test_a_charge_of_nothing_is_no_weighing(cast: Cast) -> None:
    refused = cast.shift.weigh(
        WO_RED, "skin", cast["red"], cast["tubs"][0], gross="1.20", tare="1.20", expect="AMOUNT-UNREADABLE"
    )
    assert "leaves nothing" in refused.text()


def test_the_amount_on_a_delivery_note_is_read_too(cast: Cast) -> None:
    command = Receive(
        supplier="VERRIN", material="LL-35 red", lot_no="V-9", amounts=("25",), note_no="N-1", note_amount="many"
    )
    assert "many" in cast.scan(command, person=STORES, expect="AMOUNT-UNREADABLE").text()


def kept(says: dict[str, Any], why: str = "", roles: tuple[str, ...] = ()) -> Any:
    """An event as it is read back to be said in one line."""
    return SimpleNamespace(says=says, why=why, part=lambda _name: [{"role": role} for role in roles])


SCALE = {"instrument": "W-3", "certificate": "KL-1"}
LINES: list[tuple[type[Command], Any, str]] = [
    (SignDrill, kept({"result": {"reconciled": "98.4"}}), "Mock recall signed: 98.4 % reconciled"),
    (SignDrill, kept({"result": {}}), "so nothing can be said in per cent"),
    (PutScopeAside, kept({"number": 7}, "asked twice"), "Saved scope 7 put aside: asked twice"),
    (PutScopeAside, kept({"number": 7}), "Saved scope 7 put aside: no reason given"),
    (CloseCase, kept({"cause": "none", "hulls": "none"}), "no reason given"),
    (CloseCase, kept({"cause": "none", "hulls": "none"}, "tests found nothing"), "tests found nothing"),
    (Calibrate, kept(SCALE, roles=(FOUND_GOOD,)), "W-3 calibrated, certificate KL-1: found within its limit"),
    (Calibrate, kept(SCALE, roles=(FOUND_FAILED,)), "W-3 calibrated, certificate KL-1: found outside its limit"),
    (Calibrate, kept(SCALE), "W-3 calibrated, certificate KL-1: not judged: no limit is recorded"),
]


@pytest.mark.parametrize(("command", "event", "line"), LINES)
def test_an_event_is_said_in_one_line(command: type[Command], event: Any, line: str) -> None:
    assert line in command.told(event)


def test_a_time_in_a_refusal_is_that_of_the_plant() -> None:
    assert say.clock(datetime(2026, 6, 8, 22, 30, tzinfo=UTC)) == say.clock("2026-06-08T22:30:00.000000Z")
    assert say.clock(datetime(2026, 6, 8, 12, 30, tzinfo=UTC)).startswith("8 Jun ")


def test_the_days_of_a_scope_are_said() -> None:
    first, last = datetime(2026, 6, 8, tzinfo=UTC).date(), datetime(2026, 6, 9, tzinfo=UTC).date()
    said = [_days_said(*days) for days in ((first, first), (None, last), (first, None), (first, last))]
    assert said == [
        "on 2026-06-08", "up to 2026-06-09", "on 2026-06-08 or later", "from 2026-06-08 to 2026-06-09",
    ]  # fmt: skip


@pytest.mark.parametrize(("wrong", "said"), [({"made": "2026-02-30"}, "the day it was made"),
                                             ({"expires": "soon"}, "the use-by date"),
                                             ({"lot_no": " "}, "The lot number is missing")])  # fmt: skip
def test_a_delivery_with_a_wrong_day_or_no_lot_says_which(cast: Cast, wrong: dict[str, str], said: str) -> None:
    fields: Any = {"supplier": "VERRIN", "material": "LL-35 red", "lot_no": "V-9", "amounts": ("25",), **wrong}
    assert said.lower() in cast.scan(Receive(**fields), person=STORES, expect="AMOUNT-UNREADABLE").text().lower()
