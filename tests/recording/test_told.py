"""Facts told after the act: recorded whatever the rules say, put where they belong, or shown as not placed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from tests.cast import LEAD, OPERATOR, PACKER, QUALITY, SO_RED, STORES, WO_RED, Cast, plate, rows_of
from trace.genealogy.find import find_unit
from trace.genealogy.walk import walk
from trace.readmodels.rebuild import differences
from trace.recording.acts.cook import EndCook
from trace.recording.acts.corrections import CloseDiscrepancy
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.holds import Hold
from trace.recording.acts.loading import CloseMould, PlaceGraphic, PlaceInserts, ReadyMould
from trace.recording.acts.opening import OldHull
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.commands import Command
from trace.sheets.hulls.gathered import gather
from trace.sheets.hulls.sheet import hull_sheet


def discrepancies() -> set[str]:
    return {kind for (kind,) in rows_of("SELECT kind FROM discrepancy")}


def test_a_clock_that_is_ahead(cast: Cast) -> None:
    """Asked, it is refused; told, it is recorded as happening now, flagged, and hides nothing that comes after."""
    ahead = cast.clock.now + timedelta(days=400)
    weigh = Weigh(order=WO_RED, layer="skin", box=cast["red"], tub=cast["tubs"][0], scale="W-3", gross="12.20")
    assert cast.scan(weigh, happened=ahead, recorded=cast.clock(), expect="TIME-AHEAD").code == "TIME-AHEAD"
    told = cast.scan(weigh, happened=ahead, recorded=cast.clock(), mode="tells")
    assert (told.outcome, told.code) == ("flagged", "TIME-AHEAD")
    assert rows_of("SELECT happened = recorded FROM event ORDER BY id DESC LIMIT 1") == [(True,)]
    assert rows_of("SELECT taken FROM scan ORDER BY id DESC LIMIT 1") == [(ahead,)]
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=cast["tubs"][0]), mode="tells")
    status = rows_of("SELECT s.status FROM unit_state s JOIN unit u ON u.id = s.unit WHERE u.kind = 'charge'")
    assert status == [("tipped",)]


def test_a_clock_a_little_ahead_is_put_back(cast: Cast) -> None:
    happened = cast.clock.now + timedelta(seconds=100)
    answer = cast.scan(TopUp(source=cast["red"], into=cast["vessels"][0], amount="20"), person=LEAD, happened=happened,
                       recorded=cast.clock.now)  # fmt: skip
    assert answer.outcome == "accepted"
    assert rows_of("SELECT happened = recorded FROM event ORDER BY id DESC LIMIT 1") == [(True,)]


def test_a_question_is_looked_at_and_closed(cast: Cast) -> None:
    cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][0], "13.00", mode="tells")
    event, n = rows_of("SELECT e.uid::text, d.n FROM discrepancy d JOIN event e ON e.id = d.event")[0]
    said = cast.scan(CloseDiscrepancy(event=event, n=n, reason="looked at"), person=QUALITY)
    assert (said.outcome, said.recorded) == ("accepted", "looked at and closed")


def loads() -> list[int]:
    return [unit for (unit,) in rows_of("SELECT id FROM unit WHERE kind = 'load' ORDER BY id")]


def two_loads(cast: Cast) -> datetime:
    """One mould, loaded, emptied and opened again; a time while the first load was in it."""
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    then = cast.clock()
    cast.clock.now += timedelta(hours=2)
    cast.scan(Demould(mould="T430-01"), mode="tells")
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    return then


def test_inserts_told_late_go_into_the_load_that_was_in_the_mould_then(cast: Cast) -> None:
    """The loading tablet was offline: the mould was emptied and opened again meanwhile."""
    then = two_loads(cast)
    told = cast.late(PlaceInserts(mould="T430-01", box=cast["m8"]), then)
    assert told.outcome == "accepted"
    first, _second = loads()
    assert rows_of("SELECT child, count(*) FROM edge WHERE role = 'insert' GROUP BY 1") == [(first, 8)]
    assert differences() == []


def test_inserts_told_late_into_a_load_given_up_as_empty_are_looked_at(cast: Cast) -> None:
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    then = cast.clock()
    cast.clock.now += timedelta(hours=2)
    assert cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S2")).outcome == "accepted"
    told = cast.late(PlaceInserts(mould="T430-01", box=cast["m8"]), then)
    assert (told.outcome, told.code) == ("flagged", "NO-OPEN-LOAD")
    first, _second = loads()
    assert rows_of("SELECT child, count(*) FROM edge WHERE role = 'insert' GROUP BY 1") == [(first, 8)]
    assert differences() == []


def test_a_cook_told_of_an_earlier_load_is_about_that_one(cast: Cast) -> None:
    """It cannot be placed; what has to be looked at, and held, is the load it is of, not the one in the mould now."""
    then = two_loads(cast)
    told = cast.late(EndCook(mould="T430-01", piat="208", log="attached"), then)
    assert (told.outcome, told.code) == ("flagged", "MOULD-USED-SINCE")
    first, second = loads()
    held = "SELECT unit FROM hold WHERE rule = 'MOULD-USED-SINCE'"
    assert rows_of(held) == [(first,)]
    assert rows_of("SELECT unit FROM discrepancy WHERE kind = 'told, but: MOULD-USED-SINCE'") == [(first,)]
    assert rows_of("SELECT status FROM unit_state WHERE unit = %s", second) == [("open",)]
    assert differences() == []


def closed_without(cast: Cast, what: str) -> datetime:
    """A mould closed by a told fact while one part of its load was not recorded yet; a time before that."""
    tub, foam, inner = cast["tubs"][0], cast["boxes"][0], cast["boxes"][1]
    cast.charge("skin", cast["red"], tub)
    cast.charge("foam", cast["foam"][0], foam)
    cast.charge("inner", cast["natural"], inner)
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    acts: list[tuple[str, Command]] = [
        ("skin", TipTub(mould="T430-01", tub=tub)),
        ("foam", TipTub(mould="T430-01", tub=foam)),
        ("inner", TipTub(mould="T430-01", tub=inner)),
        ("m8", PlaceInserts(mould="T430-01", box=cast["m8"])),
        ("m6", PlaceInserts(mould="T430-01", box=cast["m6"])),
        *[(name, PlaceGraphic(mould="T430-01", pack=cast[name])) for name in ("side", "side", "capacity")],
    ]
    for name, command in acts:
        if name != what:
            cast.scan(command)
    then = cast.clock()
    cast.scan(CloseMould(mould="T430-01", counted="12"), mode="tells", person=LEAD)
    return then


@pytest.mark.parametrize("what", ["foam", "m6", "capacity"])
def test_what_is_told_after_the_mould_was_closed_closes_its_gap(cast: Cast, what: str) -> None:
    """Two people load one mould, in any order; one of their devices sends last, when the hull is out already."""
    then = closed_without(cast, what)
    assert rows_of("SELECT count(*) > 0 FROM gap") == [(True,)]
    cast.shift.cook(["T430-01"], "S1", person=LEAD, overrides={"COOK-HELD": "looked into"})
    cast.scan(Demould(mould="T430-01"))
    late: dict[str, Command] = {
        "foam": TipTub(mould="T430-01", tub=cast["boxes"][0]),
        "m6": PlaceInserts(mould="T430-01", box=cast["m6"]),
        "capacity": PlaceGraphic(mould="T430-01", pack=cast["capacity"]),
    }
    assert cast.late(late[what], then).outcome == "accepted"
    assert rows_of("SELECT what, which FROM gap") == []
    lot = {"foam": "F-118", "m6": "N-0355", "capacity": "G-78"}[what]
    moulding = rows_of("SELECT id FROM unit WHERE kind = 'moulding'")[0][0]
    assert lot in {n.lot_no for n in walk([moulding], "back").nodes.values()}
    assert differences() == []


def test_what_is_told_as_put_into_a_closed_mould_goes_in_and_is_looked_at(cast: Cast) -> None:
    closed_without(cast, "m6")
    place = PlaceInserts(mould="T430-01", box=cast["m6"])
    assert cast.scan(place, expect="NO-OPEN-LOAD").code == "NO-OPEN-LOAD"
    told = cast.scan(place, mode="tells")
    assert (told.outcome, told.code) == ("flagged", "NO-OPEN-LOAD")
    [load] = loads()
    assert rows_of("SELECT count(*) FROM edge WHERE role = 'insert' AND child = %s", load) == [(12,)]
    assert rows_of("SELECT unit FROM hold WHERE rule = 'NO-OPEN-LOAD'") == [(load,)]
    assert "told, but: NO-OPEN-LOAD" in discrepancies()
    assert differences() == []


def test_a_hold_reaches_a_hull_through_what_is_told_late(cast: Cast) -> None:
    then = closed_without(cast, "m6")
    cast.shift.cook(["T430-01"], "S1", person=LEAD, overrides={"COOK-HELD": "looked into"})
    cast.shift.demould_and_bind("T430-01", plate(1))
    cast.scan(Hold(code=cast["m6"], rule="quality", reason="thread"), person=QUALITY)
    cast.late(PlaceInserts(mould="T430-01", box=cast["m6"]), then)
    on_hull = "SELECT h.rule FROM unit_hold x JOIN hold h ON h.id = x.hold WHERE x.unit = %s AND h.rule = 'quality'"
    assert rows_of(on_hull, find_unit(plate(1))) == [("quality",)]


def test_a_plate_told_twice_stays_with_its_first_hull(cast: Cast) -> None:
    cast.hull(plate(1))
    first = find_unit(plate(1))
    cast.moulding()
    cast.scan(Demould(mould="T430-01"))
    told = cast.scan(Bind(mould="T430-01", plate=plate(1)), mode="tells")
    assert (told.outcome, told.code) == ("flagged", "PLATE-USED")
    assert rows_of("SELECT hull FROM serial_state WHERE text = %s", plate(1)) == [(first,)]
    assert rows_of("SELECT what, which FROM gap WHERE what = 'plate'") == [("plate", plate(1))]
    assert differences() == []


def test_a_mould_loaded_again_by_what_is_told_leaves_its_load_to_a_person(cast: Cast) -> None:
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    told = cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"), mode="tells")
    assert (told.outcome, told.code) == ("flagged", "MOULD-HAS-CHARGE")
    assert "left in a mould that was loaded again" in discrepancies()


def test_a_charge_told_into_a_full_tub_may_be_mixed_with_what_was_in_it(cast: Cast) -> None:
    cast.charge("skin", cast["red"], cast["tubs"][0])
    told = cast.shift.weigh(WO_RED, "skin", cast["red2"], cast["tubs"][0], mode="tells")
    assert (told.outcome, told.code) == ("flagged", "TUB-FULL")
    charge = rows_of("SELECT max(id) FROM unit WHERE kind = 'charge'")[0][0]
    lots = {n.lot_no for n in walk([charge], "back").nodes.values() if n.kind == "lot"}
    assert lots == {"V-2288", "V-2291"}


def test_a_tub_tipped_late_gives_what_was_in_it_then(cast: Cast) -> None:
    """Weighed, tipped and weighed again: the first tip is told last."""
    tub = cast["tubs"][0]
    cast.charge("skin", cast["red"], tub)
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    then = cast.clock()
    second = cast.clock() + timedelta(minutes=1)
    cast.late(
        Weigh(order=WO_RED, layer="skin", box=cast["red2"], tub=tub, scale="W-3", gross="12.20"), second, person=LEAD
    )
    told = cast.late(TipTub(mould="T430-01", tub=tub), then)
    assert told.outcome == "accepted"
    load = rows_of("SELECT id FROM unit WHERE kind = 'load'")[0][0]
    assert {n.lot_no for n in walk([load], "back").nodes.values() if n.kind == "lot"} == {"V-2288"}
    # The second charge stands in the tub, for its order and layer, and can be tipped.
    state = rows_of(
        """SELECT c."order", c.layer, u.lot_no FROM label l JOIN carrier_state c ON c.carrier = l.carrier
             JOIN unit u ON u.id = c.content WHERE l.code = %s""",
        tub,
    )
    assert state == [(WO_RED, "skin", "V-2291")]
    assert differences() == []


def test_a_truck_that_left_and_nobody_knows_where_to(cast: Cast) -> None:
    """Told, the packs have gone; to whom is a gap of the consignment, not the order's word for it."""
    cast.scan(OldHull(serial="OLD-1", product="T430", colour="red"), person=STORES)
    [pack] = cast.scan(Pack(order=SO_RED, hulls=("OLD-1",)), person=PACKER).made["codes"]
    told = cast.scan(Dispatch(order=SO_RED, packs=(pack,), vehicle="PA 12"), person=PACKER, mode="tells")
    assert (told.outcome, told.code) == ("flagged", "GATE-NO-CONSIGNEE")
    assert rows_of("SELECT DISTINCT place FROM place_now p JOIN unit u ON u.id = p.unit WHERE kind = 'hull'") == [
        ("gone: unknown",)
    ]
    assert rows_of("SELECT u.kind, u.about->>'consignee', g.what FROM gap g JOIN unit u ON u.id = g.unit"
                   " WHERE what = 'consignee'") == [("consignment", None, "consignee")]  # fmt: skip
    assert "nobody recorded whom" in " ".join(line.what for line in hull_sheet(gather("OLD-1")).history)
    assert differences() == []


