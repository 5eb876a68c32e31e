"""What goes to a lot's supplier: its values beside other lots, the hulls, what came back, and no names."""

import os
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from django.test import Client
from PIL import Image

from tests.exports.conftest import MakePaper
from tests.exports.printed import bare, pages_of, pdf_of
from tests.exports.test_case_and_drill import BUYER, STAMP, facts, rows
from tests.pages.story import Told
from trace.exports.asked import PaperError, Reader
from trace.exports.files.with_photos import write_with_photos
from trace.exports.forms import forms_of
from trace.exports.kinds.table import BY_NAME
from trace.exports.paper import Paper
from trace.genealogy.answer import genealogy
from trace.photos.evidence import keep_photo, path_of, settle
from trace.recording.acts.cases import OpenCase, RecordTest
from trace.recording.acts.complaints import TakeComplaint
from trace.recording.acts.goods_in import Certify

QUALITY = "P-06"
LOT = "N-0398"


@pytest.fixture
def told(story: Told, settings: Any, tmp_path: Path) -> Told:
    """Two complaints, one of them of a hull that holds the lot, with a picture; what was tested of it."""
    settings.PHOTO_FOLDER = tmp_path / "photos"
    picture = BytesIO()
    Image.new("RGB", (40, 30), "white").save(picture, "JPEG")
    picture.seek(0)
    photo = keep_photo(picture, "desk")
    story.plant.scan(TakeComplaint(hull=story.hulls["gone"], symptom="crack at insert", spot="S5", failed="2026-05-30",
                                   hours="61", photos=(photo,), **BUYER), person=QUALITY, device="desk")  # fmt: skip
    settle(photo)
    story.plant.scan(TakeComplaint(hull=story.hulls["sled"], symptom="warp"), person=QUALITY)
    story.plant.scan(OpenCase(complaints=(1,), name="crack at seat"), person=QUALITY)
    story.plant.scan(RecordTest(case=1, day="2026-06-05", what="finish", result="no nickel"), person=QUALITY)
    return story


def packed(paper: Paper) -> ZipFile:
    out = BytesIO()
    write_with_photos(paper, STAMP, out, lambda: None)
    return ZipFile(out)


def test_it_tells_the_hulls_that_came_back_with_how_much_of_the_lot_is_in_them(told: Told, paper_of: MakePaper) -> None:
    paper = paper_of("supplier-evidence", number=LOT, anew=True)
    if folder := os.environ.get("SAMPLES"):
        Path(folder, "evidence.pdf").write_bytes(pdf_of(paper, STAMP))
    [complaint] = rows(paper, "complaints")
    assert (complaint["hull"], complaint["verdict"], complaint["place"]) == (told.hulls["gone"], "certain", "S5")
    forward = {line.node.serial: line for line in genealogy(LOT, "forward").lines if line.node.kind == "hull"}
    assert complaint["least"] == Decimal(forward[told.hulls["gone"]].share.total.least or 0) > 0
    assert {row["hull"] for row in rows(paper, "hulls")} == {serial for serial in forward if serial}
    assert facts(paper)["Complaints of those"] == "1"
    [test] = rows(paper, "tests")
    assert (test["what"], test["result"]) == ("finish", "no nickel")


def test_hulls_without_it_are_counted_beside_those_with_it(told: Told, paper_of: MakePaper) -> None:
    found = {row["verdict"]: row for row in rows(paper_of("supplier-evidence", number=LOT, anew=True), "how_often")
             if row["model"] == "T430"}  # fmt: skip
    assert (found["certain"]["complained"], found["may"]["complained"], found["cannot"]["complained"]) == (1, 0, 0)
    # The same lot asked for by nobody who complains: the hull counts among those without it.
    other = rows(paper_of("supplier-evidence", number="N-0417", anew=True), "how_often")
    counted = {row["verdict"]: row["complained"] for row in other if row["model"] == "T430"}
    assert counted == {} or sum(counted.values()) == 1


def test_a_value_is_set_beside_those_of_the_supplier_s_other_lots(told: Told, paper_of: MakePaper) -> None:
    for lot, value in (("V-3001", "3.4"), ("V-3002", "3.6"), ("V-3003", "3.5"), ("V-3004", "3.9")):
        [box] = told.plant.shift.receive("VERRIN", "LL-35 red", lot, ("500.00",))
        told.plant.scan(Certify(container=box, lot_on_certificate=lot, values={"mfi": value}), person=QUALITY)
    [row] = [row for row in rows(paper_of("supplier-evidence", number="V-3004", anew=True), "other_lots")
             if row["quantity"] == "mfi"]  # fmt: skip
    assert row["lots"] >= 3 and row["value"] == Decimal("3.9") and row["beyond"]


def test_no_name_of_anybody_leaves_the_plant(told: Told, paper_of: MakePaper) -> None:
    paper = paper_of("supplier-evidence", number=LOT, anew=True)
    text = bare(" ".join(pages_of(pdf_of(paper, replace(STAMP, by="")))))
    for form in (text, str(paper), bare(packed(paper).read("data.json").decode())):
        assert not [name for name in ("Heron", "wilf", "Oona", "Wharfe", "Ashdown") if name in form]


def test_the_pack_holds_the_pictures_and_says_which_is_lost(told: Told, paper_of: MakePaper) -> None:
    paper = paper_of("supplier-evidence", number=LOT, anew=True)
    [photo] = rows(paper, "photos")
    pack = packed(paper)
    assert pack.namelist() == ["paper.pdf", "data.json", f"photos/{photo['photo']}"]
    assert sha256(pack.read(f"photos/{photo['photo']}")).hexdigest() == photo["sha256"]
    assert pack.read("paper.pdf").startswith(b"%PDF")
    path_of(photo["sha256"]).unlink()
    lost = packed(paper)
    assert photo["sha256"] in lost.read(f"photos/{photo['photo']}.lost.txt").decode()


def test_it_is_offered_to_quality_at_what_a_supplier_delivered(
    told: Told, paper_of: MakePaper, signed_in: Callable[[str], Client]
) -> None:
    form = signed_in(QUALITY).get(f"/lot/{LOT}/").context["supplier_form"]
    assert form.kind == "supplier-evidence" and ("with-photos" in {name for name, _title in form.forms})
    assert signed_in("P-01").get(f"/lot/{LOT}/").context["supplier_form"] is None
    assert "with-photos" not in {one.name for one in forms_of(BY_NAME["lot"])}
    with pytest.raises(PaperError, match="supplier delivered"):
        paper_of("supplier-evidence", number=told.plant.silo)


def test_words_of_a_test_are_kept_from_who_may_not_read_words(told: Told, paper_of: MakePaper) -> None:
    assert "no nickel" not in str(rows(paper_of("supplier-evidence", Reader(), anew=True, number=LOT), "tests"))
