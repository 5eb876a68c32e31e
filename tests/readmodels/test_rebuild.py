"""Read models come out of the events' bytes alone: rebuilt they are the same, and what differs is found."""

from __future__ import annotations

import io
import json
import random
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.db.models import IntegerField

from tests.below import below_the_door
from tests.cast import DEPUTY, LEAD, PACKER, QUALITY, SO_RED, WO_RED, Cast, buoy_plate, plate, rows_of
from trace.models.status import MouldState
from trace.readmodels.apply import EMPTY_MOULD, MOULD_COUNTERS, Happening, apply
from trace.readmodels.rebuild import differences, dump, rebuild
from trace.readmodels.store import TABLES, Ids, Store
from trace.recording.acts.cases import CloseCase, OpenCase
from trace.recording.acts.complaints import TakeComplaint
from trace.recording.acts.corrections import CloseDiscrepancy, Correct
from trace.recording.acts.counting import Count
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.packing import Dispatch, Pack, Rack, Rewrap
from trace.recording.acts.setup import Define
from trace.recording.acts.vessels import ProveEmpty, TopUp


def busy(cast: Cast) -> None:
    """A little of everything, so that no read model is empty."""
    cast.hull(plate(1))
    vessel = cast["vessels"][0]
    cast.scan(TopUp(source=cast["natural2"], into=vessel, amount="50"), person=LEAD)
    early = cast.clock.now
    cast.shift.weigh(WO_RED, "inner", vessel, cast["boxes"][2])
    event = str(rows_of("SELECT max(uid::text) FROM event WHERE kind = 'weighed'")[0][0])
    cast.late(TopUp(source=cast["natural"], into=vessel, amount="10"), early, person=LEAD)
    cast.scan(Correct(event=event, was=vessel, now=cast["natural"], reason="read wrong"), person=LEAD)
    cast.shift.weigh(WO_RED, "foam", cast["foam"][1], cast["boxes"][3])
    cast.scan(Count(box=vessel, amount="50", again="50", reason="weighed"), person=LEAD)
    cast.late(ProveEmpty(vessel=vessel), cast.clock(), person=LEAD)
    code = cast.scan(Pack(order=SO_RED, hulls=(plate(1),)), person=PACKER).made["codes"][0]
    new = cast.scan(Rewrap(pack=code), person=PACKER).made["codes"][0]
    cast.scan(Rack(place="R4-2", units=(new,)), person=PACKER)
    held = cast.scan(Hold(code=cast["natural"], rule="quality", reason="x"), person=QUALITY).made["holds"][0]
    cast.scan(ReleaseHold(hold=held, code=plate(1), reason="seen"), person=DEPUTY)
    cast.scan(Dispatch(order=SO_RED, packs=(new,), consignee="WHARFE", vehicle="PA 12"), person=PACKER)
    cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][1], "13.00", mode="tells")
    open_ = rows_of("SELECT e.uid::text, d.n FROM discrepancy d JOIN event e ON e.id = d.event LIMIT 1")[0]
    cast.scan(CloseDiscrepancy(event=open_[0], n=open_[1], reason="looked at"), person=QUALITY)
    cast.late(Pack(order=SO_RED, hulls=(buoy_plate(1),)), cast.clock(), person=PACKER)
    cast.scan(Define(kind="setting", key="bind within minutes", body={"value": 15}), person="P-09")
    cast.scan(Define(kind="device", key="TAB-1", body={"name": "Tablet 1", "station": "weigh"}), person="P-09")
    hull = cast.scan(TakeComplaint(hull=plate(1), symptom="warp"), person=LEAD, mode="tells").made["complaints"][0]
    lost = cast.scan(TakeComplaint(product="T430", spot="S5"), person=LEAD, mode="tells").made["complaints"][0]
    case = cast.scan(OpenCase(name="warped", complaints=(hull, lost)), person=QUALITY).made["cases"][0]
    cast.scan(CloseCase(case=case, cause="cooling", hulls="not found", reason="x"), person=QUALITY)
    cast.scan(OpenCase(name="another"), person=QUALITY)
    # Told of a box that is empty by the book: a gap stays.
    cast.late(TopUp(source=vessel, into=cast["vessels"][1], amount="5"), cast.clock(), person=LEAD)


