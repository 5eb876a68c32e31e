"""A weighed tub that its order does not take: tipped back where it came from, or given to another order."""

from __future__ import annotations

import pytest

from tests.cast import LEAD, QUALITY, STORES, WO_BUOY, WO_RED, WO_TRIAL, Cast, rows_of
from tests.recording.test_scrapping import KG, ways
from trace.genealogy.balance.subjects import balance_of
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.counting import Count
from trace.recording.acts.holds import Hold
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.scrapping import ScrapStock
from trace.recording.acts.setup import Define
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.tubs import ReassignTub, TipBack
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh

OTHER = "WO-1099"


@pytest.fixture
def tub(cast: Cast) -> str:
    """A tub with a skin of the red box."""
    cast.charge("skin", cast["red"], cast["tubs"][0])
    return str(cast["tubs"][0])


def other_order(cast: Cast, colour: str = "red") -> str:
    body = {"product": "T430", "colour": colour, "quantity": 3, "purpose": "production"}
    cast.scan(Define(kind="works_order", key=OTHER, body=body, new=True), person="P-09")
    return OTHER


def supplier_in(box: str) -> object:
    sql = """SELECT u.about->>'supplier' FROM label l JOIN carrier_state c ON c.carrier = l.carrier
               JOIN unit u ON u.id = c.content WHERE l.code = %s"""
    return rows_of(sql, box)[0][0]


def test_a_tub_is_tipped_back_where_it_came_from(cast: Cast, tub: str) -> None:
    answer = cast.scan(TipBack(tub=tub, into=cast["red"]), person=LEAD)
    assert (answer.outcome, "12.20 kg from" in answer.recorded) == ("accepted", True)
    assert ways(cast["red"]) == {"stock": 500 * KG, "back": 12_200_000}
    assert balance_of("V-2288").book.adds_up
    assert supplier_in(cast["red"]) == "VERRIN"
    assert cast.charge("skin", cast["red"], tub).outcome == "accepted"  # it stands empty
    assert differences() == []


def test_a_box_that_was_weighed_out_takes_its_last_charge_back(cast: Cast) -> None:
    tub, small = cast["tubs"][0], cast.shift.stock("VERRIN", "LL-35 red", "V-2288", ("12.20",))[0]
    cast.charge("skin", small, tub)
    assert cast.scan(TipBack(tub=tub, into=small), person=LEAD).outcome == "accepted"
    assert cast.charge("skin", small, tub).outcome == "accepted"
    assert differences() == []


def test_it_does_not_go_back_elsewhere_or_into_what_is_another_by_now(cast: Cast, tub: str) -> None:
    for into in (cast["red2"], cast["natural"]):
        assert cast.scan(TipBack(tub=tub, into=into), person=LEAD, expect="TIP-BACK-ELSEWHERE").outcome == "refused"
    cast.scan(TopUp(source=cast["red2"], into=cast["red"], amount="5", commingle=True), person=LEAD)
    refused = cast.scan(TipBack(tub=tub, into=cast["red"]), person=LEAD, expect="TIP-BACK-CHANGED")
    assert ("it holds LL-35 red lot unknown" in refused.what, bool(refused.why and refused.now)) == (True, True)


def test_nothing_goes_back_into_a_box_on_hold(cast: Cast, tub: str) -> None:
    cast.scan(Hold(code=cast["red"], rule="quality", reason="density"), person=QUALITY)
    answer = cast.scan(TipBack(tub=tub, into=cast["red"]), person=LEAD, expect="TUB-ON-HOLD")
    assert answer.outcome == "refused"


def test_an_empty_tub_goes_nowhere(cast: Cast) -> None:
    other_order(cast)
    for command in (TipBack(tub=cast["tubs"][1], into=cast["red"]), ReassignTub(tub=cast["tubs"][1], order=OTHER)):
        assert cast.scan(command, person=LEAD, expect="TUB-EMPTY").outcome == "refused"


@pytest.mark.parametrize("late", [False, True])
def test_a_weighing_put_right_is_what_went_back(cast: Cast, tub: str, late: bool) -> None:
    """All that was in the tub went back, however much that proves to have been: nothing stays in its book."""
    event = rows_of("SELECT uid::text FROM event WHERE kind = 'weighed' ORDER BY id DESC LIMIT 1")[0][0]
    back = TipBack(tub=tub, into=cast["red"])
    if late:
        then = cast.clock()
        cast.charge("foam", cast["foam"][0], cast["boxes"][0])
        cast.late(back, then, person=LEAD)
    else:
        cast.scan(back, person=LEAD)
    right = Correct(event=event, was=cast["red"], now=cast["red"], amount="12.10", reason="misread")
    assert cast.scan(right, person=LEAD).outcome in ("accepted", "flagged")
    assert ways(cast["red"]) == {"stock": 500 * KG, "back": 12_100_000}
    charges = """SELECT s.balance, s.overdrawn FROM unit u JOIN unit_state s ON s.unit = u.id
                  WHERE u.kind = 'charge' AND u.about->>'layer' = 'skin' ORDER BY u.id"""
    assert rows_of(charges)[-1] == (0, False)
    assert differences() == []


