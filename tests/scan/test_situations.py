"""Everyday situations of the trade that stations take in their stride, beside those filed under rules."""

import json
from datetime import timedelta
from io import BytesIO
from uuid import UUID

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone
from PIL import Image

from plant.models import Person
from tests.labels.raster import pages, texts
from tests.labels.raster import symbols as symbols_on
from tests.scan.browser import Screen, photo, read
from tests.scan.cast import DEPUTY, PIN, QUALITY, SERIALS, STORES, WAREHOUSE, Plant, cook, hull, weigh_all
from tests.scan.conftest import Opens
from tests.scan.rules.cases import scans, state
from tests.scan.rules.goods import two_at_opening
from tests.scan.rules.leaving import old, packs
from tests.scan.rules.loading import opened
from tests.scan.rules.weighing import define
from trace.codes import printed
from trace.labels.layouts import ROLL_62X29
from trace.labels.symbol import matrix, runs
from trace.lookup import look, plant_now
from trace.models import Blob, Edge, Event, Gap, Label, SerialState, Unit, UnitHold, UnitState
from trace.photos.evidence import path_of
from trace.readmodels.rebuild import differences
from trace.recording.acts.goods_in import Certify, Receive
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.packing import Rewrap
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh
from trace.sheets.lots.gathered import gather_lot
from trace.sheets.lots.sheet import lot_sheet


def picture(colour: str = "grey", exif: bool = False) -> bytes:
    out = BytesIO()
    data = Image.Exif()
    if exif:
        data[0x010F] = "Maker of cameras"  # Make, Exif 2.3 tag 271
    Image.new("RGB", (640, 480), colour).save(out, "JPEG", exif=data)
    return out.getvalue()


def symbols(*codes: str) -> bytes:
    """A picture of label symbols side by side."""
    out, cell = BytesIO(), 8
    image = Image.new("L", (300 * len(codes), 300), 255)
    for n, code in enumerate(codes):
        for x, y, length in runs(matrix(code)):
            for i in range(length):
                image.paste(
                    0,
                    (
                        300 * n + 40 + (x + i) * cell,
                        40 + y * cell,
                        300 * n + 40 + (x + i + 1) * cell,
                        40 + (y + 1) * cell,
                    ),
                )
    image.save(out, "PNG")
    return out.getvalue()


def test_e2_tubs_weighed_ahead_are_bound_to_a_mould_when_tipped(plant: Plant, at: Opens) -> None:
    weigh_all(plant, 0)
    weigh_all(plant, 1)
    screen = at("weigh")
    page = screen.scan(plant["WO-1041"])
    assert "(2 stand ready)" in page.said("checklist")
    load = opened(at, plant)
    page = load.scan(plant["tubs"][1])
    assert page.outcome == "accepted"
    assert "V-2288, 12.20 kg" in page.said("checklist")


def test_e4_a_bag_that_holds_a_little_more_than_its_book_is_no_trouble(plant: Plant, at: Opens) -> None:
    """Within the fill tolerance of 2 % a fill difference is booked."""
    [bag] = plant.shift.stock("VERRIN", "LL-35 red", "V-2310", ("12.00",))
    screen = at("weigh")
    scans(screen, plant["WO-1041"], plant["W-3"], bag, plant["tubs"][0])
    assert screen.fill(gross="12.20").outcome == "accepted"
    body = json.loads(Event.objects.latest("id").body)
    assert [d["cause"] for d in body["rows"]["differences"]] == ["fill difference"]


def test_e9_plates_bound_the_wrong_way_round_are_put_right_with_evidence(plant: Plant, at: Opens) -> None:
    first, second = hull(plant), hull(plant, 1, "T430-02", "S2")
    before = {s.text: s.hull for s in SerialState.objects.filter(text__in=(first, second))}
    screen = at("plates")
    screen.fill(task="swap")
    scans(screen, first, second)
    page = screen.fill(why="mass", why_words="28.6 and 31.2 kg", photo_evidence=photo(picture(exif=True)))
    assert page.outcome == "accepted", page.verdict
    after = {s.text: s.hull for s in SerialState.objects.filter(text__in=(first, second))}
    assert before == after  # a plate stays on its hull; the hulls change their mouldings
    moved = Edge.objects.filter(role="bind", event=Event.objects.latest("id")).count()
    assert moved == 2
    blob = Blob.objects.get()
    kept = path_of(blob.sha256).read_bytes()
    assert (len(kept), blob.type) == (blob.size, "image/jpeg")
    assert b"Maker of cameras" not in kept
    assert not Image.open(BytesIO(kept)).getexif()
    assert blob.sha256 in Event.objects.latest("id").body
    assert differences() == []