def test_person_of_the_first_scan_is_kept(cast: Cast) -> None:
    """A late fact of one person moves the draws of another; who drew stays to be seen."""
    vessel = cast["vessels"][0]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="50"), person=LEAD)
    then = cast.clock()
    cast.shift.weigh(WO_RED, "skin", vessel, cast["tubs"][0], person=OPERATOR)
    drawn = str(rows_of("SELECT uid FROM event ORDER BY id DESC LIMIT 1")[0][0])
    cast.late(TopUp(source=cast["red2"], into=vessel, amount="50"), then, person=STORES)
    again = rows_of(
        """SELECT v.body::jsonb #>> ARRAY['rows', 'edges', e.n::text, 'of'] FROM edge e JOIN event v ON v.id = e.event
            WHERE e.role = 'draw' AND NOT EXISTS (SELECT FROM edge_void x WHERE x.edge = e.id)"""
    )
    assert again == [(drawn,)]


def test_a_charge_that_is_more_than_its_tub_holds(cast: Cast) -> None:
    """12.20 kg at 350 kg/m³ of bulk density (the plant's own figure) are 34.9 litres."""
    from trace.recording.acts.setup import Define

    def size(litres: str) -> None:
        cast.scan(Define(kind="setting", key="tub litres", body={"value": litres}), person="P-09")

    size("30")
    warned = cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][0])
    assert (warned.outcome, warned.code) == ("warned", "TUB-SMALL")
    assert "34.9 litres" in warned.what
    size("40")
    assert cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][1]).outcome == "accepted"


