"""What was told late or wrongly, case by case: those found in use, and each kind of thing that can be put right."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.cast import LEAD, QUALITY, STORES, WO_RED, Cast, rows_of
from tests.recording.histories import CONTENTS, KG, History, Slip, Teller, minute, newest
from tests.recording.plain_book import Act, replayed
from tests.recording.test_late import balances_agree
from tests.recording.test_late_histories import check_book
from trace.genealogy.answer import genealogy
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.loading import PlaceInserts, ReadyMould
from trace.recording.acts.scrapping import ScrapStock
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.acts.weighing import CheckWeight, Weigh

CHARGE = 12_200_000


def topup(at: float, kg: float, source: str = "A", into: str = "K") -> Act:
    return Act(minute(at), "topup", source, into, round(kg * KG))


def weigh(at: float, tub: str, source: str = "K") -> Act:
    return Act(minute(at), "weigh", source, tub, CHARGE)


def empty(at: float) -> Act:
    return Act(minute(at), "empty", "K")


# Each as it happened; the numbers say in which order it is told.
FOUND: dict[str, tuple[list[Act], list[int]]] = {
    "a draw told after the vessel was proved empty": (
        [topup(0, 100), topup(1, 5, "B"), weigh(2, "T0"), weigh(3, "T1"), empty(4)], [0, 1, 2, 4, 3],
    ),
    "a top-up that explains what a later draw was over": (
        [topup(0, 60), weigh(1, "T0"), weigh(2, "T1"), weigh(3, "T2"), weigh(5, "T3"), topup(9, 20),
         weigh(10, "T4")],
        [0, 1, 2, 3, 6, 4, 5],
    ),
    "a weighing of a vessel empty by the book, explained later": (
        [topup(0, 50), weigh(1, "T0")], [1, 0],
    ),
    "a rest of unknown amount of the same lot": (
        [topup(0, 24.4), weigh(1, "T0"), weigh(2, "T1"), topup(3, 30), weigh(4, "T2")], [0, 1, 2, 3, 4],
    ),
    "more than there ever was of a lot": (
        [topup(0, 20), topup(1, 5, "B"), weigh(2, "T0"), weigh(3, "T1"), weigh(4, "T2"), empty(5)], [0, 2, 3, 1, 5, 4],
    ),
}  # fmt: skip


def told(cast: Cast, acts: list[Act], telling: list[int]) -> Teller:
    teller = Teller(cast, History(acts, telling=telling))
    teller.told()
    return teller


def sound(teller: Teller, acts: list[Act]) -> None:
    check_book(teller, teller.looked(), replayed(acts, teller.stock))
    assert balances_agree() == []
    assert differences() == []


@pytest.mark.parametrize(("acts", "telling"), FOUND.values(), ids=list(FOUND))
def test_found_in_use(cast: Cast, acts: list[Act], telling: list[int]) -> None:
    sound(told(cast, acts, telling), acts)


def test_kilograms_of_a_small_rest_never_exceed_what_went_in(cast: Cast) -> None:
    """100 kg of A and 5 kg of B, the second draw told last: at most 5 kg of B and at least 7.2 kg of A are in it."""
    acts, telling = FOUND["a draw told after the vessel was proved empty"]
    share = told(cast, acts, telling).looked()["bounds"]["T1/0"]
    assert (share["A"].least, share["A"].most, share["A"].certain) == (7_200_000, CHARGE, True)
    assert (share["B"].least, share["B"].most, share["B"].certain) == (0, 5 * KG, False)


def test_a_weighing_explained_later_can_be_put_right(cast: Cast) -> None:
    """Its amount, then its source, then that nobody knows: none of them is refused for ever."""
    acts = [topup(0, 50), weigh(1, "T0")]
    teller = told(cast, acts, [1, 0])

    def right(was: str, now: str, amount: str = "") -> None:
        code = "" if not now else teller.codes[now]
        command = Correct(event=teller.events[1], was=teller.codes[was], now=code, amount=amount, reason="read")
        assert cast.scan(command, person=LEAD).outcome in ("accepted", "flagged")

    right("K", "K", "12.30")
    acts[1].amount = 12_300_000
    sound(teller, acts)
    right("K", "B")
    acts[1].source = "B"
    sound(teller, acts)
    right("B", "")
    assert teller.looked()["gaps"] == {"T0/0"}


def test_the_amount_of_a_delivery_is_put_right(cast: Cast) -> None:
    """500 kg stood on the paper, 480 kg in the octabin: what was made of it is as if 480 had been booked."""
    received = Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-2500", amounts=("500",))
    code = cast.scan(received, person=STORES).made["codes"][0]
    event = str(rows_of("SELECT uid FROM event ORDER BY id DESC LIMIT 1")[0][0])
    cast.scan(TopUp(source=code, into=cast["vessels"][0], amount="100"), person=LEAD, mode="tells")
    answer = cast.scan(Correct(event=event, was=code, now=code, amount="480", reason="weighed"), person=STORES)
    assert answer.outcome == "accepted"
    assert rows_of(CONTENTS, [code]) == [(code, "quarantine", 380 * KG, 480 * KG)]
    live = """SELECT e.role, e.amount FROM edge e JOIN unit p ON p.id = e.parent WHERE p.lot_no = 'V-2500'
               AND e.role = 'receive' AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id)"""
    assert rows_of(live) == [("receive", 480 * KG)]
    assert balances_agree() == []
    assert differences() == []


@pytest.mark.parametrize("what", ["count", "emptying"])
def test_a_count_and_an_emptying_are_withdrawn(cast: Cast, what: str) -> None:
    wrong = Act(minute(2), "count", "K", "", 30 * KG) if what == "count" else empty(2)
    acts = [topup(0, 100), weigh(1, "T0"), wrong, topup(3, 20, "B"), weigh(4, "T1")]
    teller = told(cast, acts, [0, 1, 2, 3, 4])
    withdrawn = Correct(event=teller.events[2], was=teller.codes["K"], now="", reason="another vessel")
    assert cast.scan(withdrawn, person=LEAD).outcome == "accepted"
    acts.remove(wrong)
    sound(teller, acts)
    # Told again, it counts again.
    cast.late(TopUp(source=cast["red"], into=teller.codes["K"], amount="10"), minute(1.5), person=LEAD)
    sound(teller, [*acts, topup(1.5, 10)])


@pytest.mark.parametrize("now", ["K", ""], ids=["of another time", "withdrawn"])
@pytest.mark.parametrize("what", ["count", "emptying"])
@pytest.mark.parametrize("which", [0, 1], ids=["the first told", "the second"])
def test_of_two_told_of_one_minute_only_the_one_put_right_moves(cast: Cast, what: str, now: str, which: int) -> None:
    """Seed 50094 of the histories: both counts of a vessel fell away with the one that was said of another time."""
    pair = [Act(minute(2), "count", "K", "", kg * KG) for kg in (20, 8)] if what == "count" else [empty(2), empty(2)]
    acts = [topup(0, 100), weigh(1, "T0"), *pair, topup(3, 20, "B"), weigh(4, "T1")]
    teller = told(cast, acts, [0, 1, 2, 3, 4, 5])
    sound(teller, acts)
    at = minute(1.5).isoformat() if now else ""
    command = Correct(
        event=teller.events[2 + which], was=teller.codes["K"], now=now and teller.codes["K"], at=at, reason="read"
    )
    assert cast.scan(command, person=LEAD).outcome in ("accepted", "flagged")
    acts.remove(pair[which])
    sound(teller, [*acts[:2], replace(pair[which], at=minute(1.5)), *acts[2:]] if now else acts)


def test_what_never_happened_leaves_nothing(cast: Cast) -> None:
    """A top-up and a charge of another day's paper, put right to nothing."""
    acts = [topup(0, 100), topup(1, 30, "B"), weigh(2, "T0")]
    teller = told(cast, acts, [0, 1, 2])
    never = Correct(
        event=teller.events[1], was=teller.codes["B"], now=teller.codes["B"], amount="0", reason="never happened"
    )
    assert cast.scan(never, person=LEAD).outcome == "accepted"
    looked = teller.looked()
    assert looked["carriers"]["B"] == ("released", 500 * KG, 500 * KG)
    assert looked["carriers"]["K"] == ("released", 100 * KG - CHARGE, 100 * KG)
    assert list(looked["bounds"]["T0/0"]) == ["A"]
    assert balances_agree() == []