def test_a_mass_is_held_against_the_charges_only_where_all_of_them_are_known(plant: Plant, at: Opens) -> None:
    """Two of three layers were tipped and not recorded; and which half of a twin weighs what, nobody knows."""
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0])
    screen = opened(at, plant)
    screen.scan(plant["tubs"][0])
    screen.press("close", counted="12")
    screen.fact()
    plant.shift.cook(["T430-01"], "S1", person="P-03", overrides={"COOK-HELD": "both drops seen"})
    screen = at("demould")
    screen.scan(plant["T430-01"])
    assert screen.scan(SERIALS[0], mass="28.4").outcome in ("accepted", "warned")
    cook(plant, 1, "T430-02", "S2")
    define(plant, "mould", "T430-02", products=["T430"], arms=["S2"], cavities=["1", "2"], state="in service")
    screen.open("demould")
    screen.scan(plant["T430-02"])
    assert screen.scan(SERIALS[1], mass="9.5").outcome in ("accepted", "warned")


def test_e9_twin_mouldings_get_a_plate_for_each_cavity(plant: Plant, at: Opens) -> None:
    cook(plant)
    define(plant, "mould", "T430-01", products=["T430"], arms=["S1"], cavities=["1", "2"], state="in service")
    screen = at("demould")
    page = screen.scan(plant["T430-01"])
    assert "cavity 1" in page.next
    page = screen.scan(SERIALS[0])
    assert (page.outcome, "cavity 2" in page.next) == ("accepted", False)
    assert page.next == "Scan the plate for the moulding of T430-01"
    page = screen.scan(SERIALS[1])
    assert page.outcome == "accepted"
    assert page.next == "Scan the mould on the arm"
    hulls = [s.hull for s in SerialState.objects.filter(text__in=SERIALS[:2])]
    assert len(set(hulls)) == 2
    assert None not in hulls


def test_an_old_form_at_the_demould_asks_for_the_mould_again(plant: Plant, at: Opens) -> None:
    cook(plant)
    screen = at("demould")
    screen.scan(plant["T430-01"])
    form = screen.page.form  # type: ignore[union-attr]
    ago = int((timezone.now() - timedelta(minutes=11)).timestamp() * 1000)
    form.values["scan_id"] = str(UUID(int=ago << 80 | 7 << 76 | 2 << 62))  # RFC 9562, 5.7
    before = state()
    page = screen.scan(SERIALS[0])
    assert "Scan the mould again, then the plate" in page.said("said")
    assert state() == before
    screen.scan(plant["T430-01"])
    assert screen.scan(SERIALS[0]).outcome == "accepted"


def spider(plant: Plant, at: Opens) -> Screen:
    """Two buoys closed on arm A1, the station ready to send them in."""
    shift = plant.shift
    for n, mould in enumerate(("B60-01", "B60-02")):
        tub, box = plant["tubs"][n], plant["drops"][n]
        shift.weigh("WO-1043", "skin", plant["red"], tub)
        shift.weigh("WO-1043", "foam", plant["foam2"], box)
        shift.load(mould, "WO-1043", "A1", [tub, box], [], [])
    screen = at("oven")
    scans(screen, plant["A1"], plant["B60-01"], plant["B60-02"], plant["OVEN-1"], plant["LG-4"])
    return screen


def stages_of(*moulds: str) -> list[str]:
    from trace.models import MouldState, Resource

    ids = {r.key: r.pk for r in Resource.objects.filter(kind="mould", key__in=moulds)}
    return [MouldState.objects.get(mould=ids[key]).stage for key in moulds]


def test_all_moulds_of_an_arm_go_in_and_come_out_with_one_press(plant: Plant, at: Opens) -> None:
    screen = spider(plant, at)
    assert screen.press("start", arm_rpm="8", plate_rpm="10").outcome == "accepted"
    for stage in ("heat", "drop foam", "out"):
        form = screen.page.form  # type: ignore[union-attr]
        page = screen.press(f"stage {stage}")
        assert page.outcome == "accepted"
        assert all(mould in page.verdict for mould in ("B60-01", "B60-02"))
        assert screen.send(form, {}, ("do", f"stage {stage}")).replayed
        screen.page = page
    assert Event.objects.filter(kind="cook_stage").count() == 6
    assert screen.press("end", temperature="208", log="attached").outcome == "accepted"
    assert screen.press("cooled", temperature="45").outcome == "accepted"
    assert stages_of("B60-01", "B60-02") == ["to demould", "to demould"]


