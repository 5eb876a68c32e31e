"""Two kayaks of two colours whose plates were crossed: seen at inspection, held, suspected, exchanged, gone."""

from collections.abc import Callable
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.test import Client

from tests.pages.story import Told
from trace.codes import uuid7
from trace.demo import plant as invented
from trace.genealogy.charged import charged
from trace.genealogy.made_as import exchanged
from trace.models import Unit
from trace.quality.plates_seen import bound
from trace.recording.acts.demould import SwapPlates
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.setup import Define

PAGE, LIST = "/plates/suspected/", "/open/swaps/"
QUALITY, DEPUTY, OPERATOR = "P-06", "P-10", "P-01"


def two_colours(story: Told, monkeypatch: pytest.MonkeyPatch) -> tuple[str, str]:
    """One red kayak and one lime after it, by the records."""
    plant = story.plant
    # The morning after: no shift ends meanwhile, however many tests have let time pass.
    monkeypatch.setattr(plant.clock, "now", plant.clock.now.replace(hour=7, minute=0) + timedelta(days=1))
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
    assert (pair.likely, pair.odds) == ("Likely, by colour", "200")
    plant.inspect(lime, colour="red")
    shown = client.get(PAGE)
    [pair] = shown.context["page"].suspected
    assert [(one.plate, one.recorded, one.seen) for one in pair.plates] == [(red, "red", "lime"), (lime, "lime", "red")]
    assert pair.likely == "Very likely, by colour" and all(one.mouldings and one.bound_by for one in pair.plates)
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


def test_what_was_weighed_is_held_against_what_was_charged(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, plant = signed_in(QUALITY), story.plant
    red, lime = two_colours(story, monkeypatch)
    plant.inspect(red, colour="lime", mass="28.60")
    plant.inspect(red, mass="28.70", verdict="fail")
    plant.inspect(lime, mass="28.80")
    by_plate = {one.plate: one for one in bound()}
    told = [(str(round(one.weighed or 0, 2)), one.charged) for one in (by_plate[red], by_plate[lime])]
    assert told == [("28.70", 28.66), ("28.80", 28.66)]
    assert charged([by_plate[red].hull]) == 28_660_000
    page = client.get(PAGE)
    assert page.context["page"].weighed == 3 and "of 28.66 kg charged" in page.content.decode()
    # Two charges of one weight: the masses say nothing.
    [pair] = page.context["page"].suspected
    assert pair.likely == "Likely, by colour"
    # Of a hull whose record lacks a charge nobody knows what it should weigh.
    plant.inspect(story.hulls["no foam"], mass="28.60", verdict="fail")
    assert next(one for one in bound() if one.plate == story.hulls["no foam"]).charged is None


def test_what_came_of_comparing_them_is_said_beside_the_list(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not crossed: gone until something is seen anew. Crossed: each plate goes to the other's moulding."""
    client, plant = signed_in(QUALITY), story.plant
    assert client.get(LIST).context["page"].lines == ()
    red, lime = two_colours(story, monkeypatch)
    plant.inspect(red, colour="lime")
    plant.inspect(lime, colour="red")
    page = client.get(LIST)
    [line] = page.context["page"].lines
    assert (line.what, [text for text, _url in line.codes][:2]) == ("Very likely, by colour", [red, lime])
    assert f"{red}: seen lime, made red." in line.detail
    assert ("Suspected swaps", 1) in {(one.word, one.count) for one in client.get("/").context["home"].waits}
    form = client.get(line.act_url.partition("#")[0]).context["page"].form
    assert form.about == f"{red} and {lime}" and [one.what for one in form.before] == [f"Bound {red}", f"Bound {lime}"]
    sent = {"act": "compared", "of": line.key, "came": "not crossed"}
    lacks = client.post(LIST, {**sent, "scan_id": str(uuid7())})
    assert lacks.status_code == 409
    assert lacks.context["page"].form.faults == ("What shows it on the hulls: this is needed.",)
    said = client.post(LIST, {**sent, "scan_id": str(uuid7()), "why_words": "the lamp was out"}).context["page"]
    assert said.lines == () and said.said.endswith("compared: each plate is its own.")
    assert client.get(PAGE).context["page"].suspected == ()
    assert f"Plates {red} and {lime} compared" in client.get(f"/hull/{red}/").content.decode()
    plant.inspect(red, colour="lime", verdict="fail")
    plant.inspect(lime, colour="red", verdict="fail")
    [line] = client.get(LIST).context["page"].lines
    crossed = {**sent, "came": "crossed", "scan_id": str(uuid7()), "why_words": "lime under the rivets"}
    said = client.post(LIST, crossed).context["page"]
    assert said.lines == () and "now stand on each other's mouldings" in said.said
    assert exchanged([Unit.objects.get(about__colour="red", id=one.hull).id for one in bound() if one.plate == red])
    assert signed_in(OPERATOR).get(LIST).status_code == 403


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


def test_one_that_left_the_plant_is_exchanged_by_concession_alone(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, plant = signed_in(QUALITY), story.plant
    red, lime = two_colours(story, monkeypatch)
    plant.inspect(red)
    plant.dispatch("SO-220", "WHARFE", plant.pack("SO-220", red))
    plant.inspect(red, colour="lime", mode="tells")
    plant.inspect(lime, colour="red", verdict="fail")
    [line] = client.get(LIST).context["page"].lines
    form = client.get(line.act_url.partition("#")[0]).context["page"].form
    [box] = [field for field in form.fields if field.name == "concession"]
    assert not box.required and f"{red} left the plant already, with its papers." in box.hint
    sent = {"act": "compared", "of": line.key, "came": "crossed", "why_words": "lime under the rivets"}
    refused = client.post(LIST, {**sent, "scan_id": str(uuid7())})
    assert refused.status_code == 409
    [fault] = refused.context["page"].form.faults
    assert fault == (
        f"{red} left the plant already. A dispatched hull keeps its papers. Only quality can exchange them, by"
        " concession: say why, and tell whoever has it."
    )
    assert "lime under the rivets" in {field.value for field in refused.context["page"].form.fields}
    conceded = {**sent, "concession": "the owner sent a picture", "scan_id": str(uuid7())}
    # The rule is quality's: a deputy's words let nothing pass.
    assert signed_in(DEPUTY).post(LIST, {**conceded, "scan_id": str(uuid7())}).status_code == 409
    said = client.post(LIST, conceded).context["page"]
    assert said.lines == () and "now stand on each other's mouldings" in said.said
    page = client.get(f"/hull/{red}/").content.decode()
    assert "Override." in page and "the owner sent a picture" in page


def test_a_pair_that_is_in_the_plant_is_asked_for_no_concession(
    story: Told, signed_in: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    client = signed_in(QUALITY)
    red, _lime = two_colours(story, monkeypatch)
    story.plant.inspect(red, colour="lime")
    [line] = client.get(LIST).context["page"].lines
    form = client.get(line.act_url.partition("#")[0]).context["page"].form
    assert [field.name for field in form.fields] == ["came", "why_words"]
