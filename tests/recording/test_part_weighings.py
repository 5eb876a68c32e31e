"""A charge weighed in parts: whose bags are in it, and what is missing from the record of any part."""

from __future__ import annotations

from tests.cast import LEAD, WO_RED, Cast, rows_of
from trace.recording.answers import Answer
from trace.recording.behind import behind
from trace.recording.loading import ReadyMould, TipTub


def part(cast: Cast, box: str, gross: str, *, more: bool = True, **by: str) -> Answer:
    return cast.shift.weigh(WO_RED, "skin", box, cast["tubs"][0], gross, part=more, **by)


def test_the_same_bag_again_is_no_other_bag(cast: Cast) -> None:
    assert part(cast, cast["red"], "4.00").outcome == "accepted"
    assert part(cast, cast["red"], "2.00").outcome == "accepted"
    other = part(cast, cast["red2"], "2.00")
    assert (other.outcome, other.code) == ("warned", "BAG-CHANGED")
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
