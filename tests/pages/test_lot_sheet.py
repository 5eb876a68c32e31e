"""A lot's sheet: where it went, certain and may apart, what is left, and a balance that adds up."""

from collections.abc import Callable
from decimal import Decimal
from types import SimpleNamespace
from typing import Any, cast

import pytest
from django.test import Client

from tests.pages.story import Told
from trace.codes import printed
from trace.genealogy.admitted import Admitted
from trace.models import Hold as HoldRow
from trace.models import Label, SerialState, Unit, UnitHold
from trace.recording.acts.counting import Count
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.sheets.contracts import LotSheet
from trace.sheets.lots.gaps import gaps
from trace.sheets.lots.gathered import GatheredLot, NoLotError, gather_lot
from trace.sheets.lots.sheet import lot_sheet

D = Decimal
FILLS = "It may hold what is asked about."


def sheet(code: str, **more: Any) -> LotSheet:
    return lot_sheet(gather_lot(code), **more)


def test_a_held_insert_lot_with_its_hulls_by_place(story: Told) -> None:
    found = sheet("N-0417")
    assert (found.certain, found.may, found.outside) == (4, 0, 0)
    assert found.standing == "on hold" and len(found.holds) == 1
    assert found.holds[0].text == "The whole lot: Pull-out torque query"
    by_place = found.views[0]
    assert {(g.name, g.certain) for g in by_place.groups} == {("Demould floor", 3), ("Rack R4, level 2", 1)}
    hulls = [h for g in by_place.groups for h in g.hulls]
    assert all(h.held for h in hulls)
    some = next(h for h in hulls if h.serial == story.hulls["no log"])
    assert (some.layers, some.least, some.most, some.uom) == ("S5, S6, S7, S8", D(4), D(4), "pieces")
    assert "cannot hold it" in found.cannot_words


def test_a_lot_in_a_silo_may_be_in_every_hull_and_the_rest_is_still_there(story: Told) -> None:
    """200 kg of 400 kg were drawn from the silo's two lots: 6 x 7.31 + 2 x 8.60 = 61.06 kg.

    So of 200 kg of this lot at least 200 - 61.06 = 138.94 kg are still in it (conservation of mass).
    """
    found = sheet("D-77")
    assert (found.certain, found.may) == (0, 8)
    assert found.place is not None
    assert found.place.detail.endswith(": 138.94–200.00 kg")
    hull = next(h for g in found.views[0].groups for h in g.hulls if h.serial == story.hulls["sled"])
    assert (hull.layers, hull.least, hull.most) == ("inner", D("0.00"), D("8.60"))


@pytest.mark.parametrize("lot", ["V-2288", "D-77", "F-118", "F-121", "N-0417", "G-77"])
def test_the_balance_adds_up_to_the_milligram(story: Told, lot: str) -> None:
    found = sheet(lot)
    *lines, left = found.balance
    assert left.total and sum(line.amount for line in lines) == left.amount
    assert left.amount == sum(c.left for c in found.containers if c.left is not None)


def test_what_a_missing_layer_leaves_open_is_may(story: Told) -> None:
    found = sheet("F-121")
    assert (found.certain, found.may) == (2, 1)
    assert found.gaps[0].startswith("No record of the foam in GHM-T430-004420.")
    assert found.gaps[0].endswith("It may be of this lot.")


def test_a_hold_on_the_lot_says_which_hulls_it_does_not_stop(story: Told, signed_in: Callable[[str], Client]) -> None:
    """The hold follows the records, and of one hull the record of this layer is missing."""
    assert sheet("F-121").unstopped == 0
    story.plant.scan(Hold(code="F-121", rule="quality", reason="smells"), person="P-06")
    # While something else holds that hull, it is stopped all the same.
    assert sheet("F-121").unstopped == 0
    hulls = [hull for group in sheet("F-121").views[0].groups for hull in group.hulls]
    [may] = [hull.serial for hull in hulls if hull.verdict == "may"]
    hull = SerialState.objects.get(text=may).hull
    assert hull is not None
    on = UnitHold.objects.filter(unit=hull).values("hold")
    for hold in HoldRow.objects.filter(id__in=on).values_list("uid", flat=True):
        story.plant.scan(ReleaseHold(hold=str(hold), code=may, reason="Its log was found"), person="P-10")
    assert sheet("F-121").unstopped == 1
    page = signed_in("P-06").get("/lot/F-121/").content.decode()
    assert "The hold on the lot does not stop it." in " ".join(page.split())
    assert sheet("N-0417").unstopped == 0


def test_by_container_label_or_number_it_is_the_same_lot(story: Told) -> None:
    by_label, by_number = sheet(story.plant.boxes["m8 2"][0]), sheet("N-0417")
    assert by_label == by_number
    with pytest.raises(NoLotError):
        gather_lot(story.hulls["gone"])


def test_a_vessel_is_a_subject_of_its_own(story: Told) -> None:
    found = sheet(story.plant.silo)
    assert found.may == 0 and found.certain == 8
    assert found.drawing is not None and found.drawing.wide.description.startswith("Silo")