def test_a_mould_that_came_out_before_the_others_does_not_stop_them(plant: Plant, at: Opens) -> None:
    from trace.recording.acts.cook import EndCook

    screen = spider(plant, at)
    screen.press("start", arm_rpm="8", plate_rpm="10")
    for stage in ("heat", "drop foam", "out"):
        screen.press(f"stage {stage}")
    plant.shift.scan(EndCook(mould="B60-01", piat="208", log="attached"))
    assert screen.press("end", temperature="208", log="attached").outcome == "accepted"
    assert stages_of("B60-01", "B60-02") == ["cooling", "cooling"]


def test_what_was_gathered_by_mistake_or_is_held_since_is_taken_out(plant: Plant, at: Opens) -> None:
    first, second = packs(plant, old(plant, 1), old(plant, 2))
    screen = at("dispatch")
    scans(screen, plant["SO-220"], first, second)
    plant.shift.scan(Hold(code="GHM-T430-000001", reason="query"), person="P-06")
    page = screen.press("gone")
    assert (page.outcome, "On hold at this moment" in page.verdict) == ("refused", True)
    page = screen.press(f"off {first}")
    assert page.form.values["packs"] == second
    assert screen.press("gone", consignee="WHARFE", vehicle="PA 12").outcome == "accepted"
    plates = at("plates")
    page = plates.fill(task="back")
    scans(plates, SERIALS[0], SERIALS[1])
    page = plates.press(f"off {SERIALS[1]}")
    assert page.form.values["plates"] == SERIALS[0]


def test_e11_an_unknown_delivery_is_booked_on_hold_with_a_photo(plant: Plant, at: Opens) -> None:
    screen = at("goods-in")
    page = screen.press(
        "hold", supplier="unknown", material="unknown", lot_no="??", count="1", each="800", why="unknown",
        why_words="no papers", photo_evidence=photo(picture("brown")),
    )  # fmt: skip
    assert page.outcome == "accepted", page.verdict
    assert "on hold" in page.verdict
    assert UnitHold.objects.count() == 1
    blob = Blob.objects.get()
    assert path_of(blob.sha256).exists()
    assert str(settings.PHOTO_FOLDER) in str(path_of(blob.sha256))


def test_e11_nothing_of_a_delivery_on_hold_has_to_be_known(plant: Plant, at: Opens) -> None:
    """No lot, no figure, no photo: booked all the same, and every one of them is shown as missing, never as nothing."""
    screen = at("goods-in")
    page = screen.press("hold", supplier="DUNSAY", material="FM-22", count="2", each="half full", others="")
    assert (page.outcome, page.form.values["asked"]) == ("", "why")
    page = screen.press("hold", why="damaged", why_words="torn, label gone", note_amount="some", expires="next May")
    assert page.outcome == "accepted", page.verdict
    assert "not recorded: lot number, use-by date, photo, amount" in page.verdict
    one, two = Unit.objects.filter(kind="content").order_by("-id")[:2]
    assert (one.amount, one.lot_no, UnitState.objects.get(unit=one.pk).balance, two.amount) == (None, None, None, None)
    assert {(g.what, g.which) for g in Gap.objects.filter(unit=one.pk)} == {
        ("lot number", ""), ("use-by date", ""), ("photo", ""), ("amount", ""),
    }  # fmt: skip
    code = Label.objects.get(carrier=one.carrier).code
    sheet = lot_sheet(gather_lot(code))
    assert [(c.filled, c.left) for c in sheet.containers] == [(None, None)] * 2
    assert "Nobody recorded its lot number." in sheet.gaps
    assert [gap for gap in sheet.gaps if printed(code) in gap] == [
        f"{printed(code)} has no record of its {what}." for what in ("amount", "photo", "use-by date")
    ]
    page = screen.press("hold", material="FM-22", count="", each="", why="unknown", why_words="")
    assert "not recorded: lot number, number of containers, photo, amount" in page.verdict
    assert differences() == []


