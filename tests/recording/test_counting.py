"""A count stands beside the book: the difference is booked, and from then on the book says what was counted."""

from __future__ import annotations

from tests.cast import DEPUTY, LEAD, STORES, WO_RED, Cast, rows_of
from trace.genealogy.answer import genealogy
from trace.genealogy.documents import as_tree
from trace.readmodels.rebuild import differences
from trace.recording.acts.counting import Count
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.answers import Answer


def count(cast: Cast, code: str, amount: str, **by: object) -> Answer:
    return cast.scan(Count(box=code, amount=amount, again=amount, reason="weighed"), **{"person": LEAD, **by})


def stands(code: str) -> tuple[str, int, int]:
    """Status, balance and amount received of what is in a carrier."""
    found: tuple[str, int, int] = rows_of(
        """SELECT s.status, s.balance, u.amount FROM label l JOIN carrier_state c ON c.carrier = l.carrier
             JOIN unit u ON u.id = c.content JOIN unit_state s ON s.unit = u.id WHERE l.code = %s""",
        code,
    )[0]
    return found


def booked() -> list[tuple[int, str]]:
    return rows_of("SELECT amount, cause FROM difference ORDER BY id")


def test_a_bag_that_holds_more_than_its_book_is_counted_and_used(cast: Cast) -> None:
    bag = cast["foam"][1]
    for n in range(2):
        cast.shift.weigh(WO_RED, "foam", bag, cast["boxes"][n])
    refused = cast.shift.weigh(WO_RED, "foam", bag, cast["boxes"][2], expect="OVERDRAW")
    assert "have what is in it counted" in refused.now
    warned = count(cast, bag, "9.20")
    assert (warned.outcome, warned.code) == ("warned", "COUNTED-OVER")
    assert stands(bag) == ("released", 9_200_000, 25_000_000)
    cast.shift.weigh(WO_RED, "foam", bag, cast["boxes"][2])
    assert booked() == [(2_500_000, "counted")]
    assert rows_of("SELECT kind FROM discrepancy") == [("counted more than was received",)]
    assert differences() == []


def test_a_count_of_nothing_and_of_something_again(cast: Cast) -> None:
    assert count(cast, cast["m8"], "0").outcome == "accepted"
    assert stands(cast["m8"]) == ("used up", 0, 500)
    wrong = {"COUNTED-REVIVED": "the count of nothing was wrong"}
    again = count(cast, cast["m8"], "498", person=DEPUTY, overrides=wrong)
    assert again.outcome == "warned"
    assert stands(cast["m8"]) == ("released", 498, 500)
    assert booked() == [(-500, "counted"), (498, "counted")]
    assert differences() == []


def test_being_counted_is_no_release(cast: Cast) -> None:
    received = Receive(supplier="VERRIN", material="LL-35", lot_no="V-9", amounts=("20",))
    code = cast.scan(received, person=STORES).made["codes"][0]
    cast.scan(TopUp(source=code, into=cast["vessels"][0], amount="20"), person=LEAD, mode="tells")
    assert stands(code)[0] == "used up"
    count(cast, code, "3", person=DEPUTY, overrides={"COUNTED-REVIVED": "it was told of twice"})
    assert stands(code)[:2] == ("quarantine", 3_000_000)


def test_a_draw_told_after_the_count_that_saw_it(cast: Cast) -> None:
    """450 kg were counted since a charge was taken that nobody had told yet: what was counted stands."""
    then = cast.clock()
    count(cast, cast["red"], "450")
    cast.late(TopUp(source=cast["red"], into=cast["vessels"][0], amount="12.2"), then, person=LEAD)
    assert stands(cast["red"])[1] == 450_000_000
    assert sum(amount for amount, _ in booked()) == -37_800_000
    assert differences() == []


def test_a_draw_told_after_the_count_that_saw_it_finds_nothing_more(cast: Cast) -> None:
    """By the count 20 kg were gone, by what is told since 7.8 kg: nobody found anything, in a vessel of two lots."""
    vessel = cast["vessels"][0]
    for box in ("red", "red2"):
        cast.scan(TopUp(source=cast[box], into=vessel, amount="50"), person=LEAD)
    then = cast.clock()
    count(cast, vessel, "80")
    cast.shift.weigh(WO_RED, "skin", vessel, cast["tubs"][1])
    before = "\n".join(as_tree(genealogy(cast["tubs"][1], "back")))
    weigh = Weigh(order=WO_RED, layer="skin", box=vessel, tub=cast["tubs"][0], scale="W-3", gross="12.20")
    cast.late(weigh, then)
    after = "\n".join(as_tree(genealogy(cast["tubs"][1], "back")))
    assert "more than its book says" not in after
    assert "may · 0.000 – 6.100 – 12.200 kg" in after
    assert after.partition("charge")[2] == before.partition("charge")[2]
    assert differences() == []


def test_a_count_told_late(cast: Cast) -> None:
    """It was counted before the charge was taken; the charge is still out of what was counted."""
    then = cast.clock()
    cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][0])
    told = cast.late(Count(box=cast["red"], amount="450", again="450", reason="weighed"), then, person=LEAD)
    assert told.outcome == "accepted"
    assert stands(cast["red"])[1] == 437_800_000
    assert booked() == [(-50_000_000, "counted")]
    assert differences() == []


def test_a_count_told_of_an_empty_carrier_waits_for_a_person(cast: Cast) -> None:
    told = count(cast, cast["vessels"][0], "20", mode="tells")
    assert (told.outcome, told.code) == ("flagged", "NOTHING-TO-COUNT")
    assert rows_of("SELECT kind FROM discrepancy") == [("told, but: NOTHING-TO-COUNT",)]
