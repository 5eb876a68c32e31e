"""A delivery that was booked with the wrong lot number: what was made of it leads to the right lot."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cast import LEAD, QUALITY, STORES, WO_RED, Cast, rows_of
from tests.recording.histories import CONTENTS, KG
from tests.recording.test_late import balances_agree
from trace.genealogy.answer import genealogy
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.goods_in import Receive, Release
from trace.recording.acts.holds import Hold
from trace.recording.acts.opening import OpeningStock
from trace.recording.acts.vessels import TopUp
from trace.recording.answers import Answer

RED = "LL-35 red"
HELD = """SELECT l.code::text FROM unit_hold x JOIN hold h ON h.id = x.hold AND h.rule = 'quality'
  JOIN carrier_state c ON c.content = x.unit JOIN label l ON l.carrier = c.carrier ORDER BY l.code"""


def received(cast: Cast, lot_no: str, *amounts: str) -> tuple[list[str], str]:
    """The codes of the containers of a delivery, and the event."""
    command = Receive(supplier="VERRIN", material=RED, lot_no=lot_no, amounts=amounts)
    codes = cast.scan(command, person=STORES).made["codes"]
    return codes, str(rows_of("SELECT uid FROM event ORDER BY id DESC LIMIT 1")[0][0])


def right(cast: Cast, event: str, box: str, lot: str, expect: str = "", **more: Any) -> Answer:
    said = {"event": event, "was": box, "now": box, "lot": lot, "reason": "read again", **more}
    command = Correct(**said)
    answer = cast.scan(command, person=STORES, expect=expect)
    assert expect in ("", answer.code)
    assert balances_agree() == []
    assert differences() == []
    return answer


def lots(code: str) -> dict[str, str]:
    """Lot number -> verdict, of what is in a carrier."""
    lines = genealogy(code, "back").lines
    return {str(x.node.lot_no): x.verdict for x in lines if x.node.kind == "lot"}


def forward(lot_no: str) -> set[str]:
    """The labels of what is made of a lot."""
    uid = str(rows_of("SELECT uid FROM unit WHERE kind = 'lot' AND lot_no = %s", lot_no)[0][0])
    return {x.node.code for x in genealogy(uid, "forward").lines if x.node.kind in ("charge", "content")}


def test_what_was_made_of_it_is_of_the_right_lot(cast: Cast) -> None:
    """Two bags typed as V-2288 were V-2291: a vessel and a charge made of one of them lead there now, and its hold
    takes them while that of the wrong lot lets them go. What was known before stays."""
    (one, two), event = received(cast, "V-2288", "100", "100")
    cast.scan(Release(container=one, reason="tested"), person=QUALITY)
    vessel, tub = cast["vessels"][0], cast["tubs"][0]
    cast.scan(TopUp(source=one, into=vessel, amount="60"), person=LEAD)
    cast.shift.weigh(WO_RED, "skin", vessel, tub)
    for lot_no in ("V-2288", "V-2291"):
        cast.scan(Hold(code=lot_no, rule="quality", reason=lot_no), person=QUALITY)
    before = cast.clock.now
    assert lots(tub) == {"V-2288": "certain"}
    answer = right(cast, event, one, "V-2291")
    assert "2 put right" in answer.recorded
    assert lots(tub) == lots(vessel) == {"V-2291": "certain"}
    assert {str(x.node.lot_no) for x in genealogy(tub, "back", before).lines if x.node.kind == "lot"} == {"V-2288"}
    assert not {one, two, vessel, tub} & forward("V-2288")
    # Held all the same, by the hold on the lot that it is of.
    holds = """SELECT h.id FROM unit_hold x JOIN hold h ON h.id = x.hold AND h.rule = 'quality'
      JOIN unit u ON u.id = h.unit JOIN carrier_state c ON c.content = x.unit JOIN label l ON l.carrier = c.carrier
      WHERE l.code = %s AND u.lot_no = %s"""
    for code in (one, two, vessel, tub):
        assert rows_of(holds, code, "V-2288") == []
        assert len(rows_of(holds, code, "V-2291")) == 1
    # V-2291 was released before this came: it waits for its own release, like any delivery of a known lot.
    assert [row[1] for row in rows_of(CONTENTS, [one, two])] == ["quarantine", "quarantine"]


def test_a_lot_that_nobody_knows_yet_is_made_and_waits(cast: Cast) -> None:
    (box,), event = received(cast, "V-2288", "100")
    cast.scan(Release(container=box, reason="tested"), person=QUALITY)
    right(cast, event, box, "V-2500")
    assert lots(box) == {"V-2500": "certain"}
    assert rows_of(CONTENTS, [box]) == [(box, "quarantine", 100 * KG, 100 * KG)]
    assert rows_of("SELECT h.rule FROM hold h") == []
    # Once more, back to what it was: nothing was made of it, so nothing is held.
    assert right(cast, event, box, "V-2288").outcome == "accepted"
    assert lots(box) == {"V-2288": "certain"}
    assert rows_of("SELECT count(*) FROM unit WHERE kind = 'lot' AND lot_no = 'V-2288'") == [(1,)]
    # It was released as V-2288 since it came.
    assert rows_of(CONTENTS, [box])[0][1] == "released"


def test_what_was_used_before_its_lot_was_released_is_held(cast: Cast) -> None:
    (box,), event = received(cast, "V-2288", "100")
    cast.scan(Release(container=box, reason="tested"), person=QUALITY)
    cast.shift.weigh(WO_RED, "skin", box, cast["tubs"][0])
    answer = right(cast, event, box, "V-2500")
    assert (answer.outcome, answer.code) == ("flagged", "CORRECT-NOT-RELEASED")
    held = """SELECT l.code::text FROM unit_hold x JOIN carrier_state c ON c.content = x.unit
      JOIN label l ON l.carrier = c.carrier"""
    assert {code for (code,) in rows_of(held)} == {box, cast["tubs"][0]}


def test_one_bag_of_a_pallet_was_of_another_lot(cast: Cast) -> None:
    (one, two), event = received(cast, "V-2288", "100", "100")
    right(cast, event, two, "V-2291", only=True)
    assert (lots(one), lots(two)) == ({"V-2288": "certain"}, {"V-2291": "certain"})
    # Its amount is put right as before, and told late facts leave it with its lot.
    right(cast, event, two, "", amount="90")
    assert rows_of(CONTENTS, [two]) == [(two, "quarantine", 90 * KG, 90 * KG)]
    assert lots(two) == {"V-2291": "certain"}


def test_a_release_of_the_wrong_lot_does_not_free_it_again(cast: Cast) -> None:
    """Every late fact goes through the history of the bag anew: what was released then was the other lot."""
    (box,), event = received(cast, "V-2288", "100")
    then = cast.clock()
    cast.scan(Release(container=box, reason="tested"), person=QUALITY)
    right(cast, event, box, "V-2500")
    cast.late(TopUp(source=box, into=cast["vessels"][0], amount="10"), then, person=LEAD)
    assert rows_of(CONTENTS, [box]) == [(box, "quarantine", 90 * KG, 100 * KG)]
    assert lots(cast["vessels"][0]) == {"V-2500": "certain"}
    assert differences() == []


def test_a_lot_number_that_was_missing_is_put_in(cast: Cast) -> None:
    command = Receive(supplier="VERRIN", material=RED, amounts=("100",), hold_reason="no label")
    box = cast.scan(command, person=STORES).made["codes"][0]
    event = str(rows_of("SELECT uid FROM event ORDER BY id DESC LIMIT 1")[0][0])
    gap = "SELECT g.what FROM gap g JOIN carrier_state c ON c.content = g.unit JOIN label l ON l.carrier = c.carrier" \
        " WHERE l.code = %s AND g.what = 'lot number'"  # fmt: skip
    assert rows_of(gap, box) == [("lot number",)]
    right(cast, event, box, "V-2291")
    assert rows_of(gap, box) == []
    assert lots(box) == {"V-2291": "certain"}


def test_opening_stock_has_a_lot_number_too(cast: Cast) -> None:
    command = OpeningStock(material=RED, amount="40", lot_no="V-2290", supplier="VERRIN")
    box = cast.scan(command, person=STORES, helper=LEAD).made["codes"][0]
    event = str(rows_of("SELECT uid FROM event ORDER BY id DESC LIMIT 1")[0][0])
    right(cast, event, box, "V-2291")
    assert lots(box) == {"V-2291": "certain"}
    assert rows_of(CONTENTS, [box])[0][1] == "made before records"


@pytest.mark.parametrize("more", [{"amount": "90"}, {"now": ""}])
def test_the_lot_number_is_put_right_by_itself(cast: Cast, more: dict[str, str]) -> None:
    (box,), event = received(cast, "V-2288", "100")
    assert right(cast, event, box, "V-2291", expect="AMOUNT-UNREADABLE", **more).outcome == "refused"


def test_what_has_no_lot_number_is_said_so(cast: Cast) -> None:
    (box,), event = received(cast, "V-2288", "100")
    right(cast, event, box, "V-2288", expect="NOTHING-TO-CORRECT")
    cast.scan(TopUp(source=cast["red"], into=cast["vessels"][0], amount="10"), person=LEAD)
    drawn = str(rows_of("SELECT uid FROM event ORDER BY id DESC LIMIT 1")[0][0])
    right(cast, drawn, cast["red"], "V-2291", expect="AMOUNT-UNREADABLE")


def test_a_vessel_filled_from_the_bag_and_from_another_that_was(cast: Cast) -> None:
    """Both lead to the bag: what came by way of the other vessel first is of the right lot as well."""
    (bag,), event = received(cast, "V-2288", "100")
    one, two = cast["vessels"]
    cast.scan(TopUp(source=bag, into=one, amount="30"), person=LEAD, mode="tells")
    cast.scan(TopUp(source=one, into=two, amount="5"), person=LEAD, mode="tells")
    cast.scan(TopUp(source=bag, into=two, amount="20"), person=LEAD, mode="tells")
    right(cast, event, bag, "V-2291")
    assert lots(two) == {"V-2291": "certain"}
    named = """SELECT u.lot_no FROM label l JOIN carrier_state c ON c.carrier = l.carrier
      JOIN unit u ON u.id = c.content WHERE l.code = %s"""
    assert rows_of(named, two) == [("V-2291",)]


def test_a_lot_made_for_it_says_what_the_delivery_said_and_no_more(cast: Cast) -> None:
    (one,), event = received(cast, "V-2288", "100")
    wrong = rows_of("SELECT about FROM unit WHERE kind = 'lot' AND lot_no = 'V-2288'")[0][0]
    right(cast, event, one, "V-2299")
    assert rows_of("SELECT about FROM unit WHERE kind = 'lot' AND lot_no = 'V-2299'") == [(wrong,)]
    assert "lot" not in wrong
