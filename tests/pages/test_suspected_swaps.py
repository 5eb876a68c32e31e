"""Two kayaks of two colours whose plates were crossed: seen at inspection, held, suspected, exchanged, gone."""

from collections.abc import Callable
from types import SimpleNamespace

import pytest
from django.test import Client

from tests.pages.story import Told
from trace.codes import uuid7
from trace.demo import plant as invented
from trace.models import Unit
from trace.recording.acts.demould import SwapPlates
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.setup import Define

PAGE = "/plates/suspected/"
QUALITY, DEPUTY, OPERATOR = "P-06", "P-10", "P-01"


def two_colours(story: Told, monkeypatch: pytest.MonkeyPatch) -> tuple[str, str]:
    """One red kayak and one lime after it, by the records."""
    plant = story.plant
    plant.go_on()
    red = plant.kayak(bag=6)
    order = {**invented.WORKS_ORDERS["WO-1041"], "colour": "lime"}
    plant.scan(Define(kind="works_order", key="WO-1041", body=order), person="P-09")
    monkeypatch.setitem(plant.boxes, "red", plant.boxes["lime"])
    return red, plant.kayak(bag=6)


def test_crossed_plates_are_suspected_until_they_are_exchanged(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, plant = signed_in(QUALITY), story.plant
    empty = client.get(PAGE)
    assert empty.context["page"].suspected == () and "No two plates are suspected" in empty.content.decode()
    red, lime = two_colours(story, monkeypatch)
    plant.inspect(red, colour="teal")
    page = client.get(PAGE).context["page"]
    assert (page.suspected, [one.plate for one in page.alone], page.seen) == ((), [red], 1)
    # What was seen last counts, and one that says nothing of it takes nothing back.
    plant.inspect(red, verdict="fail", colour="lime")
    plant.inspect(red, verdict="fail")
    [pair] = client.get(PAGE).context["page"].suspected
    assert (pair.likely[:7], pair.odds) == ("Likely:", "200")
    plant.inspect(lime, colour="red")
    shown = client.get(PAGE)
    [pair] = shown.context["page"].suspected
    assert [(one.plate, one.recorded, one.seen) for one in pair.plates] == [(red, "red", "lime"), (lime, "lime", "red")]
    assert pair.likely.startswith("Very likely") and all(one.mouldings and one.bound_by for one in pair.plates)
    html = shown.content.decode()
    assert f"/hull/{red}/" in html and f"/hull/{lime}/" in html and "What this does not prove" in html
    assert "seen lime" in client.get(f"/hull/{red}/").content.decode()
    station = signed_in("P-03").get(pair.exchange_url).content.decode()
    assert all(f'value="{plate}"' in station for plate in (red, lime)) and "Exchange the plates" in station
    exchange = SwapPlates(first=red, second=lime, evidence="colour")
    assert plant.scan(exchange, person="P-03", station="plates").outcome == "accepted"
    page = client.get(PAGE).context["page"]
    assert (page.suspected, page.alone, page.seen) == ((), (), 2)


def test_whoever_hands_out_no_plates_is_told_who_does(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    red, _lime = two_colours(story, monkeypatch)
    story.plant.inspect(red, colour="lime")
    html = signed_in(DEPUTY).get(PAGE).content.decode()
    assert "at the station Plates" in html and "task=swap" not in html
    assert signed_in(OPERATOR).get(PAGE).status_code == 403


def test_the_form_beside_the_list_takes_the_colour(story: Told, signed_in: Callable[[str], Client]) -> None:
    """One press, not needed; another colour than the record's is said with what was recorded."""
    client = signed_in(QUALITY)
    hull = Unit.objects.get(uid__in=[line.key for line in client.get("/open/inspections/").context["page"].lines][:1])
    address = f"/open/inspections/?act=inspect&of={hull.uid}"
    [colour] = [box for box in client.get(address).context["page"].form.fields if box.name == "colour"]
    assert (colour.kind, colour.required) == ("choice", False) and ("teal", "Teal") in colour.choices
    sent = {"act": "inspect", "of": str(hull.uid), "scan_id": str(uuid7()), "verdict": "fail", "colour": "teal"}
    said = client.post("/open/inspections/", sent).context["page"].said
    assert "Seen teal, but made red by the records." in said and "compare the plates" in said


def test_an_inspection_from_before_the_colour_could_be_said_reads_as_it_did() -> None:
    old = SimpleNamespace(says={"hull": "GHM-T430-004417", "verdict": "pass", "mass": "28.60"})
    assert Inspect.told(old) == "Inspected: passed; 28.60 kg"
    old.says["colour"] = "teal"
    assert Inspect.told(old) == "Inspected: passed; 28.60 kg; seen teal"
