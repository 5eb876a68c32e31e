"""The page of impact tests: the list, one staircase with its table, and a drop that is taken back."""

from collections.abc import Callable

from django.test import Client

from tests.pages.story import Told
from trace.codes import uuid7
from trace.recording.acts.impact import DropDart, EndImpact
from trace.recording.commands import By
from trace.recording.record import record

QUALITY, OPERATOR = "P-06", "P-01"


def test_a_staircase_is_drawn_with_its_table(story: Told, signed_in: Callable[[str], Client]) -> None:
    hull, by = story.hulls["held"], By(person=QUALITY)

    def drop(height: str, result: str) -> None:
        record(DropDart(unit=hull, height=height, result=result, temperature="-40"), by)

    client = signed_in(QUALITY)
    assert "No drop is recorded" in client.get("/impact/").content.decode()
    for height, result in [("1.05", "pass"), ("1.20", "ductile"), ("1.20", "ductile")]:
        drop(height, result)
    [line] = client.get("/impact/").context["page"].lines
    page = client.get(line.url).context["page"]
    assert (line.specimen, page.state, len(page.wide.marks)) == (hull, "open, 3 drops", 3)
    assert [(one.number, one.height, one.result) for one in page.drops][1] == (2, "1.20", "failed, ductile")
    form = {"scan_id": str(uuid7()), "code": hull, "drop": page.drops[2].uid}
    assert client.post(line.url, form).status_code == 409
    assert client.post(line.url, {**form, "scan_id": str(uuid7()), "reason": "pressed twice"}).status_code == 302
    for _ in range(5):
        drop("1.05", "pass")
        drop("1.20", "ductile")
    record(EndImpact(unit=hull), by)
    page = client.get(line.url).context["page"]
    assert page.state == "passed, mean failure height 1.125 m" and page.mean == "1.125" and page.drops[0].uid == ""
    assert page.counted == "reckoned from 6 that failed" and page.deviation == ""
    # Ended wrongly: its drops are open again, on the page and over the API.
    wrong = {"scan_id": str(uuid7()), "code": hull, "end": page.end}
    assert client.post(line.url, wrong).status_code == 409, "without a reason"
    assert client.post(line.url, {**wrong, "scan_id": str(uuid7()), "reason": "two more to drop"}).status_code == 302
    page = client.get(line.url).context["page"]
    assert (page.state, page.end) == ("open, 12 drops", "")
    [told] = client.get("/api/impact/").json()
    assert (told["specimen"], told["end"], len(told["drops"])) == (hull, None, 12)
    record(EndImpact(unit=hull), by)
    [told] = client.get("/api/impact/").json()
    sent = {"number": str(uuid7()), "specimen": hull, "end": told["end"], "reason": "and again"}
    for _ in range(2):
        assert client.post("/api/impact/", sent, content_type="application/json").json()["outcome"] == "accepted"
    other = {**sent, "number": str(uuid7())}
    assert client.post("/api/impact/", other, content_type="application/json").status_code == 409
    assert client.get("/api/impact/").json()[0]["verdict"] is None
    record(EndImpact(unit=hull), by)
    html = signed_in(OPERATOR).get(line.url).content.decode()
    assert "Take it back" not in html and "Impact test passed" in client.get(f"/hull/{hull}/").content.decode()
    assert client.get("/impact/?unit=nothing").status_code == 404
