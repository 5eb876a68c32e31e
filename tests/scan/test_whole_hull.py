"""A whole hull from the dock to the truck, through station pages alone, by a browser without JavaScript."""

from tests.scan.cast import LATER, SERIALS, Plant
from tests.scan.conftest import Opens
from trace.demo.plant import products
from trace.models import UnitState
from trace.readmodels.rebuild import differences
from trace.sheets.hulls.gathered import gather
from trace.sheets.hulls.sheet import hull_sheet


def _book(at: Opens, supplier: str, material: str, lot: str, each: str, **more: str) -> str:
    page = at("goods-in").press(
        "book", supplier=supplier, material=material, lot_no=lot, count="1", each=each, note_no=f"DN-{lot}",
        note_amount=each, **more,
    )  # fmt: skip
    assert page.outcome == "accepted", page.verdict
    link = next(link for link in page.links if link.startswith("/labels/"))
    code = link.partition("codes=")[2][:8]
    quality = at("certificate")
    page = quality.scan(code)
    values = {name: v for name, v in (("value_mfi", "3.5"), ("value_density", "0.938")) if name in page.form.boxes}
    if material == "FM-22":
        values["value_density"] = "0.220"
    if "finish" in page.form.boxes:
        values["finish"] = "nickel over copper"
    page = quality.press("certify", lot_on_certificate=lot, **values)
    assert page.outcome == "accepted", page.verdict
    release = at("release")
    release.scan(code)
    page = release.fill(why="certificate", why_words="all in order")
    assert page.outcome == "accepted", page.verdict
    return code


def test_a_hull_goes_from_goods_in_to_dispatch_through_the_pages(plant: Plant, at: Opens) -> None:  # noqa: PLR0915 - one story
    red = _book(at, "VERRIN", "LL-35 red", "V-3001", "500")
    foam = _book(at, "DUNSAY", "FM-22", "F-201", "25", expires=LATER)
    m8 = _book(at, "MARROW", "M8-N", "N-0500", "200")

    scale = at("check-weight")
    scale.scan(plant["W-3"])
    assert scale.fill(shown="10.00").outcome == "accepted"

    weigh = at("weigh")
    tubs = [plant["tubs"][0], plant["drops"][0], plant["drops"][1]]
    weigh.scan(plant["WO-1041"])
    weigh.scan(plant["W-3"])
    for box, tub, gross in ((red, tubs[0], "12.21"), (foam, tubs[1], "9.15"), (plant["natural"], tubs[2], "7.30")):
        weigh.scan(box)
        weigh.scan(tub)
        page = weigh.fill(gross=gross)
        assert page.outcome == "accepted", page.verdict
    assert "3 of 3 done" in page.said("checklist")

    load = at("load")
    load.scan(plant["T430-01"])
    load.scan(plant["WO-1041"])
    assert load.scan(plant["S1"]).outcome == "accepted"
    for code in (plant["side"], plant["side"], plant["capacity"], m8, plant["m6"], *tubs):
        page = load.scan(code)
        assert page.outcome == "accepted", page.verdict
    assert page.next.startswith("Count the inserts")
    page = load.press("close", counted="12")
    assert page.outcome == "accepted", page.verdict

    oven = at("oven")
    for code in (plant["S1"], plant["T430-01"], plant["OVEN-2"], plant["LG-1"]):
        oven.scan(code)
    assert oven.press("start", set_c="290").outcome == "accepted"
    for stage in ("heat", "drop foam", "drop inner", "out"):
        assert oven.press(f"stage {stage}", temperature="160").outcome == "accepted"
    page = oven.press("end", temperature="208", log="attached")
    assert page.outcome == "accepted", page.verdict
    page = oven.press("cooled", temperature="45")
    assert page.outcome == "accepted", page.verdict

    demould = at("demould")
    page = demould.scan(plant["T430-01"])
    assert page.outcome == "accepted", page.verdict
    assert page.next.startswith("Scan the plate for the moulding of T430-01")
    page = demould.scan(SERIALS[0])
    assert page.outcome == "accepted", page.verdict
    assert page.next == "Scan the mould on the arm"

    inspect = at("inspect")
    inspect.scan(SERIALS[0])
    page = inspect.press(
        "pass", check_surface="yes", check_inserts="yes", check_plate="yes", mass="28.6",
        **{f"zone_{zone}": "4.1" for zone in products()["T430"]["zones"]},
    )
    assert page.outcome == "accepted", page.verdict

    pack = at("pack")
    pack.scan(plant["SO-220"])
    page = pack.scan(SERIALS[0])
    assert page.outcome == "accepted", page.verdict
    link = next(link for link in page.links if link.startswith("/labels/"))
    code = link.partition("codes=")[2][:8]
    assert pack.client.get(link).content.startswith(b"%PDF")

    rack = at("rack")
    rack.scan(plant["R4-2"])
    assert rack.scan(code).outcome == "accepted"

    truck = at("dispatch")
    truck.scan(plant["SO-220"])
    truck.scan(code)
    page = truck.press("gone", consignee="WHARFE", vehicle="PA 12 XYZ", collector="A driver")
    assert page.outcome == "accepted", page.verdict
    assert UnitState.objects.filter(status="dispatched").count() >= 2
    assert differences() == []
    # Everything was scanned by its tag; the sheet says names.
    sheet = hull_sheet(gather(SERIALS[0]))
    assert (sheet.cycles[0].oven, sheet.cycles[0].arm) == ("OVEN-2", "arm S1")
    said = " ".join(f"{line.what} {line.with_what}" for line in sheet.history)
    assert not [plant[key] for key in ("OVEN-2", "S1", "W-3", "T430-01", "R4-2", "WO-1041") if plant[key] in said]