def test_a_time_that_has_not_come_is_no_time(cast: Cast) -> None:
    teller = told(cast, [topup(0, 50)], [0])
    for at in ("tomorrow", "2031-01-01T10:00+00:00", "2026-06-08T10:00"):
        command = Correct(event=teller.events[0], was=teller.codes["A"], now=teller.codes["A"], at=at, reason="x")
        answer = cast.scan(command, person=LEAD, expect="AMOUNT-UNREADABLE")
        assert answer.outcome == "refused", at


def test_a_hold_on_what_is_made_anew_is_one_hold(cast: Cast) -> None:
    """Laid on a vessel; a late top-up makes its content anew; ended once, it is ended."""
    vessel = cast["vessels"][0]
    then = cast.clock()
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="50"), person=LEAD)
    cast.scan(Hold(code=vessel, rule="quality", reason="density query"), person=QUALITY)
    cast.late(TopUp(source=cast["red2"], into=vessel, amount="20"), then, person=LEAD)
    open_holds = """SELECT h.uid::text FROM hold h WHERE h.rule = 'quality'
                     AND NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id AND r.unit IS NULL)"""
    [(hold,)] = rows_of(open_holds)
    weighing = Weigh(order=WO_RED, layer="skin", box=vessel, tub=cast["tubs"][0], scale="W-3", gross="12.20")
    assert cast.scan(weighing, expect="SOURCE-HELD").code == "SOURCE-HELD"
    cast.scan(ReleaseHold(hold=hold, reason="tested"), person="P-10")
    assert rows_of(open_holds) == []
    cast.clock.now += timedelta(minutes=1)
    assert cast.scan(weighing).outcome == "accepted"
    assert differences() == []


