"""The carousel's page: one press for every arm on it, as if each had been told at the oven."""

import json

import pytest

from tests.scan.browser import Screen
from tests.scan.cast import Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import scans
from tests.scan.rules.oven import BUOY_MOULDS, carried
from tests.scan.rules.weighing import define
from trace.models import Cycle, Event, MouldState, Resource
from trace.recording.acts.cook import CookStage, EndCook
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.oven import StartCook


def said(kind: str) -> list[dict[str, object]]:
    return [json.loads(e.body)["says"] for e in Event.objects.filter(kind=kind).order_by("id")]


def stages() -> dict[str, str]:
    keys = dict(Resource.objects.values_list("id", "key"))
    return {keys[m.mould]: m.stage for m in MouldState.objects.all() if m.stage != "empty"}


def moved(screen: Screen, **values: str) -> str:
    page = screen.press("moved", **values)
    return page.outcome


@pytest.fixture
def screen(plant: Plant, at: Opens) -> Screen:
    """Two buoys closed on arm A1, and the carousel named."""
    carried(plant, "A1", 0)
    screen = at("carousel")
    scans(screen, plant["OVEN-1"])
    return screen


def test_one_press_for_every_arm(plant: Plant, screen: Screen) -> None:
    """A1 goes in; A1 comes out as A2 goes in; A1 has cooled as A2 comes out and A3 goes in."""
    assert screen.page is not None
    assert "A1: Into the oven" in screen.page.said("main")
    scans(screen, plant["LG-4"])
    assert moved(screen, in_arm_rpm="8", in_plate_rpm="10", in_set_c="290") == "accepted"
    assert stages() == dict.fromkeys(BUOY_MOULDS["A1"], "in oven")
    carried(plant, "A2", 2)
    scans(screen, plant["OVEN-1"], plant["LG-4"])
    assert moved(screen, out_temperature="208", out_log="attached") == "flagged"  # no drop of foam was recorded
    assert stages() == {**dict.fromkeys(BUOY_MOULDS["A1"], "cooling"), "B60-03": "in oven"}
    carried(plant, "A3", 3)
    scans(screen, plant["OVEN-1"], plant["LG-4"])
    values = {"out_temperature": "209", "out_log": "attached", "off_temperature": "44"}
    assert moved(screen, **values) == "flagged"
    assert stages() == {**dict.fromkeys(BUOY_MOULDS["A1"], "to demould"), "B60-03": "cooling", "B60-04": "in oven"}
    assert [(s["arm"], s["moulds"], s["set_c"]) for s in said("cook_started")] == [
        ("A1", list(BUOY_MOULDS["A1"]), "290"), ("A2", ["B60-03"], "290"), ("A3", ["B60-04"], "290"),
    ]  # fmt: skip
    assert [(s["piat"], s["stages"]) for s in said("cook_ended")] == [
        ("208", ["heat", "out"]), ("208", ["heat", "out"]), ("209", ["heat", "out"]),
    ]  # fmt: skip
    assert {s["demould_c"] for s in said("cooled")} == {"44"}
    assert Cycle.objects.count() == 3


def test_a_stage_that_was_recorded_at_the_oven_stands_in_its_place(plant: Plant, screen: Screen) -> None:
    moved(screen)
    for mould in BUOY_MOULDS["A1"]:
        plant.shift.scan(CookStage(mould=mould, stage="drop foam", temperature="150"))
    scans(screen, plant["OVEN-1"])
    assert moved(screen, out_temperature="208", out_log="attached") == "accepted"
    assert [s["stages"] for s in said("cook_ended")] == [["heat", "drop foam", "out"]] * 2


def test_what_is_read_of_the_arm_that_comes_out_is_asked_before_it_counts(plant: Plant, screen: Screen) -> None:
    moved(screen)
    assert scans(screen, plant["OVEN-1"]).next == "Read the peak of the air inside · A1"
    assert screen.fill(out_temperature="208").next == "Is the oven log there? · A1"
    assert screen.press("moved").outcome == ""
    assert said("cook_ended") == []
    page = screen.fill(out_log="missing")
    assert page.outcome == "flagged"
    assert {(s["piat"], s["log"]) for s in said("cook_ended")} == {("208", "missing")}


def test_of_two_arms_that_wait_the_one_scanned_goes_in(plant: Plant, screen: Screen) -> None:
    carried(plant, "A2", 2)
    page = scans(screen, plant["OVEN-1"])
    assert "Scan the arm that goes in" in page.next
    assert not page.offers("moved")
    scans(screen, plant["A2"])
    assert moved(screen) == "warned"  # no logger was scanned
    assert stages() == {**dict.fromkeys(BUOY_MOULDS["A1"], "closed"), "B60-03": "in oven"}


def test_an_arm_does_not_go_in_with_a_mould_that_is_open(plant: Plant, screen: Screen) -> None:
    plant.shift.scan(ReadyMould(mould="B60-03", order="WO-1043", arm="A1"))
    scans(screen, plant["OVEN-1"])
    page = screen.press("moved")
    assert page.outcome == "refused"
    assert "B60-03: close it at the loading station" in page.verdict
    assert set(stages().values()) == {"closed", "open"}


def test_each_arm_says_how_it_stands(plant: Plant, screen: Screen) -> None:
    moved(screen)
    plant.shift.scan(ReadyMould(mould="B60-03", order="WO-1043", arm="A2"))
    page = scans(screen, plant["OVEN-1"])
    for words in ("A1: Out of the oven B60-01, B60-02", "A2: being loaded B60-03", "A3: empty"):
        assert words in page.said("main")


def test_what_may_not_go_in_stops_nothing_that_came_out(plant: Plant, screen: Screen) -> None:
    """What comes out is recorded; the setting that nobody can read waits to be put right."""
    moved(screen)
    carried(plant, "A2", 2)
    scans(screen, plant["OVEN-1"])
    page = screen.press("moved", out_temperature="208", out_log="attached", in_set_c="hot")
    assert page.outcome == "refused"
    assert stages() == {**dict.fromkeys(BUOY_MOULDS["A1"], "cooling"), "B60-03": "closed"}
    assert moved(screen, in_set_c="290") == "flagged"  # no logger was scanned
    assert stages()["B60-03"] == "in oven"


def test_an_oven_without_arms_of_its_own_is_sent_to_the_oven_s_station(plant: Plant, screen: Screen) -> None:
    define(plant, "machine", "OVEN-3", kind="oven", motion="biaxial", state="in service")
    page = scans(screen, "OVEN-3")
    assert "No arm belongs to OVEN-3" in page.next
    assert not page.offers("moved")


def test_of_two_arms_that_cool_the_one_that_went_in_first_comes_off(plant: Plant, screen: Screen) -> None:
    """A2 went in and came out before A1: its buoys are cold first, whatever it is called."""
    carried(plant, "A2", 2)
    for arm, moulds in (("A2", BUOY_MOULDS["A2"]), ("A1", BUOY_MOULDS["A1"])):
        plant.shift.scan(StartCook(oven="OVEN-1", arm=arm, moulds=moulds, loggers=("LG-4",), arm_rpm="8"))
        for mould in moulds:
            plant.shift.scan(EndCook(mould=mould, piat="208", log="attached", stages=("heat", "drop foam", "out")))
    scans(screen, plant["OVEN-1"])
    moved(screen, off_temperature="44")
    assert stages() == {**dict.fromkeys(BUOY_MOULDS["A1"], "cooling"), "B60-03": "to demould"}
