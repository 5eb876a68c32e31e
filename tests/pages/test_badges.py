"""One badge at two screens sooner than one can walk is listed, in neutral words, until somebody has looked."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from tests.pages.story import Told
from trace.codes import uuid7
from trace.recording.acts.packing import Rack
from trace.recording.acts.setup import Define
from trace.recording.acts.weighing import CheckWeight

LIST, LEAD, QUALITY = "/open/badges/", "P-03", "P-06"


def at(story: Told, seconds: int, place: str, device: str, person: str = "P-03", **more: Any) -> None:
    """Somebody checks the scale (moulding) or racks a hull (finishing), so many seconds after ten minutes ago."""
    when = timezone.now() - timedelta(minutes=10) + timedelta(seconds=seconds)
    made = {
        "weigh": CheckWeight(scale="W-4", shown="10.00"),
        "check-weight": CheckWeight(scale="W-3", shown="10.00"),
        "rack": Rack(place="R4-2", units=(story.hulls["held"],)),
    }[place]
    story.plant.scan(
        made, person=person, station=place, device=device, happened=when, recorded=when, mode="asks", **more
    )  # fmt: skip


def said(client: Client) -> list[str]:
    return [line.what for line in client.get(LIST).context["page"].lines]


def test_two_screens_within_a_minute_are_listed_until_somebody_looked(
    story: Told, signed_in: Callable[[str], Client]
) -> None:  # fmt: skip
    client = signed_in(QUALITY)
    at(story, 0, "weigh", "t1")
    at(story, 20, "check-weight", "t2")  # a few steps away
    assert said(client) == []
    at(story, 50, "rack", "t2")  # the same screen was carried there
    assert said(client) == []
    at(story, 90, "weigh", "t1")
    at(story, 300, "rack", "t2")  # time enough to walk
    assert said(client) == ["One badge at Rack and, 40 seconds later, at another screen at Weigh"]
    assert ("Badges at two places", 1) in {(one.word, one.count) for one in client.get("/").context["home"].waits}
    [line] = client.get(LIST).context["page"].lines
    own = signed_in(LEAD).post(LIST, {"act": "look", "of": line.key, "scan_id": str(uuid7()), "why": "near"})
    assert own.status_code == 409 and "your own badge" in own.context["page"].form.faults[0]
    form = {"act": "look", "of": line.key, "scan_id": str(uuid7())}
    assert client.post(LIST, form).context["page"].form.faults == ("Reason: this is needed.",)
    done = client.post(LIST, {**form, "scan_id": str(uuid7()), "why": "left signed on"}).context["page"]
    assert done.lines == () and done.said


def test_there_back_and_there_again_in_one_part_is_the_work_of_two(
    story: Told, signed_in: Callable[[str], Client]
) -> None:  # fmt: skip
    client = signed_in(QUALITY)
    for seconds, place, screen in ((0, "weigh", "t1"), (12, "check-weight", "t2"), (70, "weigh", "t1")):
        at(story, seconds, place, screen)
    assert said(client) == []
    at(story, 90, "check-weight", "t3")  # a third screen is no return
    at(story, 400, "weigh", "t1")
    at(story, 410, "check-weight", "t2")
    at(story, 470, "weigh", "t1")
    assert said(client) == []
    at(story, 520, "check-weight", "t2")
    at(story, 540, "weigh", "t1")  # a run of them is named once
    assert said(client) == [
        "One badge to and fro between two screens, at Weigh and Check weight, within 110 seconds"
    ]
    [line] = client.get(LIST).context["page"].lines
    form = {"act": "look", "of": line.key, "scan_id": str(uuid7()), "why": "near"}
    assert client.post(LIST, form).context["page"].lines == ()
    story.plant.scan(Define(kind="setting", key="badge minutes", body={"value": 1}), person="P-09")
    assert said(client) == []


def test_a_plant_says_how_soon_and_a_badge_that_stands_beside_counts(
    story: Told, signed_in: Callable[[str], Client]
) -> None:  # fmt: skip
    client = signed_in(QUALITY)
    at(story, 0, "weigh", "t1", person="P-01", helper="P-03")
    at(story, 100, "rack", "t2")
    assert len(said(client)) == 1
    for minutes, found in ((1, 0), (0, 0), (5, 1)):
        story.plant.scan(Define(kind="setting", key="badge minutes", body={"value": minutes}), person="P-09")
        assert len(said(client)) == found, minutes