def test_what_was_let_go_of_a_hold_stays_so_when_it_is_made_anew(cast: Cast) -> None:
    """A vessel is freed of its lot's hold by a person; then more of the same lot is told to have gone in before."""
    vessel = cast["vessels"][0]
    then = cast.clock()
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="50"), person=LEAD)
    cast.scan(Hold(code="V-2288", rule="quality", reason="density query"), person=QUALITY)
    [(hold,)] = rows_of("SELECT uid::text FROM hold WHERE rule = 'quality'")
    cast.scan(ReleaseHold(hold=hold, code=vessel, reason="tested"), person="P-10")
    cast.late(TopUp(source=cast["red2"], into=vessel, amount="5"), then, person=LEAD)
    weighing = Weigh(order=WO_RED, layer="skin", box=vessel, tub=cast["tubs"][0], scale="W-3", gross="12.20")
    cast.clock.now += timedelta(minutes=1)
    assert cast.scan(weighing).outcome == "accepted"
    assert differences() == []


def test_a_release_stands_when_something_earlier_is_told(cast: Cast) -> None:
    """Released by a person on the way: that is a decision, and it stays one."""
    received = Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-2501", amounts=("50",))
    code = cast.scan(received, person=STORES).made["codes"][0]
    assert rows_of(CONTENTS, [code])[0][1] == "quarantine"
    then = cast.clock()
    cast.shift.certify_and_release(code, "V-2501", material="LL-35 red")
    cast.late(TopUp(source=cast["red"], into=code, amount="5", commingle=True), then, person=LEAD)
    assert rows_of(CONTENTS, [code]) == [(code, "released", 55 * KG, 55 * KG)]
    assert differences() == []


def test_a_check_weight_that_fails_reaches_a_charge_whose_source_was_found_later(cast: Cast) -> None:
    """Weighed out of a vessel empty by the book, explained by a late top-up, its amount put right: still weighed on
    that scale before it failed."""
    acts = [topup(0, 50), weigh(1, "T0")]
    teller = told(cast, acts, [1, 0])
    vessel = teller.codes["K"]
    cast.scan(Correct(event=teller.events[1], was=vessel, now=vessel, amount="12.30", reason="misread"), person=LEAD)
    cast.late(CheckWeight(scale="W-3", shown="10.900", again="10.900"), minute(30), station="weighing")
    held = """SELECT h.rule FROM label l JOIN carrier_state c ON c.carrier = l.carrier JOIN hold h ON h.unit = c.content
               WHERE l.code = %s AND h.rule = 'CHECK-WEIGHT-FAILS'"""
    assert rows_of(held, teller.codes["T0"]) == [("CHECK-WEIGHT-FAILS",)]


