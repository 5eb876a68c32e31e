"""A charge weighed in parts: whose bags are in it, and what is missing from the record of any part."""

from __future__ import annotations

from tests.cast import LEAD, WO_RED, Cast, rows_of
from tests.recording.test_late import balances_agree
from trace.genealogy.walk import walk
from trace.readmodels.rebuild import differences
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.weighing import Weigh
from trace.recording.answers import Answer
from trace.recording.floor.open_questions import behind


def part(cast: Cast, box: str, gross: str, *, more: bool = True, **by: str) -> Answer:
    return cast.shift.weigh(WO_RED, "skin", box, cast["tubs"][0], gross, part=more, **by)


def test_the_same_bag_again_is_no_other_bag(cast: Cast) -> None:
    assert part(cast, cast["red"], "4.00").outcome == "accepted"
    assert part(cast, cast["red"], "2.00").outcome == "accepted"
    other = part(cast, cast["red2"], "2.00")
    # It was said before that more comes from another bag: nothing to warn of, both lots are named.
    assert (other.outcome, other.code) == ("accepted", "")
    assert "of lots V-2288 and V-2291 for" in other.recorded
    # Both are in it now, whichever gives the rest.
    assert part(cast, cast["red"], "2.00").outcome == "accepted"
    assert part(cast, cast["red2"], "2.20", more=False).outcome == "accepted"


def test_a_gap_in_an_earlier_part_is_behind_the_whole(cast: Cast) -> None:
    """The first part came out of a box that was empty by the book; the rest did not."""
    [empty] = cast.shift.carriers("container", 1)
    assert part(cast, empty, "5.00", mode="tells").outcome == "flagged"
    part(cast, cast["red"], "7.20", more=False, mode="tells", person=LEAD)
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=cast["tubs"][0]), mode="tells")
    [(load,)] = rows_of("SELECT id FROM unit WHERE kind = 'load'")
    assert behind(load).gaps == [("source", "skin")]


def test_a_second_bag_told_after_the_tip(cast: Cast) -> None:
    """The tub was tipped with one bag by the records; the other is told of when it is in the mould already."""
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    part(cast, cast["red"], "6.20")
    then = cast.clock()
    tipped = cast.scan(TipTub(mould="T430-01", tub=cast["tubs"][0]), mode="tells")
    assert (tipped.outcome, tipped.code) == ("flagged", "TUB-PART-WEIGHED")
    second = Weigh(order=WO_RED, layer="skin", box=cast["red2"], tub=cast["tubs"][0], scale="W-3", gross="6.00")
    assert cast.late(second, then).outcome == "accepted"
    charges = rows_of("SELECT s.status, s.balance FROM unit_state s JOIN unit u ON u.id = s.unit"
                      " WHERE u.kind = 'charge'")  # fmt: skip
    assert sorted(charges) == [("tipped", 0), ("topped up", 0)]
    live = rows_of("SELECT amount FROM edge e WHERE role = 'charge' AND NOT EXISTS"
                   " (SELECT FROM edge_void v WHERE v.edge = e.id)")  # fmt: skip
    assert live == [(12_200_000,)]
    [(load,)] = rows_of("SELECT id FROM unit WHERE kind = 'load'")
    assert {n.lot_no for n in walk([load], "back").nodes.values() if n.kind == "lot"} == {"V-2288", "V-2291"}
    assert balances_agree() == []
    assert differences() == []
