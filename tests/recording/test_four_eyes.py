"""Who may end a hold or release a lot knows who did what before; what was released conditionally does not leave."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from tests.cast import DEPUTY, LEAD, PACKER, QUALITY, SO_RED, STORES, Cast, plate, rows_of
from trace.readmodels.rebuild import differences
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.goods_in import Certify, Release
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.setup import Define
from trace.recording.acts.vessels import TopUp
from trace.recording.answers import Answer

CHECKS = ("surface", "inserts", "plate")


def switch(cast: Cast, code: str, verdict: str) -> None:
    cast.scan(Define(kind="setting", key=f"rule:{code}", body={"value": verdict}), person="P-09")


def end(cast: Cast, hold: str, person: str, expect: str = "") -> Answer:
    return cast.scan(ReleaseHold(hold=hold, reason="measured again"), person=person, expect=expect)


@pytest.mark.parametrize("rule", ["quality", "supplier query"])
def test_nobody_ends_a_hold_of_their_own(cast: Cast, rule: str) -> None:
    uid = cast.scan(Hold(code=cast["red"], rule=rule, reason="density query"), person=QUALITY).made["holds"][0]
    assert end(cast, uid, QUALITY, "HOLD-SAME-PERSON").code == "HOLD-SAME-PERSON"
    assert end(cast, uid, DEPUTY).outcome == "accepted"


def test_nobody_ends_a_hold_that_came_of_what_they_recorded(cast: Cast) -> None:
    cast.hull(plate(1))
    failed = cast.scan(Inspect(hull=plate(1), verdict="fail", checks=CHECKS), person=QUALITY)
    (uid,) = failed.made["holds"]
    assert end(cast, uid, QUALITY, "HOLD-SAME-PERSON").code == "HOLD-SAME-PERSON"
    assert end(cast, uid, DEPUTY).outcome == "accepted"


def test_a_plant_says_whether_one_person_may_but_not_for_safety(cast: Cast) -> None:
    switch(cast, "HOLD-SAME-PERSON", "warn")
    for rule, outcome in (("quality", "warned"), ("safety", "refused"), ("stop-use", "refused")):
        uid = cast.scan(Hold(code=cast["red"], rule=rule, reason="x"), person=QUALITY).made["holds"][0]
        assert end(cast, uid, QUALITY, "HOLD-OWN").outcome == outcome


def test_a_plant_says_that_a_second_person_releases(cast: Cast) -> None:
    def certified(lot: str, by: str) -> str:
        code = cast.shift.receive("VERRIN", "LL-35", lot, ("50",))[0]
        values = {"mfi": "3.5", "density": "0.938"}
        cast.scan(Certify(container=code, lot_on_certificate=lot, values=values), person=by)
        return code

    code = certified("V-1", QUALITY)
    assert cast.scan(Release(container=code, reason="certificate"), person=QUALITY).outcome == "accepted"
    switch(cast, "RELEASE-SAME-PERSON", "refuse")
    code = certified("V-2", QUALITY)
    refused = cast.scan(Release(container=code, reason="x"), person=QUALITY, expect="RELEASE-SAME-PERSON")
    assert refused.code == "RELEASE-SAME-PERSON"
    assert cast.scan(Release(container=code, reason="certificate"), person=DEPUTY).outcome == "accepted"
    # Stores booked it: stores could not release it either, had they the right to.
    code = certified("V-3", DEPUTY)
    assert cast.scan(Release(container=code, reason="x"), person=STORES, expect="RELEASE-SAME-PERSON").code


def conditional(cast: Cast) -> str:
    """A red lot of two boxes, released while a test is open."""
    box, _other = cast.shift.receive("VERRIN", "LL-35 red", "V-3000", ("200", "200"))
    values = {"mfi": "3.5", "density": "0.938"}
    cast.scan(Certify(container=box, lot_on_certificate="V-3000", values=values), person=QUALITY)
    cast.scan(Release(container=box, conditional=True, reason="test open"), person=QUALITY)
    return box


def packed(cast: Cast, n: int) -> str:
    answer = cast.scan(Pack(order=SO_RED, hulls=(plate(n),)), person=PACKER)
    assert re.fullmatch(rf"pack [0-9A-Z]{{4}}-[0-9A-Z]{{4}}: {plate(n)}", answer.recorded)
    assert (answer.outcome, answer.code) == ("warned", "PACK-CONDITIONAL")
    code: str = answer.made["codes"][0]
    return code


def leaves(cast: Cast, pack: str, expect: str = "") -> Answer:
    load = Dispatch(order=SO_RED, packs=(pack,), consignee="WHARFE", vehicle="PA 12")
    return cast.scan(load, person=PACKER, expect=expect)


def test_what_was_released_conditionally_is_used_packed_and_does_not_leave(cast: Cast) -> None:
    box = conditional(cast)
    cast.hull(plate(1), red=box)
    pack = packed(cast, 1)
    refused = leaves(cast, pack, "GATE-CONDITIONAL")
    assert refused.code == "GATE-CONDITIONAL"
    # Shown everywhere: on the hull and on what is left of the lot.
    assert rows_of(
        """SELECT count(DISTINCT u.kind) FROM unit_hold x JOIN hold h ON h.id = x.hold JOIN unit u ON u.id = x.unit
            WHERE h.rule = 'GATE-CONDITIONAL' AND u.kind IN ('lot', 'content', 'charge', 'moulding', 'hull', 'pack')"""
    ) == [(6,)]
    assert cast.scan(Release(container=box, reason="test is in"), person=DEPUTY).outcome == "accepted"
    assert leaves(cast, pack).outcome == "accepted"
    assert differences() == []


def test_a_conditional_lot_that_went_through_a_vessel_does_not_leave(cast: Cast) -> None:
    vessel = cast["vessels"][0]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="50"), person=STORES)
    cast.scan(TopUp(source=conditional(cast), into=vessel, amount="50"), person=STORES)
    cast.hull(plate(1), red=vessel)
    assert leaves(cast, packed(cast, 1), "GATE-CONDITIONAL").code == "GATE-CONDITIONAL"


def test_a_hull_made_before_its_lot_became_conditional_does_not_leave_either(cast: Cast) -> None:
    cast.hull(plate(1))
    cast.scan(Release(container=cast["red"], conditional=True, reason="retest open"), person=QUALITY)
    assert leaves(cast, packed(cast, 1), "GATE-CONDITIONAL").code == "GATE-CONDITIONAL"


def test_a_conditional_release_is_confirmed_and_not_ended_like_a_hold(cast: Cast) -> None:
    conditional(cast)
    uid = rows_of("SELECT uid::text FROM hold WHERE rule = 'GATE-CONDITIONAL'")[0][0]
    assert end(cast, uid, DEPUTY, "HOLD-CONDITIONAL").code == "HOLD-CONDITIONAL"


def test_a_certificate_outside_its_limits_takes_a_release_back(cast: Cast) -> None:
    cast.hull(plate(1))
    paper = Certify(container=cast["red"], lot_on_certificate="V-2288", values={"mfi": "3.5", "density": "0.958"})
    answer = cast.scan(paper, person=QUALITY)
    assert (answer.outcome, answer.code) == ("flagged", "CERTIFICATE-AFTER-RELEASE")
    assert cast.scan(Pack(order=SO_RED, hulls=(plate(1),)), person=PACKER, expect="PACK-HELD").code == "PACK-HELD"
    cast.clock.now += timedelta(minutes=1)
    # Entered again it is the same hold.
    assert cast.scan(paper, person=QUALITY).made["holds"] == []
    assert end(cast, answer.made["holds"][0], DEPUTY).outcome == "accepted"


def test_a_lot_is_held_by_what_its_page_names_it(cast: Cast) -> None:
    """Its number may be another supplier's too, and it may have none: a page knows which one it shows."""
    cast.shift.stock("DUNSAY", "LL-35", "V-2301", ("40",))
    lot = rows_of("SELECT uid::text FROM unit WHERE kind = 'lot' AND lot_no = 'V-2301' ORDER BY id")[0][0]
    assert cast.scan(Hold(code="V-2301", reason="x"), person=LEAD, expect="CODE-MISREAD").code == "CODE-MISREAD"
    held = cast.scan(Hold(code=lot, reason="density"), person=LEAD)
    assert held.outcome == "accepted"
    assert rows_of("SELECT u.uid::text FROM hold h JOIN unit u ON u.id = h.unit") == [(lot,)]
    assert cast.shift.weigh("WO-1041", "inner", cast["natural"], cast["boxes"][0], expect="SOURCE-HELD").code