def test_what_nobody_recorded_the_amount_of_is_drawn_from_and_is_not_empty(plant: Plant, at: Opens) -> None:
    """Once quality lets it be used: no draw is too much, none uses it up, and nothing else is tipped on top of it."""
    told = plant.shift.scan(
        Receive(supplier="DUNSAY", material="FM-22", amounts=("?",), hold_reason="label gone"), person=STORES
    )
    [code] = told.made["codes"]
    [hold] = told.made["holds"]
    plant.shift.scan(ReleaseHold(hold=hold, reason="tested"), person=DEPUTY)
    allowed = {"SOURCE-NOT-RELEASED": "tested"}
    weigh = Weigh(order="WO-1041", layer="foam", box=code, tub=plant["drops"][0], scale="W-3", gross="9.15")
    assert plant.shift.scan(weigh, person=QUALITY, overrides=allowed).outcome in ("accepted", "warned")
    content = Unit.objects.filter(kind="content", amount=None).order_by("-id")[0]
    state_ = UnitState.objects.get(unit=content.pk)
    assert (state_.balance, state_.status) == (None, "quarantine")
    tipped = TopUp(source=plant["foam"], into=code, amount="1")
    assert plant.shift.scan(tipped, person=STORES, expect="MIXES-LOTS").code == "MIXES-LOTS"
    assert differences() == []


def test_e10_the_suppliers_own_label_fills_in_lot_and_dates(plant: Plant, at: Opens) -> None:
    """A GS1 element string: AI 10 is the lot, 17 the last day of use (GS1 General Specifications, 3.4)."""
    screen = at("goods-in")
    page = screen.scan("(01)09506000134352(17)280630(10)V-7777", supplier="VERRIN", count="2")
    assert "V-7777" in page.said("said")
    values = page.form.values
    assert (values["lot_no"], values["expires"]) == ("V-7777", "2028-06-30")
    assert (values["supplier"], values["count"]) == ("VERRIN", "2")
    page = screen.scan("LOT 88/4")
    assert page.form.values["lot_no"] == "LOT 88/4"
    assert Event.objects.latest("id").kind != "shown"
    assert screen.scan("3334-3DRX").outcome == "refused"


def test_a_kept_photo_comes_back_with_the_form_and_a_forged_one_does_not(plant: Plant, at: Opens) -> None:
    screen = at("goods-in")
    filled = {"supplier": "VERRIN", "material": "LL-35 red", "lot_no": "V-1", "count": "1", "note_no": "DN-1"}
    filled["note_amount"] = "15"
    page = screen.press("book", **filled, each="1,5", why="damaged", photo_evidence=photo(picture()))
    assert page.outcome == "refused"
    kept = page.form.values["photo_evidence"]
    page = screen.press("hold", each="15")
    assert page.outcome == "accepted", page.verdict
    assert Blob.objects.get().sha256 == kept.split()[0]
    form = screen.open("goods-in").form
    for forged in ("x", f"{'0' * 64} 5 image/jpeg", "../../etc/passwd 1 image/jpeg"):
        sent = {**form.values, **filled, "each": "5", "why": "damaged", "photo_evidence": forged, "do": "hold"}
        sent["scan_id"] = ""
        assert screen.client.post("/scan/goods-in/", sent).status_code == 200
    assert Blob.objects.count() == 1


def test_e14_the_rack_is_scanned_once_for_several_hulls(plant: Plant, at: Opens) -> None:
    codes = [*packs(plant, old(plant, 1)), old(plant, 2), old(plant, 3)]
    screen = at("rack")
    screen.scan(plant["R4-2"])
    for code in codes:
        assert screen.scan(code).outcome == "accepted"
    from trace.models import PlaceNow

    assert PlaceNow.objects.filter(place="R4-2").count() == 4  # a pack, its hull and two hulls


def test_e14_the_pack_label_stands_on_two_faces(plant: Plant, at: Opens) -> None:
    serial = old(plant, 1)
    screen = at("pack")
    screen.scan(plant["SO-220"])
    page = screen.scan(serial)
    link = next(link for link in page.links if link.startswith("/labels/"))
    faces = texts(screen.client.get(link).content)
    assert len(faces) == 2
    assert all(serial in text for text in faces)