def test_equal_speeds_are_asked_about_and_told_all_the_same(cast: Cast) -> None:
    from trace.recording.acts.oven import StartCook

    tub, box = cast["tubs"][0], cast["boxes"][0]
    cast.charge("skin", cast["red"], tub, "WO-1043")
    cast.charge("foam", cast["foam"][0], box, "WO-1043")
    cast.shift.load("B60-01", "WO-1043", "A1", [tub, box], [], [])
    start = StartCook(oven="OVEN-1", arm="A1", moulds=("B60-01",), arm_rpm="8", plate_rpm="8.0")
    assert cast.scan(start, expect="SPEEDS-EQUAL").code == "SPEEDS-EQUAL"
    told = cast.scan(start, mode="tells")
    assert (told.outcome, told.code) == ("flagged", "SPEEDS-EQUAL")
    assert rows_of("SELECT count(*) FROM cook") == [(1,)]


def test_a_plate_long_after_its_moulding(cast: Cast) -> None:
    cast.moulding()
    cast.scan(Demould(mould="T430-01"))
    cast.clock.now += timedelta(hours=3)
    late = cast.scan(Bind(mould="T430-01", plate=plate(1)))
    assert (late.outcome, late.code) == ("warned", "BOUND-LATE")


def test_a_plate_long_after_a_moulding_named_by_its_number(cast: Cast) -> None:
    cast.moulding()
    number = cast.scan(Demould(mould="T430-01")).recorded.removeprefix("moulding ")
    cast.clock.now += timedelta(hours=3)
    late = cast.scan(Bind(mouldings=(number,), plate=plate(1)))
    assert (late.outcome, late.code) == ("warned", "BOUND-LATE")