def test_what_came_in_between_may_be_what_is_missing(cast: Cast) -> None:
    """A box proved empty at minute 2, told last: the insert of minute 10 is of nobody knows which lot, and one that was
    delivered at minute 5 may be it."""
    cast.clock.now = minute(60)
    mould, box = "T430-01", cast["m8"]
    cast.late(ReadyMould(mould=mould, order=WO_RED, arm="S1"), minute(1))
    received = Receive(supplier="MARROW", material="M8-N", lot_no="N-0500", amounts=("500",))
    cast.late(received, minute(5), person=STORES)
    lot = str(rows_of("SELECT uid FROM unit WHERE kind = 'lot' AND lot_no = 'N-0500'")[0][0])
    cast.late(PlaceInserts(mould=mould, box=box, positions=("S1",)), minute(10))
    cast.late(ProveEmpty(vessel=box), minute(2), person=LEAD)
    load = str(rows_of("SELECT uid FROM unit WHERE kind = 'load' ORDER BY id DESC LIMIT 1")[0][0])
    assert {x.node.uid: x.verdict for x in genealogy(lot, "forward").lines}[load] == "may"


def test_what_a_correction_makes_anew_is_held_by_it(cast: Cast) -> None:
    """A vessel was topped up with teal, it was not the red: what is in it now is held, not what stood in its place."""
    vessel = cast["vessels"][0]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="40"), person=LEAD)
    event = str(rows_of("SELECT uid FROM event WHERE kind = 'topped_up' ORDER BY id DESC LIMIT 1")[0][0])
    answer = cast.scan(Correct(event=event, was=cast["red"], now=cast["teal"], reason="read"), person=LEAD)
    assert answer.code == "CORRECT-OTHER-MATERIAL"
    held = """SELECT s.status FROM label l JOIN carrier_state c ON c.carrier = l.carrier JOIN unit_hold h
      ON h.unit = c.content JOIN unit_state s ON s.unit = c.content WHERE l.code = %s"""
    assert rows_of(held, vessel) == [("released",)]


def test_a_tip_that_was_of_another_layer_leaves_a_gap_in_a_closed_mould(cast: Cast) -> None:
    """It was the drop box with the second charge of the inner layer that was tipped: the load has no skin by what is
    known now, waits for quality, and somebody looks. Put right once more, the gap is closed."""
    tub, other = cast["tubs"][0], cast["boxes"][2]
    cast.charge("inner", cast["natural"], other)
    cast.moulding()
    tip = str(rows_of("SELECT uid FROM event WHERE kind = 'tipped' ORDER BY id LIMIT 1")[0][0])
    gaps = """SELECT g.which FROM gap g JOIN unit u ON u.id = g.unit AND u.kind = 'load' WHERE g.what = 'layer'"""
    held = "SELECT DISTINCT h.rule FROM hold h JOIN unit u ON u.id = h.unit AND u.kind = 'load'"
    answer = cast.scan(Correct(event=tip, was=tub, now=other, reason="read"), person=LEAD)
    assert (answer.outcome, answer.code) == ("flagged", "CORRECT-OTHER-LAYER")
    assert rows_of(gaps) == [("skin",)]
    assert rows_of(held) == [("CORRECT-OTHER-LAYER",)]
    assert ("another layer was tipped than was said",) in rows_of("SELECT kind FROM discrepancy")
    assert differences() == []
    cast.scan(Correct(event=tip, was=other, now=tub, reason="read"), person=LEAD)
    assert rows_of(gaps) == []
    assert balances_agree() == []
    assert differences() == []


def test_a_tip_of_an_empty_tub_keeps_its_name_at_another_time(cast: Cast) -> None:
    acts = [Act(minute(3), "tip", "T0", "T430-01")]
    teller = told(cast, acts, [0])
    tub = teller.codes["T0"]
    earlier = minute(2).isoformat()
    cast.scan(Correct(event=teller.events[0], was=tub, now=tub, at=earlier, reason="another time"), person=LEAD)
    assert rows_of("SELECT what, which FROM gap") == [("charge", tub)]
    assert differences() == []


GAPS_OF_LOADS = """SELECT g.what, g.which FROM gap g JOIN unit u ON u.id = g.unit AND u.kind = 'load'
 ORDER BY g.what, g.which"""