def test_e31_stock_and_hulls_from_before_the_records_say_so(plant: Plant, at: Opens) -> None:
    screen = two_at_opening(plant, at)
    page = screen.fill(material="LL-35", amount="120.5")
    assert page.outcome == "accepted", page.verdict
    assert any(link.startswith("/labels/") for link in page.links)
    screen.fill(task="hull")
    page = screen.fill(product="T430", serial="GHM-T430-000001", colour="red")
    assert page.outcome == "accepted"
    hull_ = SerialState.objects.get(text="GHM-T430-000001").hull
    assert hull_ is not None
    assert Gap.objects.filter(unit=hull_, what="before records").exists()
    assert UnitState.objects.get(unit=hull_).status == "made before records"


# Day badge.


def test_e17_a_day_badge_works_for_its_tasks_and_ends_with_the_shift(
    plant: Plant, at: Opens, monkeypatch: pytest.MonkeyPatch
) -> None:
    screen = at("badges")
    form = screen.page.form  # type: ignore[union-attr]
    filled = {"name": "Rafe P.", "agency": "Harbour Staff", "task_weighing": "trained", "task_loading": "beside"}
    page = screen.send(form, filled, ("do", "send"))
    assert page.outcome == "accepted", page.verdict
    assert page.next.startswith("PIN ")
    pin = page.next.removeprefix("PIN ")
    person = Person.objects.get(key__startswith="D-")
    assert person.body["roles"] == ["operator"]
    assert person.body["tasks"] == ["check-weight", "load", "weigh"]
    assert list(person.body["trained"]) == ["weighing"]
    assert "Rafe" not in json.dumps(person.body)
    again = screen.send(form, filled, ("do", "send"))
    assert (again.replayed, pin in again.html) == (True, False)
    assert Person.objects.filter(key__startswith="D-").count() == 1

    badge = Label.objects.get(resource=person.resource).code
    link = next(link for link in page.links if link.startswith("/labels/"))
    [text] = texts(screen.client.get(link).content)
    assert all(words in text for words in ("Rafe P.", "Day badge", "Harbour Staff", "until"))
    worker = Screen()
    worker.sign_on(badge, pin)
    worker.open("weigh")
    scans(worker, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    assert worker.fill(gross="12.20").outcome == "accepted"
    assert worker.open("oven").status == 403
    worker.open("load")
    scans(worker, plant["T430-01"], plant["WO-1041"])
    assert worker.scan(plant["S1"]).outcome == "refused"
    held = worker.page.form.values  # type: ignore[union-attr]
    asked = worker.client.post("/scan/load/", {**held, "code": plant["P-02"], "do": "send"})
    back = worker.client.post(asked["Location"], {"badge": plant["P-02"], "pin": PIN, "next": ""})
    worker.page = read(worker.client.get(back["Location"]))
    assert worker.scan(plant["S1"]).outcome == "accepted"  # a witnessed run

    ended = timezone.datetime.fromisoformat(person.body["until"]) + timedelta(minutes=1)  # type: ignore[attr-defined]
    monkeypatch.setattr(timezone, "now", lambda: ended)
    assert worker.client.get("/scan/weigh/").status_code == 302


# Photos of codes.


def test_a_photo_of_a_label_is_read_as_its_code(plant: Plant, at: Opens) -> None:
    screen = at("weigh")
    page = screen.fill(photo=photo(symbols(plant["WO-1041"])))
    assert page.form.values["order"] == plant["WO-1041"]


def test_a_photo_of_two_labels_says_so(plant: Plant, at: Opens) -> None:
    page = at("weigh").fill(photo=photo(symbols(plant["WO-1041"], plant["W-3"])))
    assert "shows 2 codes" in page.verdict
    assert page.outcome == "refused"


@pytest.mark.parametrize("data", [b"", b"no picture", b"\xff\xd8\xff\xe0 broken"], ids=["empty", "text", "broken"])
def test_a_file_that_is_no_photo_gets_a_sentence_and_the_form_stays(plant: Plant, at: Opens, data: bytes) -> None:
    screen = at("weigh")
    screen.scan(plant["WO-1041"])
    page = screen.fill(photo=photo(data))
    assert page.status == 200
    assert page.form.values["order"] == plant["WO-1041"]
    evidence = at("goods-in").press(
        "hold", supplier="unknown", material="unknown", lot_no="1", count="1", each="8", why="unknown",
        photo_evidence=photo(data or b"x"),
    )  # fmt: skip
    assert evidence.outcome == ""
    assert "photo" in evidence.said("field-error")


# Labels.


def test_labels_are_printed_once_and_again_only_through_the_record(plant: Plant, at: Opens) -> None:
    screen = at("labels")
    screen.scan(plant["tubs"][0])
    page = screen.fill(why="burnt", why_words="beside the oven", layout="62x29")
    assert page.outcome == "accepted", page.verdict
    link = next(link for link in page.links if link.startswith("/labels/"))
    answer = screen.client.get(link)
    assert (answer["Content-Type"], answer.content[:5]) == ("application/pdf", b"%PDF-")
    forged = link.replace(plant["tubs"][0], plant["tubs"][1])
    assert screen.client.get(forged).status_code == 404
    assert Client().get(link).status_code == 302
    assert Event.objects.latest("id").kind == "label_reprinted"


def test_near_the_oven_a_label_carries_its_symbol_twice(plant: Plant, at: Opens) -> None:
    screen = at("labels")
    screen.scan(plant["T430-01"])
    page = screen.fill(why="burnt", layout="62x29")
    link = next(link for link in page.links if link.startswith("/labels/"))
    [picture_] = pages(screen.client.get(link).content)
    assert [seen.text for seen in symbols_on(picture_, ROLL_62X29)] == [plant["T430-01"]] * 2


def test_e14_only_the_label_that_is_on_the_pack_now_is_named(plant: Plant, at: Opens) -> None:
    """Wrapped anew twice: the first label leads to the third, and so does whatever speaks of the pack."""
    [first] = packs(plant, old(plant, 1))
    [second] = plant.shift.scan(Rewrap(pack=first), person=WAREHOUSE).made["codes"]
    [third] = plant.shift.scan(Rewrap(pack=second), person=WAREHOUSE).made["codes"]
    truck = at("dispatch")
    page = truck.scan(first)
    assert f"It was replaced by {printed(third)}." in page.verdict
    page = truck.scan(plant["SO-220"])
    assert printed(third) in page.said("checklist")
    hull_ = look(["GHM-T430-000001"], plant_now())["GHM-T430-000001"].unit
    assert hull_ is not None
    assert [into["code"] for into in hull_.gone_into if into["role"] == "pack"] == [third]


def test_the_driver_sees_free_hulls_when_one_is_held(plant: Plant, at: Opens) -> None:
    """The nearest free hull of that model and colour, with its place."""
    from tests.scan.cast import passed

    serial = passed(plant)
    screen = at("dispatch", WAREHOUSE)
    page = screen.scan(plant["SO-220"])
    assert serial in page.said("checklist")


def test_a_hold_says_what_it_stops_and_the_gate_says_what_is_held(plant: Plant, at: Opens) -> None:
    serial = hull(plant)
    plant.shift.inspect(serial)
    screen = at("hold")
    screen.scan(plant["red"])
    page = screen.press("hold", why="damage", why_words="torn bag")
    assert page.outcome == "accepted"
    assert "1 hull in the plant" in page.said("checklist")
    assert "1 hull" not in screen.scan(plant["red2"]).said("checklist")
    gate = at("pack")
    page = gate.scan(serial)
    assert page.outcome == "refused"
    assert f"{serial} (LL-35 red lot V-2288: damage: torn bag" in page.verdict


def test_a_pack_told_of_in_spite_of_a_hold_is_named_among_what_is_to_be_looked_at(plant: Plant, at: Opens) -> None:
    serial = hull(plant)
    plant.shift.inspect(serial)
    plant.shift.scan(Hold(code=serial, reason="query"), person="P-06")
    screen = at("pack")
    screen.scan(plant["SO-220"])
    assert screen.scan(serial).outcome == "refused"
    page = screen.fact()
    assert page.outcome == "flagged"
    code = Label.objects.latest("code").code
    listed = at("discrepancies").page
    assert listed is not None
    assert f"told, but: PACK-HELD: pack {code[:4]}-{code[4:]}, {serial}" in listed.said("main")
    for slug in ("pack", "dispatch"):
        page = at(slug).scan(plant["SO-220"])
        assert f"ON HOLD: {serial}" in page.said("now")
        assert "T430 red: 1 of 12 packed" in page.said("next")


def test_each_pack_that_goes_on_the_truck_is_answered(plant: Plant, at: Opens) -> None:
    """The list is below the fold of a telephone: what was added and the count stand beside the code box."""
    first, second = packs(plant, old(plant, 1), old(plant, 2))
    screen = at("dispatch")
    screen.scan(plant["SO-220"])
    assert screen.scan(first).said("said") == f"Added: {printed(first)}, GHM-T430-000001. 1 so far."
    assert screen.scan(first).said("said") == f"Scanned before: {printed(first)}, GHM-T430-000001. 1 so far."
    assert screen.scan(second).said("said") == f"Added: {printed(second)}, GHM-T430-000002. 2 so far."


def test_the_right_container_is_shown_before_a_correction_is_sent(plant: Plant, at: Opens) -> None:
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0])
    screen = at("correct")
    screen.scan(plant["red"])
    page = screen.scan(plant["red2"])
    assert page.said("said") == f"Scanned: {printed(plant['red2'])}, LL-35 red lot V-2291."
    assert f"The right one {printed(plant['red2'])}, LL-35 red lot V-2291" in page.said("checklist")
    assert f"Named wrongly {printed(plant['red'])}, LL-35 red lot V-2288" in page.said("checklist")


