"""Facts told after others that came later: of a cook, a closing, a scrapping, a dispatch, a binding. What ends a
thing stays, and what was missing when a load went on is shown."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from tests.cast import DEPUTY, LEAD, PACKER, SO_RED, WO_RED, Cast, plate, rows_of
from trace.genealogy.find import find_unit
from trace.genealogy.places import places
from trace.readmodels.rebuild import differences
from trace.recording.acts.cook import CookStage, EndCook, EndCooling
from trace.recording.acts.demould import Bind, Cut, Demould, SwapPlates
from trace.recording.acts.finishing import Scrap
from trace.recording.acts.holds import ReleaseHold
from trace.recording.acts.loading import CloseMould, ReadyMould
from trace.recording.acts.oven import StartCook
from trace.recording.acts.packing import Dispatch, Pack, Rack
from trace.recording.acts.plates import CheckOutPlates, CountBackPlates
from trace.recording.acts.tipping import TipTub
from trace.recording.commands import Command
from trace.sheets.hulls.gathered import gather
from trace.sheets.hulls.sheet import hull_sheet


def holds_on(code: str) -> set[str]:
    found = rows_of("SELECT h.rule FROM unit_hold x JOIN hold h ON h.id = x.hold WHERE x.unit = %s", find_unit(code))
    return {rule for (rule,) in found}


def open_questions() -> dict[str, str | None]:
    """Kind of unit by what has to be looked at."""
    return dict(
        rows_of(
            """SELECT d.kind, u.kind FROM discrepancy d LEFT JOIN unit u ON u.id = d.unit
                WHERE d.closed_by IS NULL"""
        )
    )


def gaps() -> set[tuple[str, str, str]]:
    return set(rows_of("SELECT u.kind, g.what, g.which FROM gap g JOIN unit u ON u.id = g.unit"))


def loaded(cast: Cast) -> None:
    """T430-01 closed on a whole load."""
    tub, foam, inner = cast["tubs"][0], cast["boxes"][0], cast["boxes"][1]
    cast.charge("skin", cast["red"], tub)
    cast.charge("foam", cast["foam"][0], foam)
    cast.charge("inner", cast["natural"], inner)
    cast.shift.load(
        "T430-01", WO_RED, "S1", [tub, foam, inner], [cast["m8"], cast["m6"]],
        [cast["side"], cast["side"], cast["capacity"]],
    )  # fmt: skip


def in_three_hours(cast: Cast) -> datetime:
    """The time now; the clock goes on."""
    then = cast.clock()
    cast.clock.now += timedelta(hours=3)
    return then


def test_a_cook_told_after_its_hull_was_bound_is_about_that_hull(cast: Cast) -> None:
    loaded(cast)
    start = in_three_hours(cast)
    cast.scan(Demould(mould="T430-01"), mode="tells")
    cast.scan(Bind(mould="T430-01", plate=plate(1)), mode="tells")
    started = StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",), loggers=("LG-1",), set_c="290")
    cook: list[tuple[int, Command, str]] = [
        (1, started, ""),
        (20, CookStage(mould="T430-01", stage="stopped"), "COOK-STOPPED"),
        (30, EndCook(mould="T430-01", piat="245", log="missing"), "COOK-OUTSIDE"),
        (60, EndCooling(mould="T430-01", demould_c="95"), "DEMOULD-HOT"),
    ]
    for minutes, command, code in cook:
        assert cast.late(command, start + timedelta(minutes=minutes)).code == code
    load = rows_of("SELECT id FROM unit WHERE kind = 'load'")[0][0]
    readings = "SELECT quantity, value::int FROM reading WHERE unit = %s"
    assert rows_of(readings, load) == [("peak internal air", 245), ("at demould", 95)]
    assert holds_on(plate(1)) == {"NOT-TO-DEMOULD", "COOK-STOPPED", "COOK-OUTSIDE", "DEMOULD-HOT"}
    assert {(kind, what) for kind, what, _ in gaps()} == {("load", "oven log"), ("load", "stop length")}
    assert set(open_questions().values()) == {"load", "moulding"}
    assert rows_of("SELECT stage, load, cycle FROM mould_state WHERE load IS NOT NULL") == []
    assert rows_of("SELECT status FROM unit_state WHERE unit = %s", load) == [("demoulded",)]
    assert differences() == []


def test_what_a_load_lacks_is_shown_though_nobody_closed_it(cast: Cast) -> None:
    """Only its skin was recorded: from the cook's start on the rest is missing, until it is told of."""
    tub, foam = cast["tubs"][0], cast["boxes"][0]
    cast.charge("skin", cast["red"], tub)
    cast.charge("foam", cast["foam"][0], foam)
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=tub))
    then = in_three_hours(cast)
    assert gaps() == set()
    cast.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",), loggers=("LG-1",)), mode="tells")
    layers = {("load", "layer", "foam"), ("load", "layer", "inner")}
    assert {g for g in gaps() if g[1] == "layer"} == layers
    assert {what for _, what, _ in gaps()} == {"layer", "insert", "graphic"}
    closed = cast.late(CloseMould(mould="T430-01", counted="0"), then + timedelta(minutes=2), person=LEAD)
    assert (closed.recorded, "MOULD-NOT-OPEN" in {f["code"] for f in closed.found}) == ("T430-01 closed", False)
    assert rows_of("SELECT stage FROM mould_state WHERE load IS NOT NULL") == [("in oven",)]
    assert cast.late(TipTub(mould="T430-01", tub=foam), then + timedelta(minutes=1)).outcome == "accepted"
    assert {g for g in gaps() if g[1] == "layer"} == layers - {("load", "layer", "foam")}
    assert differences() == []


