"""What is welded into a hull is of a lot like all else in it; the hull is inspected again where it was touched."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

from tests.cast import LEAD, PLANNER, QUALITY, Cast, plate, rows_of
from tests.recording.test_returns import back, packed, sent, stands, unit_of
from trace.genealogy.answer import genealogy
from trace.genealogy.causes import read_cause
from trace.genealogy.sharing import shared_by
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.holds import Hold
from trace.recording.acts.repairs import Repair
from trace.recording.acts.setup import Define
from trace.recording.answers import Answer


def rods(cast: Cast, number: str = "R-7") -> str:
    """A box of two kilograms of weld rod."""
    return str(cast.shift.stock("VERRIN", "ROD-35", number, ("2.000",))[0])


def mended(cast: Cast, hull: str, box: str = "", **more: Any) -> Answer:
    fields = {"work": "welded", "spot": "Z3", "tool": "WELDER 2", **({"source": box, "amount": "0.045"} if box else {})}
    by = {name: more.pop(name) for name in ("expect", "mode", "overrides", "person") if name in more}
    return cast.scan(Repair(hull=hull, **{**fields, **more}), **{"person": QUALITY, **by})


def with_rod(number: str) -> dict[str, str]:
    answer = shared_by(read_cause(["holds=" + number]))
    return {line.node.code: line.verdict for line in answer.lines}


def test_a_rod_is_in_the_hull_by_its_lot_in_a_layer_of_its_own(cast: Cast) -> None:
    box = rods(cast)
    cast.hull(plate(1))
    cast.hull(plate(2))
    assert mended(cast, plate(1), box).outcome == "accepted"
    [lot] = [x for x in genealogy(plate(1), "back").lines if (x.node.lot_no, x.node.kind) == ("R-7", "lot")]
    repair = lot.share.layers["repair"]
    assert (lot.verdict, repair.least, repair.most) == ("certain", 45_000, 45_000)
    [hull] = [line for line in genealogy("R-7", "forward").lines if line.node.kind == "hull"]
    assert (hull.node.code, hull.verdict) == (plate(1), "certain")
    assert with_rod("R-7") == {plate(1): "certain", plate(2): "cannot"}
    assert rows_of("SELECT balance FROM unit_state s JOIN unit u ON u.id = s.unit WHERE u.about->>'material' = 'ROD-35'"
                   " AND u.kind = 'content'") == [(1_955_000,)]  # fmt: skip
    # What is on hold by its lot holds the hull too.
    cast.scan(Hold(code=box, rule="quality", whole_lot=True, reason="brittle"), person=QUALITY)
    assert packed(cast, plate(1), expect="PACK-HELD") == ""
    assert differences() == []


def test_it_goes_back_to_inspection_of_what_was_touched(cast: Cast) -> None:
    box, zones = rods(cast), ("Z1", "Z2", "Z3", "Z4", "Z5", "Z6")
    cast.hull(plate(1))
    mended(cast, plate(1), box)
    assert stands(plate(1))[0] == "repaired"
    assert packed(cast, plate(1), expect="PACK-NOT-RELEASED") == ""
    checks = ("surface", "inserts", "plate")
    others = {zone: "4.1" for zone in zones if zone != "Z3"}
    unread = Inspect(hull=plate(1), verdict="pass", checks=checks, thickness=others)
    refused = cast.scan(unread, person=QUALITY, expect="ZONE-UNREAD")
    assert refused.code == "ZONE-UNREAD" and "Z3." in refused.what
    read = Inspect(hull=plate(1), verdict="pass", checks=checks, thickness={"Z3": "4.4"})
    assert cast.scan(read, person=QUALITY).outcome == "accepted"
    assert stands(plate(1))[0] == "released"


def test_what_cannot_be_is_refused_and_what_is_missing_is_a_gap(cast: Cast) -> None:
    box = rods(cast)
    cast.hull(plate(1))
    cast.hull(plate(2))
    sent(cast, plate(2))
    assert mended(cast, plate(2), box, expect="REPAIR-GONE").outcome == "refused"
    back(cast, plate(2))
    assert mended(cast, plate(2), box).outcome == "accepted"
    for code, more in {
        "REPAIR-UNSAID": {"work": "glued"}, "REPAIR-NOWHERE": {"spot": "Z99"},
        "REPAIR-OTHER-MATERIAL": {"source": cast["red"]}, "AMOUNT-UNREADABLE": {"amount": "a bit"},
        "OVERDRAW": {"amount": "3"},
    }.items():  # fmt: skip
        assert mended(cast, plate(1), box, expect=code, **more).code == code
    missing = mended(cast, plate(1))
    assert (missing.outcome, missing.code) == ("warned", "REPAIR-NO-SOURCE")
    assert rows_of("SELECT what, which FROM gap WHERE unit = %s", unit_of(plate(1))) == [("repair", "Z3")]
    # Nobody knows which rod it was: it may be any, and no powder.
    assert with_rod("R-7") == {plate(1): "may", plate(2): "certain"}
    assert with_rod("V-2291") == {plate(1): "cannot", plate(2): "cannot"}


def test_a_hull_is_repaired_so_often_and_once_more_with_a_reason(cast: Cast) -> None:
    box = rods(cast)
    cast.hull(plate(1))
    cast.scan(Define(kind="setting", key="repairs at most", body={"value": 1}), person=PLANNER, expect="")
    mended(cast, plate(1), box)
    assert mended(cast, plate(1), box, expect="REPAIR-TOO-OFTEN").outcome == "refused"
    assert mended(cast, plate(1), box, person=LEAD, expect="REPAIR-TOO-OFTEN").outcome == "refused"
    again = mended(cast, plate(1), box, overrides={"REPAIR-TOO-OFTEN": "a gouge of the hoist"})
    assert again.outcome in ("accepted", "warned")


def test_told_late_and_put_right_the_rod_is_of_the_box_it_came_out_of(cast: Cast) -> None:
    first, second = rods(cast), rods(cast, "R-8")
    cast.hull(plate(1))
    done = cast.clock()
    cast.clock.now += timedelta(minutes=30)
    told = cast.late(
        Repair(hull=plate(1), work="welded", spot="Z3", source=first, amount="0.045"), done, person=QUALITY
    )
    assert told.outcome == "accepted"
    [(event,)] = rows_of("SELECT uid::text FROM event WHERE kind = 'repaired'")
    cast.scan(Correct(event=event, was=first, now=second, reason="the other box"), person=LEAD)
    assert with_rod("R-7")[plate(1)] == "cannot" and with_rod("R-8")[plate(1)] == "certain"
    assert differences() == []


def test_the_photo_of_a_repair_is_kept_with_it(cast: Cast) -> None:
    cast.hull(plate(1))
    digest = "ab" * 32
    mended(cast, plate(1), rods(cast), photo=f"{digest} 1200 image/jpeg")
    [(body,)] = rows_of("SELECT body FROM event WHERE kind = 'repaired'")
    assert digest in json.dumps(json.loads(body)["rows"])