def test_the_inspector_reads_of_a_hold_before_measuring(plant: Plant, at: Opens) -> None:
    serial = hull(plant)
    screen = at("inspect")
    page = screen.scan(serial)
    assert page.next == "How thick is zone Z1?"
    assert "zone_Z1" in page.form.boxes
    plant.shift.scan(Hold(code=serial, reason="scratch"), person="P-03")
    screen.open("inspect")
    page = screen.scan(serial)
    assert page.next == "On hold: this cannot pass"
    assert "scratch" in page.said("next")
    assert "ended at the station End a hold" in page.said("next")


def test_quality_sees_the_certificate_before_releasing_on_it(plant: Plant, at: Opens) -> None:
    [code] = plant.shift.receive("VERRIN", "LL-35 red", "V-2402", ("500",))
    screen = at("release")
    assert "Certificate none is recorded" in screen.scan(code).said("checklist")
    paper = Certify(container=code, lot_on_certificate="V-2402", values={"mfi": "3.9", "density": "0.938"})
    plant.shift.scan(paper, person=QUALITY)
    page = screen.open("release")
    page = screen.scan(code)
    assert "Lot on the certificate V-2402" in page.said("checklist")
    assert "Density 0.938, limits 0.935 – 0.941" in page.said("checklist")
    assert page.said("now") == "MFI 3.9, OUTSIDE its limits 3.2 – 3.8"


