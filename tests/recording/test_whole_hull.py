"""One hull through the plant: what the cast can do, and that the read models agree with the bytes afterwards."""

from decimal import Decimal

import pytest

from tests.cast import PACKER, PLANNER, QUALITY, SO_RED, STORES, WO_RED, Cast, plate, rows_of
from trace import lookup
from trace.codes import printed
from trace.genealogy.find import UnknownCodeError, find_unit
from trace.readmodels.rebuild import differences
from trace.recording.acts.finishing import _inspected_facts
from trace.recording.acts.goods_in import Certify
from trace.recording.acts.loading import _artworks
from trace.recording.acts.opening import OldHull
from trace.recording.acts.packing import Dispatch, Pack, Rack, _hulls
from trace.recording.acts.setup import Define
from trace.recording.acts.weighing import layer_of
from trace.recording.floor.units import read_units


def test_a_hull_from_weighing_to_the_truck(cast: Cast) -> None:
    serial = cast.hull(plate(1))
    pack = cast.scan(Pack(order=SO_RED, hulls=(serial,)), person=PACKER).made["codes"][0]
    cast.scan(Rack(place="R4-2", units=(pack,)), person=PACKER)
    cast.scan(Dispatch(order=SO_RED, packs=(pack,), consignee="WHARFE", vehicle="PA 12"), person=PACKER)
    assert differences() == []
    # Nobody took a photo, and nobody has to look at one.
    assert rows_of("SELECT kind FROM discrepancy") == []


def test_a_pack_is_answered_with_its_label_and_its_hulls(cast: Cast) -> None:
    hulls = tuple(cast.hull(plate(n)) for n in (1, 2))
    answer = cast.scan(Pack(order=SO_RED, hulls=hulls), person=PACKER)
    assert answer.recorded == f"pack {printed(answer.made['codes'][0])}: {plate(1)}, {plate(2)}"


def test_an_old_hull_is_where_it_was_put(cast: Cast) -> None:
    cast.scan(OldHull(serial="OLD-7", product="T430", place="R4-2"), person=STORES)
    cast.scan(OldHull(serial="OLD-8", product="T430"), person=STORES)
    places = rows_of("SELECT s.text, p.place FROM place_now p JOIN serial_state s ON s.hull = p.unit ORDER BY s.text")
    assert places == [("OLD-7", "R4-2"), ("OLD-8", "STORE")]


def test_a_plan_without_graphics_is_said_as_one() -> None:
    assert _artworks({}) == "no graphic"
    two = {"PORT": {"artwork": "TAMSIN"}, "STARBOARD": {"artwork": "TAMSIN"}, "DECK": {"artwork": "ARROW"}}
    assert _artworks(two) == "TAMSIN or ARROW"


def test_what_is_inspected_is_judged_by_its_own_status(cast: Cast) -> None:
    serial = cast.hull(plate(1))
    uid = str(rows_of("SELECT u.uid FROM serial_state s JOIN unit u ON u.id = s.hull WHERE s.text = %s", serial)[0][0])
    status = rows_of("SELECT status FROM unit_state x JOIN unit u ON u.id = x.unit WHERE u.uid = %s", uid)[0][0]
    assert _inspected_facts(read_units([uid])[uid], [])["status"] == status
    assert _inspected_facts(None, [])["status"] == "unknown"


def test_the_tag_of_a_thing_is_told_from_an_unknown_code(cast: Cast) -> None:
    [(tag,)] = rows_of("SELECT l.code::text FROM label l JOIN resource r ON r.id = l.resource WHERE r.key = 'T430-01'")
    with pytest.raises(UnknownCodeError, match="This is the tag of mould T430-01: a trace begins at a lot"):
        find_unit(tag)


def test_an_inspection_stands_in_the_history_of_its_hull(cast: Cast) -> None:
    serial = cast.hull(plate(1))
    touched = rows_of(
        "SELECT x.role FROM event_unit x JOIN event e ON e.id = x.event JOIN serial_state s ON s.hull = x.unit"
        " WHERE e.kind = 'inspected' AND s.text = %s ORDER BY x.role", serial,
    )  # fmt: skip
    assert ("inspected",) in touched


def test_what_is_packed_is_hulls_alone(cast: Cast) -> None:
    serial = cast.hull(plate(1))
    pack = cast.scan(Pack(order=SO_RED, hulls=(serial,)), person=PACKER).made["codes"][0]
    tub = cast["tubs"][0]
    cast.shift.weigh(WO_RED, "skin", cast["red"], tub)
    found = lookup.look([serial, pack, tub], lookup.plant_now())
    assert [hull["serial"] for hull in _hulls(found[serial])] == [serial]
    assert [hull["serial"] for hull in _hulls(found[pack])] == [serial]
    assert _hulls(found[tub]) == []


def test_a_charge_at_its_tolerance_is_within_it(cast: Cast) -> None:
    layer = layer_of(dict(lookup.plant_now().body("product", "T430")), "skin", "red")
    most = Decimal(layer["target_kg"]) + Decimal(layer["tolerance_kg"])
    assert cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][0], gross=str(most)).outcome == "accepted"


def test_a_scale_that_was_never_calibrated_is_overdue(cast: Cast) -> None:
    body = dict(lookup.plant_now().body("instrument", "W-3"))
    body.pop("calibration_due")
    cast.scan(Define(kind="instrument", key="W-3", body=body), person=PLANNER)
    refused = cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][0], expect="SCALE-OVERDUE")
    assert "never calibrated" in refused.text()


def test_a_value_below_nothing_is_on_no_certificate(cast: Cast) -> None:
    values = {"mfi": "-3.5", "density": "0.938"}
    command = Certify(container=cast["red"], lot_on_certificate="V-2288", values=values)
    answer = cast.scan(command, person=QUALITY, expect="AMOUNT-UNREADABLE")
    assert "no value on a certificate is below nothing" in answer.text()