def test_rebuilt_from_nothing_they_are_the_same_byte_for_byte(cast: Cast) -> None:
    busy(cast)
    before = dump()
    assert [table for table, rows in before.items() if not rows] == []
    for table in TABLES:
        rows_of(f"DELETE FROM {table} RETURNING 1")
    assert sum(len(rows) for rows in dump().values()) == 0
    told: list[tuple[int, int]] = []
    count = rebuild(lambda done, total: told.append((done, total)))
    assert dump() == before
    events = rows_of("SELECT count(*) FROM event")[0][0]
    assert (count, told[-1]) == (events, (events, events))
    assert differences() == []


# One change to each table that no event tells of.
PLANTED: dict[str, str] = {
    "unit_state": "UPDATE unit_state SET balance = balance + 1 WHERE balance = (SELECT max(balance) FROM unit_state)",
    "carrier_state": "UPDATE carrier_state SET content = NULL WHERE carrier = (SELECT min(carrier) FROM carrier_state)",
    "carrier_log": "UPDATE carrier_log SET since = since - interval '1 s'",
    "mould_state": "UPDATE mould_state SET shots = shots + 1 WHERE mould = (SELECT min(mould) FROM mould_state)",
    "instrument_state": "UPDATE instrument_state SET passed = NOT passed",
    "serial_state": "UPDATE serial_state SET standing = 'back' WHERE text = (SELECT min(text) FROM serial_state)",
    "label_state": "DELETE FROM label_state",
    "unit_hold": "DELETE FROM unit_hold WHERE unit = (SELECT max(unit) FROM unit_hold)",
    "place_now": "UPDATE place_now SET place = 'R5-1' WHERE unit = (SELECT min(unit) FROM place_now)",
    "reading": "UPDATE reading SET value = value + 0.01 WHERE event = (SELECT min(event) FROM reading)",
    "discrepancy": "UPDATE discrepancy SET closed_by = event WHERE closed_by IS NULL",
    "gap": "DELETE FROM gap",
    "complaint": "UPDATE complaint SET hull = NULL WHERE hull IS NOT NULL",
    "case_file": "UPDATE case_file SET open = NOT open WHERE number = 1",
    **{
        table: f"""UPDATE {table} SET body = body || '{{"x": 1}}' WHERE key = (SELECT min(key) FROM {table})"""
        for table in TABLES
        if table.startswith("plant_")
    },
}


def test_a_planted_difference_in_each_table_is_found(cast: Cast) -> None:
    busy(cast)
    assert PLANTED.keys() == TABLES.keys()
    for table, change in PLANTED.items():
        with transaction.atomic():
            assert rows_of(f"{change} RETURNING 1"), table
            found = differences()
            transaction.set_rollback(True)
        assert len(found) == 1, (table, found)
        assert found[0].startswith(f"{table}: ")
    assert differences() == []


def commanded(name: str) -> tuple[int, str, str]:
    """What a command of manage.py ends with, and what it says: on the database of this test, in this process."""
    out, err, code = io.StringIO(), io.StringIO(), 0
    try:
        call_command(name, stdout=out, stderr=err)
    except SystemExit as ended:
        code = int(ended.code or 0)
    return code, out.getvalue(), err.getvalue()


def test_the_commands(cast: Cast) -> None:
    busy(cast)
    code, said, counted = commanded("check_readmodels")
    assert (code, said.strip()) == (0, "The read models are what the events say.")
    assert "events" in counted
    with connection.cursor() as cursor:
        cursor.execute("UPDATE mould_state SET shots = 99 WHERE mould = (SELECT min(mould) FROM mould_state)")
        cursor.execute("DELETE FROM gap")
    code, said, _ = commanded("check_readmodels")
    assert code == 1
    assert sorted(line.split(":")[0] for line in said.splitlines()) == ["gap", "mould_state"]
    assert "rebuilt from" in commanded("rebuild_readmodels")[1]
    assert commanded("check_readmodels")[0] == 0


@pytest.mark.parametrize("wrong", [{"rows": {"wishes": [{"x": 1}]}}, {"ver": 2}], ids=["a part", "a version"])
def test_what_a_rebuild_cannot_read_ends_it_loudly(cast: Cast, wrong: dict[str, Any]) -> None:
    """A body of a later program, or damaged: better no rebuild than one that leaves something out."""
    body = json.loads(rows_of("SELECT body FROM event ORDER BY id DESC LIMIT 1")[0][0])
    from trace.chain import canonical
    from trace.codes import uuid7

    with below_the_door() as owner:
        damaged = canonical({**body, "uid": str(uuid7()), "seq": None, **wrong})
        owner.execute("INSERT INTO event (body) VALUES (%s)", [damaged])
    before = dump()
    with pytest.raises(ValueError, match=r"wishes|version 2"):
        rebuild()
    assert dump() == before
    with pytest.raises(ValueError, match="no read model knows"):
        apply(Store(), Happening(1, "", ""), {"wishes": []}, Ids())