def test_a_load_taken_out_that_was_never_closed_shows_what_it_lacks(cast: Cast) -> None:
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(Demould(mould="T430-01"), mode="tells")
    assert {which for _, what, which in gaps() if what == "layer"} == {"skin", "foam", "inner"}


@pytest.mark.parametrize(
    "told",
    [CheckOutPlates(plates=(plate(1),)), CountBackPlates(plates=(plate(1),)), CountBackPlates(missing=(plate(1),))],
)
def test_a_plate_on_a_hull_is_told_out_or_back_and_stays_on_it(cast: Cast, told: Command) -> None:
    cast.hull(plate(1))
    hull = find_unit(plate(1))
    answer = cast.scan(told, mode="tells", person=LEAD)
    assert (answer.outcome, answer.code) == ("flagged", "PLATE-MISPLACED")
    assert rows_of("SELECT hull, standing FROM serial_state WHERE text = %s", plate(1)) == [(hull, "bound")]
    assert "PLATE-MISPLACED" in holds_on(plate(1))
    # Nor does a lead's reason take it off.
    out = CheckOutPlates(plates=(plate(1),))
    cast.scan(out, person=LEAD, overrides={"PLATE-MISPLACED": "found on the bench"})
    cast.moulding()
    cast.scan(Demould(mould="T430-01"))
    assert cast.scan(Bind(mould="T430-01", plate=plate(1)), expect="PLATE-USED").code == "PLATE-USED"
    assert differences() == []


def stands(code: str) -> tuple[str, str]:
    """A unit's status and place, the same for the station, the walk and the sheet."""
    unit = find_unit(code)
    found = rows_of(
        "SELECT s.status, p.place FROM unit_state s JOIN place_now p ON p.unit = s.unit WHERE s.unit = %s", unit
    )
    status, place = found[0]
    assert places([unit])[unit] == place
    if code.startswith("GHM-"):
        assert hull_sheet(gather(code)).state == status
    return status, place


def on_the_minute(cast: Cast) -> datetime:
    """The minute now, as it is written on paper; the clock goes on."""
    return in_three_hours(cast).replace(second=0, microsecond=0)


def test_a_dispatch_on_paper_in_the_minute_of_its_packing_is_gone(cast: Cast) -> None:
    cast.hull(plate(1))
    minute = on_the_minute(cast)
    at = minute + timedelta(seconds=40)
    pack = Pack(order=SO_RED, hulls=(plate(1),))
    code = cast.scan(pack, person=PACKER, happened=at, recorded=at).made["codes"][0]
    dispatch = Dispatch(order=SO_RED, packs=(code,), consignee="WHARFE", vehicle="x")
    assert cast.late(dispatch, minute, person=PACKER, unsure_ms=60_000).outcome == "accepted"
    assert stands(plate(1)) == stands(code) == ("dispatched", "gone: WHARFE")
    assert cast.scan(dispatch, person=PACKER, expect="GATE-GONE").code == "GATE-GONE"
    place = rows_of("SELECT key FROM resource WHERE kind = 'place' ORDER BY key LIMIT 1")[0][0]
    told = cast.scan(Rack(place=place, units=(code,)), person=PACKER, mode="tells")
    assert (told.code, stands(code)) == ("RACK-GONE", ("dispatched", "gone: WHARFE"))
    assert differences() == []


@pytest.mark.parametrize("verdict", ["pass", "fail"])
def test_a_scrapping_told_late_scraps(cast: Cast, verdict: str) -> None:
    """Inspected twenty seconds after it, by another device's clock."""
    cast.moulding()
    cast.shift.demould_and_bind("T430-01", plate(1))
    minute = on_the_minute(cast)
    at = minute + timedelta(seconds=20)
    cast.shift.inspect(plate(1), verdict, happened=at, recorded=at)
    scrap = Scrap(unit=plate(1), plate_destroyed=True, reason="cracked")
    assert cast.late(scrap, minute, person=LEAD, unsure_ms=60_000).outcome == "accepted"
    assert stands(plate(1))[0] == "scrapped"
    pack = Pack(order=SO_RED, hulls=(plate(1),))
    refused = "PACK-HELD" if verdict == "fail" else "PACK-NOT-RELEASED"
    assert cast.scan(pack, person=PACKER, expect=refused).code == refused
    assert differences() == []


@pytest.mark.parametrize(("destroyed", "standing"), [(True, "destroyed"), (False, "bound")])
def test_a_plate_is_destroyed_with_its_hull_only_where_that_is_said(
    cast: Cast, *, destroyed: bool, standing: str
) -> None:
    cast.hull(plate(1))
    cast.scan(Scrap(unit=plate(1), plate_destroyed=destroyed, reason="cracked"), person=LEAD, mode="tells")
    assert rows_of("SELECT standing FROM serial_state WHERE text = %s", plate(1)) == [(standing,)]