def test_a_tub_that_was_tipped_with_nothing_left_is_named_also_when_that_is_told_late(cast: Cast) -> None:
    """13 kg were scrapped out of a tub of 12.2 before it was tipped, and that is told last: nobody knows what was
    tipped, not even its layer, as had it been told in order. It never happened: the tub held its charge."""
    acts = [weigh(1, "T0", "A"), Act(minute(2), "out", "T0", amount=13 * KG), Act(minute(3), "tip", "T0", "T430-01")]
    teller = told(cast, acts, [0, 2, 1])
    tub = teller.codes["T0"]
    assert rows_of(GAPS_OF_LOADS) == [("charge", tub)]
    sound(teller, acts)
    cast.scan(Correct(event=teller.events[1], was=tub, now=tub, amount="0", reason="another tub"), person=LEAD)
    assert rows_of(GAPS_OF_LOADS) == []
    sound(teller, [acts[0], acts[2]])


def test_a_tub_that_was_tipped_before_it_was_filled_again_gave_what_was_in_it_then(cast: Cast) -> None:
    """Tipped at minute 2, told after 13 kg had been scrapped out of it by the records at minute 4; what was scrapped
    was of the charge of minute 3, told last."""
    acts = [
        weigh(1, "T0", "C"), Act(minute(2), "tip", "T0", "T430-01"), weigh(3, "T0", "A"),
        Act(minute(4), "out", "T0", amount=13 * KG),
    ]  # fmt: skip
    teller = told(cast, acts, [0, 3, 1, 2])
    assert rows_of(GAPS_OF_LOADS) == []
    sound(teller, acts)


@pytest.mark.parametrize("telling", [[0, 2, 3, 1], [0, 3, 1, 2]])
def test_a_tub_over_its_book_is_so_in_whatever_order_its_draws_are_told(cast: Cast, telling: list[int]) -> None:
    """12.2 kg in a tub: 1 kg, 6.2 kg and 6.2 kg go out of it, and are told in another order."""
    amounts = (KG, 6_200_000, 6_200_000)
    outs = [Act(minute(n + 2), "out", "T0", amount=amount) for n, amount in enumerate(amounts)]
    acts = [weigh(1, "T0", "A"), *outs]
    sound(told(cast, acts, telling), acts)


def test_a_closed_mould_lacks_the_layer_of_a_tub_with_nothing_left(cast: Cast) -> None:
    """The skin's tub had been scrapped before it was tipped, and that is told when the mould has been closed: its load
    has no skin by what is known now, and somebody looks."""
    tub, before = cast["tubs"][0], cast.clock()
    cast.moulding()
    weighed = rows_of("SELECT happened FROM event WHERE kind = 'weighed' ORDER BY id LIMIT 1")[0][0]
    assert before < weighed
    cast.late(ScrapStock(box=tub, everything=True, cause="spilt"), weighed + timedelta(seconds=1), person=STORES)
    assert rows_of(GAPS_OF_LOADS) == [("charge", tub), ("layer", "skin")]
    assert ("taken after it was emptied",) in rows_of("SELECT kind FROM discrepancy")
    assert differences() == []
    assert balances_agree() == []
    cast.scan(Correct(event=newest(), was=tub, now=tub, amount="0", reason="another tub"), person=LEAD)
    assert rows_of(GAPS_OF_LOADS) == []
    assert differences() == []


@pytest.mark.parametrize(
    ("order", "booked"), [((0, 1, "right", 2, 3), {"fill difference": 100_000}), ((1, "right", 2, 3, 0), {})]
)
def test_of_a_source_that_was_struck_out_the_material_stays_as_it_was_written(
    cast: Cast, order: tuple[int | str, ...], booked: dict[str, int]
) -> None:
    """12.3 kg into L were not out of K: nobody knows out of what. Where the records knew what was in K when that was
    said, 100 g more than those are a full vessel of that material. Where K was empty by the records they named no
    material then, nothing says by how much such a filling may be off, and the draw went over the book."""
    drawn = [weigh(2, "T0", "L"), replace(weigh(3, "T1", "L"), amount=200_000)]
    acts = [topup(0, 60), topup(1, 12.3, "", "L"), *drawn]
    history = History(acts, slips={1: Slip(topup(1, 12.3, "K", "L"), gone=True)})
    teller = Teller(cast, history)
    for step in order:
        if isinstance(step, int):
            teller.tell(step, history.slips[step].said if step == 1 else acts[step])
        else:
            teller.right(1)
    assert teller.looked()["differences"]["L"] == booked
    sound(teller, teller.happened())