@pytest.mark.parametrize("seed", range(4))
def test_any_history_rebuilds(cast: Cast, seed: int) -> None:
    """Hulls, holds and releases, packs, late top-ups and corrections in any order."""
    dice = random.Random(seed)
    vessel, n, holds, packed = cast["vessels"][0], 0, list[str](), list[str]()
    cast.scan(TopUp(source=cast["red2"], into=vessel, amount="200"), person=LEAD)
    for _ in range(14):
        what = dice.choice(["hull", "hull", "hold", "release", "pack", "late", "correct"])
        if what == "hull" and n < 6:
            n += 1
            tubs = again(cast, n)
            told_hull(cast, plate(n), dice.choice([vessel, cast["red"]]), tubs)
        elif what == "hold":
            code = dice.choice([cast["red"], vessel, cast["m8"], cast["foam"][0]])
            holds += cast.scan(Hold(code=code, rule="quality", reason="x"), person=QUALITY).made["holds"]
        elif what == "release" and holds:
            part = plate(dice.randint(1, n)) if n and dice.random() < 0.4 else ""
            cast.scan(ReleaseHold(hold=holds[-1], code=part, reason="x"), person=DEPUTY)
            if not part:
                holds.pop()
        elif what == "pack" and n and plate(n) not in packed:
            packed.append(plate(n))
            cast.scan(Pack(order=SO_RED, hulls=(plate(n),)), person=PACKER, mode="tells")
        elif what == "late":
            before = cast.clock.now.replace(hour=7, minute=dice.randint(0, 59))
            cast.late(TopUp(source=cast["red"], into=vessel, amount="7"), before, person=LEAD)
        elif what == "correct":
            weighed = rows_of("SELECT uid::text FROM event WHERE kind = 'weighed' ORDER BY id DESC LIMIT 1")
            if weighed:
                was = dice.choice([vessel, cast["red"]])
                now = cast["red2"] if dice.random() < 0.7 else ""
                cast.scan(
                    Correct(event=weighed[0][0], was=was, now=now, reason="x"), person=LEAD, expect="NOTHING-TO-CORRECT"
                )
    assert differences() == []


def again(cast: Cast, n: int) -> list[str]:
    return [cast["tubs"][n % 5], cast["boxes"][(2 * n) % 8], cast["boxes"][(2 * n + 1) % 8]]


def told_hull(cast: Cast, serial: str, red: str, tubs: list[str]) -> None:
    """A hull told station by station, whatever is on hold."""
    from trace.recording.acts.cook import EndCook, EndCooling
    from trace.recording.acts.demould import Bind, Demould
    from trace.recording.acts.finishing import Inspect
    from trace.recording.acts.loading import CloseMould, ReadyMould
    from trace.recording.acts.oven import StartCook
    from trace.recording.acts.tipping import TipTub

    for layer, box, tub in zip(("skin", "foam", "inner"), (red, cast["foam"][0], cast["natural"]), tubs, strict=True):
        cast.shift.weigh(WO_RED, layer, box, tub, mode="tells")
    told = {"mode": "tells"}
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"), **told)
    for tub in tubs:
        cast.scan(TipTub(mould="T430-01", tub=tub), **told)
    cast.scan(CloseMould(mould="T430-01", counted="0"), **told)
    cast.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",)), **told)
    cast.scan(EndCook(mould="T430-01", piat="208", log="attached"), **told)
    cast.scan(EndCooling(mould="T430-01", demould_c="50"), **told)
    cast.scan(Demould(mould="T430-01"), **told)
    cast.scan(Bind(mould="T430-01", plate=serial), **told)
    cast.scan(Inspect(hull=serial, verdict="pass", checks=("surface", "inserts", "plate")), person=QUALITY, **told)


def test_every_count_of_a_mould_is_named() -> None:
    """A new whole number in its table counts from nothing in a new mould, and one more at each shot."""
    counts = {f.name for f in MouldState._meta.local_fields if type(f) is IntegerField}
    assert counts == set(MOULD_COUNTERS)
    assert EMPTY_MOULD.keys() == {f.name for f in MouldState._meta.local_fields} - {"mould"}
