"""The desk's page of recalls: put together, sent, answered, printed, filed; what it may not say is said all at once."""

import csv
import io
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from tests.codes.test_recall_notice import GOOD
from tests.pages.story import Told
from trace.codes import uuid7
from trace.genealogy.answer import genealogy
from trace.genealogy.causes import read_cause
from trace.genealogy.recall import recalls
from trace.genealogy.sharing import shared_by
from trace.recording.acts.complaints import TakeComplaint
from trace.recording.acts.returns import Return

WORDS = ["model=T430", "and", "made=2026-01-01..2027-12-31"]


@pytest.fixture
def client(signed_in: Callable[[str], Client]) -> Client:
    return signed_in("P-06")


def send(client: Client, **changed: Any) -> Any:
    sent = {**GOOD, "discovered": "2026-06-01", "remedies": ["repair", "refund"], "checked": ["maker"], "q": WORDS}
    return client.post("/recall/", {**sent, "scan_id": str(uuid7()), **changed})


def test_the_form_knows_what_the_records_know(client: Client, story: Told) -> None:
    page = client.get("/recall/", {"q": WORDS}).context["page"]
    texts = {box.name: box.value for box in page.boxes}
    assert texts["headline"] == "Product safety recall"
    assert "Tamsin 430" in texts["product"]
    assert "Wharfe & Weir Paddlesport" in texts["sold"]
    assert (texts["hazard"], texts["remedy"]) == ("", "")
    [to] = page.consignees
    assert [hull.code for hull in to.hulls] == [story.hulls["gone"]]
    assert (to.hulls[0].order, bool(to.hulls[0].pack), to.hulls[0].day[:7]) == ("SO-220", True, "2026-04")
    assert (page.effect.gone, page.effect.here) == (1, page.effect.listed - 1)


def test_a_notice_with_faults_comes_back_with_all_of_them(client: Client) -> None:
    answer = send(client, hazard="Only in rare cases.", contact="", remedies=["refund"], action="Send it back.")
    assert answer.status_code == 409
    page = answer.context["page"]
    assert len(page.faults) == 4
    assert all(fault in answer.content.decode() for fault in page.faults if "“" not in fault and "'" not in fault)
    assert {box.name: box.value for box in page.boxes}["hazard"] == "Only in rare cases."
    assert recalls() == []


def test_a_recall_is_begun_answered_printed_and_filed(client: Client, story: Told) -> None:
    address = send(client)["Location"]
    page = client.get(address).context["page"]
    assert page.unreached == ("Wharfe & Weir Paddlesport",)
    assert str(page.effect.corrected_percent) == "0.0"
    uid, plate = recalls()[0].uid, story.hulls["gone"]
    letters = client.get("/recall/", {"recall": uid, "letters": "yes"}).content.decode()
    for said in ("Product safety recall", plate, "Wharfe &amp; Weir Paddlesport", "End of list: 1", GOOD["hazard"]):
        assert said in letters
    reply = {"recall": uid, "consignee": "WHARFE", f"hull {plate}": "corrected", "contact": "Ms O"}
    reply |= {"scan_id": str(uuid7())}
    assert client.post("/recall/", reply).status_code == 302
    page = client.get(address).context["page"]
    assert (str(page.effect.corrected_percent), page.effect.open, page.unreached) == ("100.0", 0, ())
    assert page.consignees[0].contacts == ("Ms O",)
    over = client.post("/recall/", {**reply, "scan_id": str(uuid7()), "count found": "3"})
    assert over.status_code == 409
    assert "4 hulls, and 1 went to WHARFE" in over.content.decode()
    rows = list(csv.DictReader(io.StringIO(client.get("/recall/", {"recall": uid, "file": "csv"}).content.decode())))
    assert [(row["consignee"], row["hull"], row["answer"]) for row in rows] == [("WHARFE", plate, "corrected")]


def test_the_page_defers_to_law_and_looks_nothing_up_for_others(
    client: Client, signed_in: Callable[[str], Client]
) -> None:
    page = client.get("/recall/", {"q": WORDS}).content.decode()
    assert "This is a record, not approval." in page
    assert "33 CFR 179.15(a)(3)" in page
    auditor = signed_in("P-08").get("/recall/", {"q": WORDS})
    assert not auditor.context["page"].may_send


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ({"recall": "x"}, 404), ({"recall": "01900000-0000-7000-8000-000000000000"}, 404), ({"q": "sheen=red"}, 400),
        ({}, 200),
    ],
)  # fmt: skip
def test_what_is_not_there_is_said(client: Client, asked: dict[str, str], status: int) -> None:
    assert client.get("/recall/", asked).status_code == status


def test_the_notice_shows_where_to_look(client: Client, story: Told) -> None:
    """Where an insert of the lot sits, and where a complaint of a listed hull points; for a mould there is none."""
    pages = {}
    for word in ("holds=N-0398", "mould=T430-01"):
        address = send(client, q=[word])["Location"]
        [(name, pair), *_others] = client.get(address).context["page"].pictures
        assert name == "Tamsin 430"
        pages[word] = {one.text.partition(":")[0] for one in pair.wide.labels if "look here" in one.text}
    [first, *_more] = shared_by(read_cause(["holds=N-0398"])).lines
    placed = {
        edge.position for edge in genealogy(first.node.serial or "", "back").edges
        if edge.role == "insert" and edge.position and edge.position.startswith("S")
    }
    assert pages["holds=N-0398"] and pages["holds=N-0398"] <= placed | {"S1–S8"}
    assert pages["mould=T430-01"] == set()
    story.plant.scan(TakeComplaint(hull=story.hulls["gone"], symptom="crack at insert", spot="S5"), person="P-06")
    page = client.get(send(client, q=["mould=T430-01"])["Location"])
    assert any("S5" in one.text and "look here" in one.text for one in page.context["page"].pictures[0][1].wide.labels)
    assert page.content.decode().count("recall-picture") == len(page.context["page"].pictures)


def test_what_comes_back_is_with_nobody_any_more_and_stays_a_unit_affected(client: Client, story: Told) -> None:
    address = send(client)["Location"]
    before = client.get(address).context["page"].effect
    sent_back = Return(hull=story.hulls["gone"], place="R4-2", consignee="WHARFE")
    story.plant.scan(sent_back, person="P-07", happened=None, recorded=None)
    page = client.get(address).context["page"]
    assert (page.consignees, page.unreached) == ((), ())
    assert (page.effect.gone, page.effect.here, page.effect.back) == (before.gone, before.here, 1)
    assert (str(page.effect.corrected_percent), str(page.effect.ended_percent)) == ("0.0", "100.0")