def test_an_inspection_told_of_a_hull_that_is_gone_brings_nothing_back(cast: Cast) -> None:
    cast.hull(plate(1))
    code = cast.scan(Pack(order=SO_RED, hulls=(plate(1),)), person=PACKER).made["codes"][0]
    told = cast.shift.inspect(plate(1), mode="tells")
    assert (told.code, stands(plate(1))) == ("INSPECT-GONE", ("packed", "PACKING"))
    [hold] = rows_of("SELECT uid::text FROM hold")[0]
    cast.scan(ReleaseHold(hold=hold, reason="looked into"), person=DEPUTY)
    cast.scan(Dispatch(order=SO_RED, packs=(code,), consignee="WHARFE", vehicle="x"), person=PACKER)
    told = cast.shift.inspect(plate(1), mode="tells")
    assert "INSPECT-GONE" in {f["code"] for f in told.found}
    assert stands(plate(1)) == ("dispatched", "gone: WHARFE")
    cast.hull(plate(2))
    swap = SwapPlates(first=plate(1), second=plate(2), evidence="mass")
    assert cast.scan(swap, person=LEAD, expect="SWAP-GONE").code == "SWAP-GONE"
    scrap = Scrap(unit=plate(1), plate_destroyed=True, reason="cracked")
    assert cast.scan(scrap, person=LEAD, expect="SCRAP-GONE").code == "SCRAP-GONE"
    assert differences() == []


def test_what_was_scrapped_and_is_told_cut_stays_scrap_and_its_parts_are_held(cast: Cast) -> None:
    cast.moulding()
    number = cast.scan(Demould(mould="T430-01")).made["units"][0]["lot_no"]
    cast.scan(Scrap(unit=number, reason="thin"), person=LEAD)
    told = cast.scan(Cut(moulding=number, parts=("A", "B")), person=LEAD, mode="tells")
    assert (told.outcome, told.code, stands(number)[0]) == ("flagged", "CUT-UNFIT", "scrapped")
    assert holds_on(f"{number}/A") == holds_on(f"{number}/B") == {"CUT-UNFIT"}


def one_waits(cast: Cast) -> None:
    """A moulding out of T430-01 without its plate; the mould closed on the next load."""
    cast.moulding()
    cast.scan(Demould(mould="T430-01"))
    loaded(cast)


def test_a_plate_told_before_the_demoulding_it_belongs_to_is_looked_into(cast: Cast) -> None:
    """The demould station's records arrive in another order: the older moulding is not the one meant for certain."""
    one_waits(cast)
    cast.shift.cook(["T430-01"], "S1")
    out = in_three_hours(cast)
    told = cast.late(Bind(mould="T430-01", plate=plate(2)), out + timedelta(minutes=2))
    assert (told.outcome, told.code) == ("flagged", "MOULDING-WHICH")
    assert "still in the mould" in told.what
    assert holds_on(plate(2)) == {"MOULDING-WHICH"}
    assert open_questions() == {"told, but: MOULDING-WHICH": "hull"}


def test_a_plate_told_while_the_next_load_was_not_cooked_yet_is_for_the_moulding_that_waits(cast: Cast) -> None:
    one_waits(cast)
    then = in_three_hours(cast)
    cast.shift.cook(["T430-01"], "S1")
    assert cast.late(Bind(mould="T430-01", plate=plate(1)), then).outcome != "flagged"
    assert holds_on(plate(1)) == set()


def test_a_moulding_told_after_a_plate_that_was_bound_later_holds_that_hull(cast: Cast) -> None:
    """Nothing of its cook was recorded when the plate was."""
    one_waits(cast)
    out = in_three_hours(cast)
    assert cast.late(Bind(mould="T430-01", plate=plate(2)), out + timedelta(minutes=2)).outcome != "flagged"
    cast.late(Demould(mould="T430-01"), out)
    assert holds_on(plate(2)) == {"MOULDING-WHICH"}
    assert open_questions()["its plate was bound after a moulding that was told of later"] == "hull"
    assert differences() == []


def test_a_plate_told_of_twice_stays_with_its_first_hull(cast: Cast) -> None:
    """It cannot be on both: the second has no plate that is known, and somebody has to look."""
    first = cast.hull(plate(1))
    on = "SELECT s.hull FROM serial_state s WHERE s.text = %s"
    hull = rows_of(on, first)
    cast.moulding()
    cast.scan(Demould(mould="T430-01"))
    answer = cast.scan(Bind(mould="T430-01", plate=plate(1)), mode="tells")
    assert answer.outcome == "flagged"
    assert rows_of(on, first) == hull
    (second,) = rows_of("SELECT id FROM unit WHERE kind = 'hull' ORDER BY id DESC LIMIT 1")
    assert (second,) != hull[0]
    assert rows_of("SELECT what, which FROM gap WHERE unit = %s AND what = 'plate'", second[0]) == [("plate", plate(1))]