def test_forms_have_a_button_that_says_what_it_does(plant: Plant, at: Opens) -> None:
    for slug, button, boxes in (
        ("certificate", "certify", {"lot_on_certificate": "V-2291", "value_mfi": "3.5", "value_density": "0.938"}),
        ("count", "count", {"amount": "99", "why": "weighed"}),
        ("hold", "hold", {"why": "damage"}),
    ):
        screen = at(slug)
        screen.scan(plant["red2"])
        assert screen.press(button, **boxes).outcome == "accepted", slug
    [code] = plant.shift.receive("MARROW", "M6-S", "N-0400", ("500",))
    plant.shift.scan(Certify(container=code, lot_on_certificate="N-0400", values={}), person=QUALITY)
    screen = at("release")
    screen.scan(code)
    assert screen.press("release", why="certificate").outcome == "accepted"


def test_counting_names_the_container_and_ticks_nothing_off(plant: Plant, at: Opens) -> None:
    page = at("count").scan(plant["red2"])
    assert f"{printed(plant['red2'])}, LL-35 red lot V-2291" in page.said("next")
    assert "of 1 done" not in page.said("main")


def test_a_figure_typed_for_a_code_is_the_gross_mass(plant: Plant, at: Opens) -> None:
    screen = at("weigh")
    assert screen.scan(plant["WO-1041"]) is not None
    assert "is not known here" in screen.scan("12.20").verdict
    scans(screen, plant["W-3"], plant["red"], plant["tubs"][0])
    assert screen.scan("12.20").outcome == "accepted"


def test_closing_too_early_names_everything_that_is_open(plant: Plant, at: Opens) -> None:
    weigh_all(plant, 0)
    page = opened(at, plant).press("close")
    assert page.outcome == "refused"
    for words in ("skin", "inserts H1", "S8; graphics CAPACITY, PORT"):
        assert words in page.verdict


def test_positions_are_taken_in_any_spelling(plant: Plant, at: Opens) -> None:
    page = opened(at, plant).scan(plant["m8"], positions="s1, s2")
    assert page.outcome == "accepted"
    assert "S1–S2" in page.verdict