def test_one_group_is_shown_whole(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    page = client.get("/lot/N-0417/", {"by": "place", "group": "Demould floor"}).content.decode()
    assert story.hulls["no log"] in page and story.hulls["held"] not in page


def test_codes_lead_to_their_own_pages(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-08")
    hull, box = story.hulls["gone"], story.plant.boxes["red"][0]
    assert client.get(f"/lot/{hull}/")["Location"] == f"/hull/{hull}/"
    assert client.get(f"/unit/{hull}/")["Location"] == f"/hull/{hull}/"
    assert client.get(f"/unit/{box}/")["Location"] == f"/lot/{box}/"
    assert client.get(f"/lot/{story.packs['sleds']}/")["Location"] == f"/unit/{story.packs['sleds']}/"
    pack = client.get(f"/unit/{story.packs['sleds']}/").content.decode()
    assert story.hulls["sled"] in pack and story.hulls["sled 2"] in pack
    # A load has neither number nor label: it is called by its mould.
    moulding = Unit.objects.filter(kind="moulding").order_by("id")[0]
    page = client.get(f"/unit/{moulding.uid}/").content.decode()
    assert f"loaded mould {moulding.about['mould']}" in page and "loaded mould loaded mould" not in page
    tag = Label.objects.get(resource__kind="mould", resource__key="T430-01").code
    for code in ("T430-01", "W-3", story.plant.tubs[0], tag):
        assert client.get(f"/unit/{code}/").status_code == 200
    # A label's own address leads on to whatever it sticks to.
    assert "Mould" in client.get(f"/S/{tag}", follow=True).content.decode()
    assert client.get(f"/S/{box}")["Location"] == f"/lot/{box}/"
    assert "Set a hold" not in client.get(f"/lot/{box}/").content.decode()
    assert f"/scan/hold/?thing={box}&amp;whole_lot=yes" in signed_in("P-06").get(f"/lot/{box}/").content.decode()
    assert client.get("/lot/NOTHING/", follow=True).status_code == 404
    assert client.get("/hull/GHM-T430-999999/").status_code == 404
    assert client.get(f"/hull/{hull}/?as_known_on=yesterday").status_code == 400
    assert client.get(f"/hull/{hull}/?as_known_on=2026-04-11").status_code == 404


def test_a_mix_names_the_suppliers_of_all_lots_in_it(story: Told, signed_in: Callable[[str], Client]) -> None:
    found = sheet(story.plant.silo)
    assert found.supplier == "Dunsay Powders, Verrin Polymers (2 lots)"
    assert sheet("D-77").supplier == "Dunsay Powders"
    page = signed_in("P-06").get(f"/lot/{story.plant.silo}/").content.decode()
    assert f"in the record of what is in {printed(story.plant.silo)}" in page


def test_the_history_shows_what_was_counted(story: Told) -> None:
    box = story.plant.boxes["red"][1]
    story.plant.scan(Count(box=box, amount="480", reason="Year's end"), person="P-05", station="count")
    assert f"{printed(box)} counted: 480.00 kg" in [h.what for h in sheet(box).history]


def test_one_hull_is_not_hulls(story: Told) -> None:
    drawing = sheet(story.plant.boxes["foam 2"][1]).drawing
    assert sheet("F-121").drawing is not None and drawing is not None
    story.plant.go_on()
    story.plant.shift.stock("MARROW", "M6-S", "N-0700", ("500",))
    box = story.plant.shift.stock("MARROW", "M8-N", "N-0701", ("500",))
    story.plant.boxes["m8 new"] = box
    story.plant.kayak(bag=5, inserts="m8 new")
    alone = sheet("N-0701").drawing
    assert alone is not None
    said = " ".join(w.text for w in alone.wide.words)
    assert "Tamsin 430, red, 1 hull" in said and "1 hulls" not in said


def test_other_pages_say_names_and_days_in_one_way(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    consignee = client.get("/unit/CALDER/").context["unit"]
    assert consignee.name == "Calder Vale Rescue"
    scale = client.get("/unit/W-3/").context["unit"]
    assert ("calibration due", "31 Dec 2031", "") in scale.facts
    pack = client.get(f"/unit/{story.packs['gone']}/").context["unit"]
    assert [x.name for x in pack.into] == ["consignment SO-220"]
    missing = client.get("/unit/NOWHERE/")
    assert missing.status_code == 404
    assert 'href="/search/">Find</a>' in missing.content.decode().split("<h1>")[1]


def test_positions_that_the_same_hulls_lack_are_one_sentence() -> None:
    lacking = [
        Admitted("insert", position, unit, unit, FILLS, FILLS)
        for position in ("S1", "S2", "S3") for unit in ("H-1", "H-2")
    ]  # fmt: skip
    alone = Admitted("insert", "S4", "H-3", "H-3", FILLS, FILLS)
    lot = SimpleNamespace(uid="lot", kind="blend", about={}, lot_no="N-1")
    gathered = cast("GatheredLot", SimpleNamespace(
        lot=lot, containers=(), by_uid={}, entries=(), answers={}, answer=SimpleNamespace(gaps=[*lacking, alone]),
    ))  # fmt: skip
    assert gaps(gathered) == (
        "No record of the inserts S1–S3 in H-1, H-2. It may be of this lot.",
        "No record of the insert S4 in H-3. It may be of this lot.",
    )
