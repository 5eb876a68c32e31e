"""Holds are live: they reach what was made before and what is made afterwards, until a named role ends them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from tests.cast import DEPUTY, LEAD, MORNING, PACKER, QUALITY, SO_RED, WO_RED, Cast, plate, rows_of, statements
from trace.codes import uuid7
from trace.readmodels.plantdata import newest
from trace.readmodels.rebuild import differences
from trace.readmodels.spreading import spread
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.doubted import Doubt, _could_be, doubts
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.hold_words import held_by
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.loading import CloseMould, PlaceGraphic, PlaceInserts, ReadyMould
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.strange_code import Shown
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.answers import Answer
from trace.sheets.facts.holding import held

CHECKS = ("surface", "inserts", "plate")


def hold(cast: Cast, code: str, **more: Any) -> str:
    answer = cast.scan(Hold(code=code, rule="quality", reason="density query", **more), person=QUALITY)
    uid: str = answer.made["holds"][0]
    return uid


def under(uid: str) -> set[str]:
    return {
        kind
        for (kind,) in rows_of(
            "SELECT u.kind FROM unit_hold x JOIN hold h ON h.id = x.hold JOIN unit u ON u.id = x.unit WHERE h.uid = %s",
            uid,
        )
    }


def pack(cast: Cast, serial: str) -> Answer:
    return cast.scan(Pack(order=SO_RED, hulls=(serial,)), person=PACKER, expect="PACK-HELD")


def make_from_held(cast: Cast, serial: str) -> None:
    """Told: a hull whose skin came out of a box on hold, through every station, passed at the end."""
    cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][0], mode="tells")
    cast.charge("foam", cast["foam"][0], cast["boxes"][0])
    cast.charge("inner", cast["natural"], cast["boxes"][1])
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    for tub in (cast["tubs"][0], cast["boxes"][0], cast["boxes"][1]):
        cast.scan(TipTub(mould="T430-01", tub=tub), mode="tells")
    for box in (cast["m8"], cast["m6"]):
        cast.scan(PlaceInserts(mould="T430-01", box=box))
    for roll in (cast["side"], cast["side"], cast["capacity"]):
        cast.scan(PlaceGraphic(mould="T430-01", pack=roll))
    cast.scan(CloseMould(mould="T430-01", counted="12"), mode="tells")
    cast.shift.cook(["T430-01"], "S1", mode="tells")
    cast.scan(Demould(mould="T430-01"))
    cast.scan(Bind(mould="T430-01", plate=serial))
    cast.scan(Inspect(hull=serial, verdict="pass", checks=CHECKS), person=QUALITY, mode="tells")


@pytest.mark.parametrize("jobs", [False, True], ids=["at once", "by a job that has not run"])
def test_what_is_made_of_a_held_box_is_held_at_once(cast: Cast, settings: Any, jobs: bool) -> None:
    """The hull did not exist when the hold was laid, and no order refused on the way: it does not leave."""
    cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][1])
    if jobs:
        settings.HOLD_REACH_AT_ONCE = 1
    uid = hold(cast, cast["red"])
    assert under(uid) == ({"content"} if jobs else {"content", "charge"})
    make_from_held(cast, plate(1))
    assert pack(cast, plate(1)).code == "PACK-HELD"
    told = cast.scan(Pack(order=SO_RED, hulls=(plate(1),)), person=PACKER, mode="tells")
    assert (told.outcome, told.code) == ("flagged", "PACK-HELD")
    code = told.made["codes"][0]
    load = Dispatch(order=SO_RED, packs=(code,), consignee="WHARFE", vehicle="PA 12")
    gate = cast.scan(load, person=PACKER, expect="GATE-HELD")
    assert gate.code == "GATE-HELD"
    (number,) = rows_of("SELECT id FROM hold WHERE uid = %s", uid)[0]
    if jobs:
        job = rows_of("SELECT state, args->>'hold' FROM job WHERE kind = 'spread hold' AND key LIKE %s", f"%{uid}")
        assert job == [("waiting", str(number))]
    assert differences() == []
    for (waiting,) in rows_of("SELECT id FROM job WHERE state = 'waiting'"):
        assert spread(waiting)
    spread_to = "SELECT done, (SELECT count(*) FROM unit_hold WHERE hold = (args->>'hold')::bigint) FROM job"
    for done, reached in rows_of(spread_to):
        assert done == reached
    assert under(uid) == {"content", "charge", "load", "moulding", "hull", "pack"}
    assert differences() == []


def all_held() -> set[int]:
    return {unit for (unit,) in rows_of("SELECT DISTINCT unit FROM unit_hold")}


def test_pages_find_what_is_held_from_what_they_ask_about_back_to_the_holds(cast: Cast) -> None:
    """All at once, or one by one, it is what the read model of holds has; ended for one, it goes on for the rest."""
    cast.hull(plate(1))
    cast.hull(plate(2), red=cast["red2"])
    units = [unit for (unit,) in rows_of("SELECT id FROM unit ORDER BY id")]
    assert held(units) == set()
    uid, before = hold(cast, cast["red"], whole_lot=True), newest_recorded()
    hold(cast, cast["foam"][0])
    cast.scan(ReleaseHold(hold=uid, code=plate(1), reason="Looked at"), person=DEPUTY)
    now = newest_recorded()
    assert held(units) == held(units, now) == all_held()
    assert {unit for unit in units if held([unit], now)} == all_held()
    assert held(units, before) < held(units)


def test_a_page_does_not_wait_for_a_hold_to_be_spread(cast: Cast, settings: Any) -> None:
    cast.hull(plate(1))
    settings.HOLD_REACH_AT_ONCE = 1
    hold(cast, cast["red"], whole_lot=True)
    units = [unit for (unit,) in rows_of("SELECT id FROM unit ORDER BY id")]
    assert held(units) == held(units, newest_recorded()) > all_held()


def newest_recorded() -> Any:
    return rows_of("SELECT max(recorded) FROM event")[0][0]


def make_check(cast: Cast) -> None:
    """Hold a box, then use it: the charge is under the hold."""
    uid = hold(cast, cast["red"])
    cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][0], mode="tells")
    assert under(uid) == {"content", "charge"}


def test_a_waiting_job_lets_pass_what_is_not_under_it(cast: Cast, settings: Any) -> None:
    cast.hull(plate(1))
    cast.hull(plate(2), red=cast["red2"])
    settings.HOLD_REACH_AT_ONCE = 1
    uid = hold(cast, cast["red"])
    assert pack(cast, plate(1)).code == "PACK-HELD"
    assert cast.scan(Pack(order=SO_RED, hulls=(plate(2),)), person=PACKER).outcome == "accepted"
    # Ended before its job has run, it stops nothing any more.
    cast.scan(ReleaseHold(hold=uid, reason="measured again"), person=DEPUTY)
    assert cast.scan(Pack(order=SO_RED, hulls=(plate(1),)), person=PACKER).outcome == "accepted"


def test_one_hull_is_released_then_the_whole_hold(cast: Cast) -> None:
    for n in (1, 2):
        cast.hull(plate(n))
    uid = hold(cast, cast["red"])
    cast.scan(ReleaseHold(hold=uid, code=plate(1), reason="wall measured"), person=DEPUTY)
    assert cast.scan(Pack(order=SO_RED, hulls=(plate(1),)), person=PACKER).outcome == "accepted"
    assert pack(cast, plate(2)).code == "PACK-HELD"
    assert differences() == []
    cast.scan(ReleaseHold(hold=uid, reason="lot measured again"), person=DEPUTY)
    assert under(uid) == set()
    assert cast.scan(Pack(order=SO_RED, hulls=(plate(2),)), person=PACKER).outcome == "accepted"
    again = cast.scan(ReleaseHold(hold=uid, reason="twice"), person=QUALITY, expect="HOLD-UNKNOWN")
    assert again.code == "HOLD-UNKNOWN"
    assert differences() == []


def test_a_safety_hold_is_ended_by_a_second_person(cast: Cast) -> None:
    made = cast.scan(Hold(code=cast["red"], rule="safety", reason="seat insert pulled out"), person=QUALITY)
    uid = made.made["holds"][0]
    own = cast.scan(ReleaseHold(hold=uid, reason="it is fine"), person=QUALITY, expect="HOLD-OWN")
    assert own.code == "HOLD-OWN"
    assert cast.scan(ReleaseHold(hold=uid, reason="tested"), person=DEPUTY).outcome == "accepted"


def test_who_laid_a_safety_hold_does_not_end_its_copy(cast: Cast) -> None:
    """A late top-up makes the vessel's content anew: the hold goes along, and it is still that person's own."""
    vessel = cast["vessels"][0]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="100"), person=LEAD)
    then = cast.clock()
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="100"), person=LEAD)
    cast.scan(Hold(code=vessel, rule="safety", reason="metal found"), person=QUALITY)
    cast.late(TopUp(source=cast["red2"], into=vessel, amount="1"), then, person=LEAD)
    copy = rows_of("SELECT uid::text FROM hold ORDER BY id DESC LIMIT 1")[0][0]
    own = cast.scan(ReleaseHold(hold=copy, reason="it is fine"), person=QUALITY, expect="HOLD-OWN")
    assert own.code == "HOLD-OWN"
    assert cast.scan(ReleaseHold(hold=copy, reason="sieved"), person=DEPUTY).outcome == "accepted"


def test_a_hull_is_not_freed_of_a_hold_that_is_not_on_it(cast: Cast) -> None:
    """Else a correction could bring the held lot into it later, and nothing would stop it."""
    cast.hull(plate(1))
    uid = hold(cast, "V-2291")
    free = ReleaseHold(hold=uid, code=plate(1), reason="not in it")
    refused = cast.scan(free, person=QUALITY, expect="HOLD-ELSEWHERE")
    assert (refused.code, rows_of("SELECT count(*) FROM hold_release")) == ("HOLD-ELSEWHERE", [(0,)])


def test_a_hold_told_late_is_on_what_was_in_it_then(cast: Cast) -> None:
    tub = cast["tubs"][0]
    cast.charge("skin", cast["red"], tub)
    then = cast.clock()
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=tub))
    cast.charge("skin", cast["red2"], tub)
    cast.late(Hold(code=tub, reason="a strange smell"), then, person=QUALITY)
    held = rows_of(
        "SELECT u.lot_no, s.status FROM hold h JOIN unit u ON u.id = h.unit JOIN unit_state s ON s.unit = u.id"
    )
    assert held == [("V-2288", "tipped")]
    assert differences() == []


def without_foam(cast: Cast, serial: str) -> None:
    """A hull that nobody recorded the foam of; quality let it pass all the same."""
    tub, inner = cast["tubs"][0], cast["boxes"][1]
    cast.charge("skin", cast["red"], tub)
    cast.charge("inner", cast["natural"], inner)
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    for charge in (tub, inner):
        cast.scan(TipTub(mould="T430-01", tub=charge))
    for box in (cast["m8"], cast["m6"]):
        cast.scan(PlaceInserts(mould="T430-01", box=box))
    for roll in (cast["side"], cast["side"], cast["capacity"]):
        cast.scan(PlaceGraphic(mould="T430-01", pack=roll))
    lost = {"LOAD-LAYER-MISSING": "the foam is in, the box lost its label"}
    cast.scan(CloseMould(mould="T430-01", counted="12"), person=LEAD, overrides=lost)
    cast.shift.cook(["T430-01"], "S1")
    cast.shift.demould_and_bind("T430-01", serial)
    cast.shift.inspect(serial, overrides={"INSPECT-RECORD-MISSING": "weighed: the foam is in"})


def test_a_hold_stops_what_may_hold_it_for_want_of_a_record(cast: Cast) -> None:
    """The walk calls such a hull a may; a hold takes certain and may."""
    without_foam(cast, plate(1))
    cast.hull(plate(2), red=cast["red2"])
    assert cast.scan(Pack(order=SO_RED, hulls=(plate(1),)), person=PACKER).outcome == "accepted"
    code = rows_of("SELECT l.code FROM label l JOIN unit u ON u.id = l.unit WHERE u.kind = 'pack'")[0][0]
    uid = hold(cast, "F-118")
    ship = Dispatch(order=SO_RED, packs=(code,), consignee="WHARFE", vehicle="PA 12")
    gate = cast.scan(ship, person=PACKER, expect="GATE-MAY-BE-HELD")
    assert (gate.code, plate(1) in gate.what, "FM-22 lot F-118" in gate.why) == ("GATE-MAY-BE-HELD", True, True)
    again = Pack(order=SO_RED, hulls=(plate(1),))
    assert cast.scan(again, person=PACKER, expect="PACK-MAY-BE-HELD").code == "PACK-MAY-BE-HELD"
    allowed = {"GATE-MAY-BE-HELD": "the box was found: it is of F-121"}
    assert cast.scan(ship, person=QUALITY, overrides=allowed).outcome == "warned"
    cast.scan(ReleaseHold(hold=uid, reason="measured again"), person=DEPUTY)
    # What is not missing is not in doubt: inserts on hold stop only what has them.
    hold(cast, cast["m8b"])
    assert cast.scan(Pack(order=SO_RED, hulls=(plate(2),)), person=PACKER).outcome == "accepted"


def test_the_whole_lot_or_one_container(cast: Cast) -> None:
    one, other = cast["foam"]
    hold(cast, one)
    cast.shift.weigh(WO_RED, "foam", other, cast["boxes"][0])
    refused = cast.shift.weigh(WO_RED, "foam", one, cast["boxes"][1], expect="SOURCE-HELD")
    assert refused.code == "SOURCE-HELD"
    hold(cast, other, whole_lot=True)
    refused = cast.shift.weigh(WO_RED, "foam", other, cast["boxes"][1], expect="SOURCE-HELD")
    assert refused.code == "SOURCE-HELD"


def test_a_hold_says_who_and_when_without_a_name(cast: Cast) -> None:
    hold(cast, cast["red"])
    answer = cast.scan(
        Weigh(order=WO_RED, layer="skin", box=cast["red"], tub=cast["tubs"][0], scale="W-3", gross="12.20"),
        person=LEAD, expect="SOURCE-HELD",
    )  # fmt: skip
    assert f"⟦person:{QUALITY}⟧" in answer.what
    assert "⟦note:" in answer.what
    assert "density" not in answer.text()


def test_a_hold_ends_for_a_mould_alone_where_its_load_is_under_it(cast: Cast) -> None:
    """What was scanned is a mould: its load is let go, the rest of the hold stands."""
    cast.moulding()
    cast.scan(Demould(mould="T430-01"))
    cast.charge("skin", cast["red"], cast["tubs"][0])
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=cast["tubs"][0]))
    uid = hold(cast, cast["red"])
    before = under(uid)
    empty = cast.scan(
        ReleaseHold(hold=uid, code="T430-02", reason="measured"), person=QUALITY, expect="NOTHING-TO-HOLD"
    )
    assert empty.outcome == "refused"
    assert under(uid) == before
    cast.scan(ReleaseHold(hold=uid, code="T430-01", reason="measured"), person=DEPUTY)
    assert "moulding" in under(uid)
    assert rows_of("SELECT u.kind FROM hold_release r JOIN unit u ON u.id = r.unit") == [("load",)]
    assert differences() == []


@pytest.mark.parametrize(
    ("on", "of", "said"), [(7, "the box", ""), (8, "V-2288", "V-2288: "), (8, "", "")],
    ids=["on itself", "on something else", "on something without a name"],
)  # fmt: skip
def test_a_hold_names_what_it_was_laid_on_where_that_is_something_else(on: int, of: str, said: str) -> None:
    laid = {"on": on, "of": of, "rule": "X", "why": None, "person": QUALITY, "happened": "2026-06-08T06:00:00+00:00"}
    unit: Any = SimpleNamespace(id=7, holds=[laid])
    assert held_by(unit).startswith(f"{said}rule X, ")


@pytest.mark.parametrize(
    ("what", "which", "said"),
    [
        ("before records", "", "It was made before records began"),
        ("layer", "foam", "The record of its foam is missing"),
        ("cycle", "", "The record of its cycle is missing"),
    ],
)
def test_a_doubt_says_what_is_missing(what: str, which: str, said: str) -> None:
    held = {"about": {"material": "FM-22"}, "lot_no": "F-118", "why": None, "rule": "X"}
    assert Doubt("", what, which, held).sentence == f"{said}: it may hold FM-22 lot F-118 (rule X)"


@pytest.mark.parametrize(("wide", "could"), [(False, False), (True, True)])
def test_what_is_under_a_wide_hold_could_be_of_any_material(cast: Cast, *, wide: bool, could: bool) -> None:
    """Its materials are not all read: those that were say nothing of the rest."""
    about = {"product": "T430", "colour": "red"}
    gap = {"unit": 1, "uid": "", "kind": "load", "about": about, "event": 1, "made": str(MORNING), "what": "layer",
           "which": "foam", "found": str(MORNING)}  # fmt: skip
    hold = {"unit": 2, "unit_uid": "", "kind": "lot", "lot_no": "V-2288", "about": {"material": "LL-35 red"},
            "event": 2, "made": str(MORNING), "materials": ["LL-35 red"], "wide": wide}  # fmt: skip
    assert _could_be(gap, hold, newest()) == could


def test_without_hulls_nothing_is_asked_about_doubts(cast: Cast) -> None:
    plant = newest()
    assert statements(lambda: doubts([], plant)) == []
    assert len(statements(lambda: doubts([str(uuid7())], plant))) == 1


@pytest.mark.parametrize("jobs", [False, True], ids=["at once", "by a job that has not run"])
def test_a_load_let_go_stays_so_when_more_of_the_held_box_is_told_into_it(
    cast: Cast, settings: Any, jobs: bool
) -> None:
    """Who let it go has judged the load; what is told of it afterwards is no new hold."""
    for tub in cast["tubs"][:2]:
        cast.charge("skin", cast["red"], tub)
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=cast["tubs"][0]))
    uid = hold(cast, cast["red"])
    assert under(uid) == {"content", "charge", "load"}
    cast.scan(ReleaseHold(hold=uid, code="T430-01", reason="measured"), person=DEPUTY)
    if jobs:
        settings.HOLD_REACH_AT_ONCE = 1
    cast.scan(TipTub(mould="T430-01", tub=cast["tubs"][1]), mode="tells")
    waiting = rows_of("SELECT id FROM job WHERE state = 'waiting'")
    assert bool(waiting) == jobs
    assert under(uid) == {"content", "charge"}
    for (job,) in waiting:
        assert spread(job)
    assert under(uid) == {"content", "charge"}
    assert differences() == []


def test_a_lot_is_named_by_its_address_however_that_is_written(cast: Cast) -> None:
    """A page that shows a lot names it by its uid; whoever copies it may get it in capitals."""
    [(uid,)] = rows_of("SELECT uid::text FROM unit WHERE kind = 'lot' AND lot_no = 'V-2288'")
    for n, code in enumerate((uid, uid.upper())):
        answer = cast.scan(Hold(code=code, rule="quality", reason=f"density query {n}"), person=QUALITY)
        assert answer.outcome == "accepted"
    held = "SELECT u.lot_no FROM hold h JOIN unit u ON u.id = h.unit ORDER BY h.id"
    assert rows_of(held) == [("V-2288",), ("V-2288",)]


def test_a_code_that_came_to_be_known_meanwhile_is_only_shown(cast: Cast) -> None:
    answer = cast.scan(Shown(code=cast["red"], wanted=("container",)))
    assert (answer.outcome, answer.recorded) == ("accepted", "shown; scan it again")