def test_the_build_month_is_that_in_which_the_moulding_came_out(cast: Cast) -> None:
    """Out of the mould on the last of June, its plate put on in July: June's plate fits and July's does not."""
    july = "GHM-T430-005001"
    cast.shift.plates("T430", [july], "2026-07")
    cast.moulding()
    cast.clock.now = datetime(2026, 6, 30, 18, tzinfo=UTC)
    cast.scan(Demould(mould="T430-01"))
    cast.clock.now = datetime(2026, 7, 1, 6, tzinfo=UTC)
    refused = cast.scan(Bind(mould="T430-01", plate=july), expect="PLATE-OTHER-MONTH")
    assert "2026-06" in refused.text()
    late = cast.scan(Bind(mould="T430-01", plate=plate(1)))
    assert (late.outcome, late.code) == ("warned", "BOUND-LATE")


def test_a_time_that_may_be_off_counts_in_both_orders(cast: Cast) -> None:
    """A vessel emptied, cleaned and filled with another lot: a draw two minutes about that moment may be of either."""
    from trace.recording.acts.vessels import ProveEmpty

    vessel = cast["vessels"][0]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="12.2"), person=LEAD)
    cast.shift.weigh(WO_RED, "skin", vessel, cast["tubs"][0])
    cast.scan(ProveEmpty(vessel=vessel), person=LEAD)
    filled = cast.clock()
    cast.scan(TopUp(source=cast["red2"], into=vessel, amount="200"), person=LEAD, happened=filled, recorded=filled)

    def lots(minutes: float, unsure_min: int, tub: str) -> set[str | None]:
        weigh = Weigh(order=WO_RED, layer="skin", box=vessel, tub=tub, scale="W-3", gross="12.20")
        cast.clock.now = filled + timedelta(hours=1)
        cast.late(weigh, filled + timedelta(minutes=minutes), unsure_ms=unsure_min * 60_000)
        charge = rows_of("SELECT max(id) FROM unit WHERE kind = 'charge'")[0][0]
        return {n.lot_no for n in walk([charge], "back").nodes.values() if n.kind == "lot"}

    tubs = cast["tubs"]
    assert lots(2, 1, tubs[1]) == {"V-2291"}
    # Nothing was in it for a while before; what was then is proved gone, but for the time of the emptying itself.
    assert lots(-0.5, 1, tubs[2]) >= {"V-2291"}
    vessel = cast["vessels"][1]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="200"), person=LEAD, happened=filled, recorded=cast.clock())
    again = cast.clock()
    cast.scan(TopUp(source=cast["red2"], into=vessel, amount="200"), person=LEAD, happened=again, recorded=again)
    filled = again
    assert lots(-0.5, 1, tubs[3]) == {"V-2288", "V-2291"}
    assert lots(-3, 1, tubs[4]) == {"V-2288"}
    assert differences() == []