def test_tipped_back_late_it_was_in_the_box_when_that_was_counted(cast: Cast, tub: str) -> None:
    then = cast.clock()
    cast.scan(Count(box=cast["red"], amount="499.90", reason="weighed"), person=QUALITY)
    cast.late(TipBack(tub=tub, into=cast["red"]), then, person=LEAD)
    # 500 kg by the book, 499.90 counted: the count stands.
    assert ways(cast["red"]) == {"stock": 499_900_000, "back": 12_200_000}
    assert {f.way: int(f.bounds.best or 0) for f in balance_of("V-2288").differences} == {"counted": -100_000}
    assert cast.charge("skin", cast["red"], tub).outcome == "accepted"
    assert differences() == []


@pytest.mark.parametrize("scrapped", ["1", "13"])
def test_tipped_back_late_it_is_what_was_in_the_tub_before_something_was_scrapped(
    cast: Cast, tub: str, scrapped: str
) -> None:
    """What was scrapped afterwards, and told first, was in the tub no more: nobody knows what that was."""
    then = cast.clock()
    cast.scan(ScrapStock(box=tub, amount=scrapped, cause="spilt"), person=STORES, mode="tells")
    cast.late(TipBack(tub=tub, into=cast["red"]), then, person=LEAD)
    assert ways(cast["red"]) == {"stock": 500 * KG, "back": 12_200_000}
    gaps = "SELECT u.kind, g.what, g.which FROM gap g JOIN unit u ON u.id = g.unit"
    assert rows_of(gaps) == [("scrap", "source", "scrap")]
    assert cast.charge("skin", cast["red"], tub).outcome == "accepted"  # it stands empty
    assert differences() == []


def test_a_tub_for_another_order_is_tipped_for_that(cast: Cast, tub: str) -> None:
    answer = cast.scan(ReassignTub(tub=tub, order=other_order(cast)), person=LEAD)
    assert answer.outcome == "accepted"
    cast.scan(ReadyMould(mould="T430-01", order=OTHER, arm="S1"))
    assert cast.scan(TipTub(mould="T430-01", tub=tub)).outcome == "accepted"
    assert ways("V-2288") == {"stock": 487_800_000, "moulds": 12_200_000}
    assert differences() == []


@pytest.mark.parametrize(
    ("order", "code"), [(WO_RED, "REASSIGN-SAME"), (WO_TRIAL, "REASSIGN-RECIPE"), (WO_BUOY, "REASSIGN-WEIGHT")]
)
def test_only_an_order_whose_recipe_takes_it(cast: Cast, tub: str, order: str, code: str) -> None:
    answer = cast.scan(ReassignTub(tub=tub, order=order), person=LEAD, expect=code)
    assert (answer.outcome, answer.code, bool(answer.what and answer.why and answer.now)) == ("refused", code, True)


def test_no_order_takes_what_is_for_a_layer_that_it_does_not_have(cast: Cast) -> None:
    """A buoy has no inner layer."""
    cast.charge("inner", cast["natural"], cast["boxes"][0])
    answer = cast.scan(ReassignTub(tub=cast["boxes"][0], order=WO_BUOY), person=LEAD, expect="REASSIGN-RECIPE")
    assert answer.why == f"The recipe of {WO_BUOY} takes nothing there."


def test_its_weighing_is_put_right_afterwards(cast: Cast, tub: str) -> None:
    event = rows_of("SELECT uid::text FROM event WHERE kind = 'weighed' ORDER BY id DESC LIMIT 1")[0][0]
    cast.scan(ReassignTub(tub=tub, order=other_order(cast)), person=LEAD)
    right = Correct(event=event, was=cast["red"], now=cast["red"], amount="12.10", reason="misread")
    assert cast.scan(right, person=LEAD).outcome == "accepted"
    assert ways("V-2288") == {"stock": 487_900_000, "charges": 12_100_000}
    assert differences() == []


def test_one_weighed_in_part_waits_for_its_rest(cast: Cast) -> None:
    tub = cast["tubs"][0]
    cast.scan(Weigh(order=WO_RED, layer="skin", box=cast["red"], tub=tub, scale="W-3", gross="6.00", part=True))
    other_order(cast)
    assert cast.scan(ReassignTub(tub=tub, order=OTHER), person=LEAD, expect="REASSIGN-PART").outcome == "refused"
