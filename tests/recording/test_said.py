"""How amounts, spans of time and positions are said in answers, and what is no amount."""

from tests.cast import STORES, WO_RED, Cast
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.loading import _span as positions
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
