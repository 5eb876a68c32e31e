"""A burnt, painted or lost plate is replaced under four eyes; a hull is moulded anew in place of another."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.cast import LEAD, OPERATOR, QUALITY, Cast, buoy_plate, plate, rows_of
from tests.recording.test_returns import back, looked_at, packed, sent, stands, unit_of
from trace.exports.epcis.document import faults
from trace.exports.epcis.events import hull_events
from trace.genealogy.answer import genealogy
from trace.genealogy.causes import read_cause
from trace.genealogy.find import UnknownCodeError, find_unit
from trace.genealogy.remoulds import linked_among
from trace.genealogy.sharing import shared_by
from trace.genealogy.walk import nodes
from trace.readmodels.rebuild import differences
from trace.recording.acts.complaints import TakeComplaint
from trace.recording.acts.finishing import Inspect, Scrap
from trace.recording.acts.holds import Hold
from trace.recording.acts.new_plates import ReplacePlate
from trace.recording.acts.opening import OldHull
from trace.recording.acts.remoulds import Remould
from trace.recording.answers import Answer
from trace.sheets.hulls.gathered import gather
from trace.sheets.hulls.sheet import hull_sheet


def relabel(cast: Cast, hull: str, new: str, expect: str = "", **more: str) -> Answer:
    by = {"person": LEAD, "helper": more.pop("helper", OPERATOR)}
    return cast.scan(ReplacePlate(hull=hull, plate=new, **{"cause": "burnt", **more}), expect=expect, **by)


def standing(text: str) -> tuple[str, bool]:
    [(state, on)] = rows_of("SELECT standing, hull IS NOT NULL FROM serial_state WHERE text = %s", text)
    return state, on


def test_both_numbers_find_the_hull_and_the_dead_one_says_what_replaced_it(cast: Cast) -> None:
    cast.hull(plate(1))
    before, hull = cast.clock(), unit_of(plate(1))
    answer = relabel(cast, plate(1), plate(2))
    assert answer.outcome == "accepted"
    assert (standing(plate(1)), standing(plate(2))) == (("replaced", False), ("bound", True))
    assert find_unit(plate(1)) == find_unit(plate(2)) == hull
    assert nodes([hull])[hull].serial == plate(2) and nodes([hull], before)[hull].serial == plate(1)
    with pytest.raises(UnknownCodeError):
        find_unit(plate(2), before)
    sheet = hull_sheet(gather(plate(1)))
    assert sheet.serial == plate(2)
    assert any(f"Plate {plate(1)} burnt: replaced by plate {plate(2)}" in line.what for line in sheet.history)
    assert any(plate(1) in line.text and plate(2) in line.text for line in sheet.kin)
    # The dead one is refused where somebody scans it, and names the one that counts.
    refused = cast.scan(Inspect(hull=plate(1), verdict="fail"), person=QUALITY, expect="LABEL-REPLACED")
    assert plate(2) in refused.why
    assert cast.scan(Inspect(hull=plate(2), verdict="fail"), person=QUALITY).outcome == "flagged"
    # Papers know nothing of it: what is read off them leads to the hull all the same.
    cast.scan(TakeComplaint(hull=plate(1), symptom="crack"), person=QUALITY)
    assert rows_of("SELECT hull FROM complaint") == [(hull,)]
    assert differences() == []


def test_the_second_replaces_the_first_and_all_three_find_it(cast: Cast) -> None:
    """The numbers are told against their order, so that the one that counts is the last put on and not the greatest."""
    cast.hull(plate(3))
    hull = unit_of(plate(3))
    relabel(cast, plate(3), plate(1))
    relabel(cast, plate(1), plate(2), cause="lost")
    assert {find_unit(plate(n)) for n in (1, 2, 3)} == {hull}
    assert nodes([hull])[hull].serial == plate(2)
    assert plate(2) in cast.scan(Inspect(hull=plate(3), verdict="fail"), person=QUALITY, expect="LABEL-REPLACED").why
    assert differences() == []


def test_what_cannot_be_a_new_plate_is_refused(cast: Cast) -> None:
    cast.hull(plate(1))
    cast.hull(plate(2))
    for code, more in {
        "RELABEL-ALONE": {"helper": LEAD}, "RELABEL-CAUSE": {"cause": "eaten"}, "PLATE-USED": {"new": plate(2)},
        "RELABEL-OTHER-PRODUCT": {"new": buoy_plate(1)},
    }.items():  # fmt: skip
        assert relabel(cast, plate(1), expect=code, **{"new": plate(3), **more}).code == code
    assert relabel(cast, plate(1), plate(3), expect="RELABEL-CAUSE", cause="other").code == "RELABEL-CAUSE"
    assert relabel(cast, plate(1), plate(1), expect="PLATE-USED").code == "PLATE-USED"
    cast.scan(Hold(code=plate(1), rule="quality", reason="x"), person=QUALITY)
    assert relabel(cast, plate(1), plate(3), expect="RELABEL-HELD").outcome == "refused"
    cast.scan(Hold(code=plate(1), rule="safety", reason="x"), person=QUALITY)
    assert relabel(cast, plate(1), plate(3), expect="RELABEL-SAFETY").outcome == "refused"
    sent(cast, plate(2))
    gone = relabel(cast, plate(2), plate(3), expect="RELABEL-GONE")
    assert (gone.outcome, gone.what) == ("refused", f"{plate(2)} is dispatched.")
    assert standing(plate(3)) == ("out", False)


def test_told_late_of_a_plate_that_is_on_another_hull_neither_moves(cast: Cast) -> None:
    cast.hull(plate(1))
    cast.hull(plate(2))
    done = cast.clock()
    cast.clock.now += timedelta(minutes=30)
    told = cast.late(ReplacePlate(hull=plate(1), plate=plate(2), cause="lost"), done, person=LEAD, helper=OPERATOR)
    assert (told.outcome, standing(plate(1)), standing(plate(2))) == ("flagged", ("bound", True), ("bound", True))
    told = cast.late(ReplacePlate(hull=plate(1), plate=plate(3), cause="lost"), done, person=LEAD, helper=OPERATOR)
    assert (told.outcome, standing(plate(1))) == ("flagged", ("replaced", False))
    assert differences() == []


def anew(cast: Cast, new: str, old: str, expect: str = "", **more: object) -> Answer:
    by = {name: more.pop(name) for name in ("overrides", "person") if name in more}
    fields = {"plate_destroyed": True, **more}
    return cast.scan(Remould(hull=new, old=old, **fields), expect=expect, **{"person": LEAD, **by})  # type: ignore[arg-type]


def test_a_hull_moulded_anew_leads_to_the_old_one_and_back_and_takes_nothing_of_it(cast: Cast) -> None:
    cast.hull(plate(1), red=cast["red2"])
    sent(cast, plate(1))
    back(cast, plate(1))
    looked_at(cast, plate(1))
    cast.hull(plate(2))
    old, new, before = unit_of(plate(1)), unit_of(plate(2)), cast.clock()
    assert anew(cast, plate(2), plate(1)).outcome == "accepted"
    assert stands(plate(1))[0] == "scrapped" and standing(plate(1)) == ("destroyed", True)
    [link] = linked_among([old])
    assert (link.new, link.old) == (new, old) and linked_among([new]) == [link] and linked_among([new], before) == []
    forward, backward = hull_sheet(gather(plate(1))), hull_sheet(gather(plate(2)))
    assert any(plate(2) in line.text and plate(2) in line.url for line in forward.kin)
    assert any(plate(1) in line.text and plate(1) in line.url for line in backward.kin)
    # A link of who stands for whom: what was in the old one is not in the new one.
    assert {line.node.lot_no for line in genealogy(plate(2), "back").lines} >= {"V-2288"}
    assert "V-2291" not in {line.node.lot_no for line in genealogy(plate(2), "back").lines}
    found = {line.node.code: line.verdict for line in shared_by(read_cause(["holds=V-2291"])).lines}
    assert (found[plate(1)], found[plate(2)]) == ("certain", "cannot")
    assert differences() == []


def test_what_cannot_stand_for_another_is_refused(cast: Cast) -> None:
    for n in (1, 2, 3):
        cast.hull(plate(n))
    sent(cast, plate(1))
    gone = anew(cast, plate(2), plate(1), "REMOULD-GONE")
    assert (gone.outcome, gone.what) == ("refused", f"{plate(1)} is dispatched.")
    back(cast, plate(1))
    assert anew(cast, plate(2), plate(1), "REMOULD-HELD").outcome == "refused"
    looked_at(cast, plate(1))
    assert anew(cast, plate(2), plate(2), "REMOULD-SAME").outcome == "refused"
    assert anew(cast, plate(1), plate(2), "REMOULD-YOUNGER").outcome == "refused"
    assert anew(cast, plate(2), plate(1), "REMOULD-PLATE-STAYS", plate_destroyed=False).outcome == "refused"
    assert anew(cast, plate(2), plate(1)).outcome == "accepted"
    assert anew(cast, plate(3), plate(1), "REMOULD-AGAIN").outcome == "refused"


def test_a_hull_moulded_anew_as_another_model_is_asked_about(cast: Cast) -> None:
    """A buoy of before the records, given up for a kayak: mostly one is moulded anew as what it was."""
    old = "GHM-B60-000099"
    cast.scan(OldHull(serial=old, product="B60", colour="red", place="STORE"), person="P-09")
    cast.scan(Scrap(unit=old, plate_destroyed=True), person=QUALITY)
    cast.hull(plate(1))
    answer = anew(cast, plate(1), old)
    assert (answer.outcome, answer.code) == ("warned", "REMOULD-OTHER-MODEL")
    assert answer.what == f"{plate(1)} is T430, {old} was B60."


def test_of_one_that_was_scrapped_before_only_the_link_is_told(cast: Cast) -> None:
    cast.hull(plate(1))
    cast.scan(Scrap(unit=plate(1), plate_destroyed=True, reason="torn"), person=QUALITY)
    cast.hull(plate(2))
    assert anew(cast, plate(2), plate(1), plate_destroyed=False).outcome == "accepted"
    assert rows_of("SELECT count(*) FROM event_unit WHERE unit = %s AND role = 'scrapped'", unit_of(plate(1))) == [(1,)]
    assert packed(cast, plate(1), expect="PACK-NOT-RELEASED") == ""


def test_both_are_told_to_other_systems(cast: Cast) -> None:
    cast.hull(plate(1))
    cast.hull(plate(2))
    relabel(cast, plate(1), plate(3))
    anew(cast, plate(2), plate(3))
    for hull, steps in ((plate(2), {"moulded-anew"}), (plate(3), {"relabelling", "destroying"})):
        gathered = gather(hull)
        events = list(hull_events(gathered))
        assert [fault for event in events for fault in faults(event)] == []
        assert steps <= {str(event.get("bizStep")).rpartition(":")[2] for event in events}
