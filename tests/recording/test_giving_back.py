"""Containers that go back to their supplier: whole, in part, on hold; and what a later scan of them is told."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.cast import LEAD, QUALITY, STORES, WO_RED, Cast, rows_of
from tests.recording.test_scrapping import KG, newest, ways
from trace.genealogy.balance.subjects import balance_of
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.counting import Count
from trace.recording.acts.giving_back import GiveBack
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.holds import Hold
from trace.recording.acts.opening import OpeningStock
from trace.recording.acts.scrapping import ScrapStock
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.commands import Command


def status_of(code: str) -> str:
    sql = """SELECT s.status FROM label l JOIN carrier_state c ON c.carrier = l.carrier
               JOIN unit_state s ON s.unit = c.content WHERE l.code = %s"""
    return str(rows_of(sql, code)[0][0])


def whole(box: str, note: str = "RN-1") -> GiveBack:
    return GiveBack(box=box, everything=True, note_no=note)


def test_a_whole_box_on_hold_goes_back_and_is_a_way_out_of_its_own(cast: Cast) -> None:
    cast.charge("skin", cast["red"], cast["tubs"][0])
    cast.scan(Hold(code=cast["red"], rule="quality", reason="density"), person=QUALITY)
    answer = cast.scan(whole(cast["red"]), person=STORES)
    assert answer.outcome == "accepted"
    assert "to Verrin Polymers with note RN-1" in answer.recorded
    assert ways("V-2288") == {"charges": 12_200_000, "returned": 487_800_000}
    assert balance_of("V-2288").book.adds_up
    assert status_of(cast["red"]) == "given back"
    assert differences() == []


def test_what_waits_for_its_release_may_go_back(cast: Cast) -> None:
    delivery = Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-2500", amounts=("100", "100"), note_no="N9")
    box, other = cast.scan(delivery, person=STORES).made["codes"]
    assert cast.scan(whole(box), person=STORES).outcome == "accepted"
    assert cast.scan(GiveBack(box=other, amount="40", note_no="RN-1"), person=STORES).outcome == "accepted"
    assert ways("V-2500") == {"stock": 60 * KG, "returned": 140 * KG}
    assert (status_of(box), status_of(other)) == ("given back", "quarantine")


def test_any_later_scan_says_what_and_when(cast: Cast) -> None:
    box = cast["red"]
    cast.scan(whole(box), person=STORES)
    weigh = Weigh(order=WO_RED, layer="skin", box=box, tub=cast["tubs"][0], scale="W-3", gross="12.20")
    later: list[Command] = [
        weigh, TopUp(source=box, into=cast["vessels"][0], amount="5"), Count(box=box, amount="5", reason="seen"),
        ScrapStock(box=box, amount="1", cause="spilt"), whole(box, "RN-2"), ProveEmpty(vessel=box),
    ]  # fmt: skip
    for command in later:
        answer = cast.scan(command, person=LEAD, expect="GIVEN-BACK")
        assert (answer.outcome, answer.code) == ("refused", "GIVEN-BACK"), command
        assert "went back to Verrin Polymers with note RN-1 on 8 Jun" in answer.what, command
        assert answer.why
        assert "goods-in" in answer.now


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ({"everything": True, "note_no": " "}, "GIVE-BACK-NO-NOTE"),
        ({"everything": True, "note_no": "RN-1", "supplier": "DUNSAY"}, "GIVE-BACK-OTHER-SUPPLIER"),
        ({"amount": "600", "note_no": "RN-1"}, "OVERDRAW"), ({"note_no": "RN-1"}, "AMOUNT-UNREADABLE"),
    ],
)  # fmt: skip
def test_what_is_refused(cast: Cast, said: dict[str, object], code: str) -> None:
    answer = cast.scan(GiveBack(box=cast["red"], **said), person=STORES, expect=code)  # type: ignore[arg-type]
    assert (answer.outcome, answer.code, bool(answer.what and answer.why and answer.now)) == ("refused", code, True)


def test_what_nobody_knows_the_supplier_of_asks_for_one_and_is_in_doubt(cast: Cast) -> None:
    box = cast.scan(OpeningStock(material="LL-35 red", amount="40"), person=STORES, helper=LEAD).made["codes"][0]
    assert cast.scan(whole(box), person=STORES, expect="GIVE-BACK-NO-SUPPLIER").code == "GIVE-BACK-NO-SUPPLIER"
    answer = cast.scan(GiveBack(box=box, everything=True, note_no="RN-1", supplier="VERRIN"), person=STORES)
    assert (answer.outcome, answer.code) == ("warned", "GIVE-BACK-DOUBT")


def test_what_was_weighed_before_it_went_back_is_told_late(cast: Cast) -> None:
    then = cast.clock()
    cast.scan(whole(cast["red"]), person=STORES)
    weigh = Weigh(order=WO_RED, layer="skin", box=cast["red"], tub=cast["tubs"][0], scale="W-3", gross="12.20")
    cast.late(weigh, then)
    assert ways("V-2288") == {"charges": 12_200_000, "returned": 487_800_000}
    assert status_of(cast["red"]) == "given back"
    assert differences() == []


def test_a_return_told_late_and_one_of_the_wrong_box_put_right(cast: Cast) -> None:
    then = cast.clock()
    cast.scan(Count(box=cast["red"], amount="490", reason="weighed"), person=QUALITY)
    cast.late(GiveBack(box=cast["red"], amount="100", note_no="RN-1"), then - timedelta(seconds=30), person=STORES)
    assert ways("V-2288") == {"returned": 100 * KG, "stock": 490 * KG}
    cast.scan(Correct(event=newest(), was=cast["red"], now=cast["red2"], reason="the other one"), person=LEAD)
    assert ways("V-2288") == {"stock": 490 * KG}
    assert ways("V-2291") == {"returned": 100 * KG, "stock": 400 * KG}
    assert differences() == []


def test_a_box_that_was_not_given_back_is_there_again(cast: Cast) -> None:
    cast.scan(whole(cast["red"]), person=STORES)
    cast.scan(Correct(event=newest(), was=cast["red"], now=cast["red"], amount="0", reason="it stayed"), person=LEAD)
    assert status_of(cast["red"]) == "released"
    assert ways("V-2288") == {"stock": 500 * KG}
    assert cast.charge("skin", cast["red"], cast["tubs"][0]).outcome == "accepted"
    assert differences() == []
