"""The desk's page of containment walks: begun over a hold or a list, live, as known on a day, filed, ended."""

import csv
import io
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client

from tests.pages.story import Told
from trace.codes import uuid7
from trace.genealogy.containment import walks
from trace.recording.acts.containment import SeeHull
from trace.recording.commands import By
from trace.recording.record import record

ME, AUDITOR, WAREHOUSE = "P-06", "P-08", "P-07"


@pytest.fixture
def client(signed_in: Callable[[str], Client]) -> Client:
    return signed_in(ME)


def begin(client: Client, **sent: object) -> str:
    """The address of a walk begun with what the form sends."""
    answer = client.post("/containment/", {"scan_id": str(uuid7()), **sent})
    assert answer.status_code == 302, answer.content
    return str(answer["Location"])


def test_a_walk_over_a_hold_says_what_is_not_found_with_who_put_it_there(story: Told, client: Client) -> None:
    asked = client.get("/containment/", {"hold": story.hold})
    assert asked.context["page"].may_begin
    # The list stands there before anybody begins a walk.
    assert story.hulls["held"] in {line.code for line in asked.context["page"].missing}
    assert "Rack R4, level 2" in asked.content.decode()
    address = begin(client, hold=story.hold)
    page = client.get(address).context["page"]
    missing = {line.code: line for line in page.missing}
    assert story.hulls["held"] in missing
    assert missing[story.hulls["held"]].place == "Rack R4, level 2"
    assert missing[story.hulls["held"]].who == "Jonty Blewitt"
    before = page.total.every
    seen = SeeHull(walk=walks()[0].uid, place="R5-1", hull=story.hulls["held"], result="tagged", remark="at the back")
    story.plant.scan(seen, person=WAREHOUSE, station="containment")
    page = client.get(address).context["page"]
    assert story.hulls["held"] not in {line.code for line in page.missing}
    [line] = page.seen
    assert (line.result, line.place, line.who, line.remark) == (
        "tagged", "Rack R5, level 1", "Jonty Blewitt", "at the back",
    )  # fmt: skip
    assert (page.total.every, page.total.missing, page.total.every - page.total.missing) == (before, before - 1, 1)
    assert sum(at.every for at in page.places) == before
    assert "found" not in client.get(address).content.decode().partition("<form")[2].partition("Sign out")[0]


def test_a_walk_over_a_list_keeps_the_list_and_names_consignees(story: Told, client: Client) -> None:
    words = ["model=T430", "and", "made=2026-01-01..2027-12-31"]
    address = begin(client, q=words)
    [walk] = walks()
    assert (walk.hold, walk.question) == ("", tuple(words))
    page = client.get(address).context["page"]
    assert [(sent.name, [line.code for line in sent.hulls]) for sent in page.sent] == [
        ("Wharfe & Weir Paddlesport", [story.hulls["gone"]])
    ]
    rows = list(csv.DictReader(io.StringIO(client.get(address, {"walk": walk.uid, "file": "csv"}).content.decode())))
    assert len(rows) == page.total.every + 1
    assert {row["hull"] for row in rows if row["gone to"] == "WHARFE"} == {story.hulls["gone"]}
    assert "as it was known on" in " ".join(page.gaps)


def test_as_known_on_a_moment_before_a_find_it_is_not_found(story: Told, client: Client) -> None:
    address = begin(client, hold=story.hold)
    walk = walks()[0]
    moment = walk.begun + timedelta(milliseconds=1)
    record(SeeHull(walk=walk.uid, place="R4-2", hull=story.hulls["held"]), By(person=WAREHOUSE))
    then = client.get(f"{address}&as_known_on={moment.isoformat().replace('+', '%2B')}").context["page"]
    assert then.total.every - then.total.missing == 0
    assert not then.now
    now = client.get(address).context["page"]
    assert (now.now, now.total.every - now.total.missing) == (True, 1)


def test_a_walk_is_ended_by_those_who_answer_for_it(
    story: Told, client: Client, signed_in: Callable[[str], Client]
) -> None:
    address = begin(client, hold=story.hold)
    uid = walks()[0].uid
    ending = {"walk": uid, "reason": "all accounted for", "scan_id": str(uuid7())}
    assert signed_in(WAREHOUSE).post("/containment/", ending).status_code == 403
    assert not signed_in(AUDITOR).get(address).context["page"].may_begin
    assert walks()[0].ended is None
    assert client.post("/containment/", ending).status_code == 302
    assert walks()[0].ended is not None
    again = client.post("/containment/", {**ending, "scan_id": str(uuid7())})
    assert again.status_code == 409
    assert "This walk is over." in again.content.decode()


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ({"walk": "nothing"}, 404), ({"walk": "01900000-0000-7000-8000-000000000000"}, 404), ({"hold": "x"}, 404),
        ({"hold": "01900000-0000-7000-8000-000000000000"}, 404), ({"q": "sheen=red"}, 400),
        ({"q": "holds=nobody"}, 404), ({"q": "\x00<script>"}, 400), ({}, 200),
    ],
)  # fmt: skip
def test_what_is_not_there_is_said(client: Client, asked: dict[str, str], status: int) -> None:
    answer = client.get("/containment/", asked)
    assert answer.status_code == status
    assert "<script>" not in answer.content.decode().partition("<main")[2]
