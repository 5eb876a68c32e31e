"""A thing scanned at home opens its station; what was left half done stands there."""

from urllib.parse import parse_qs, urlsplit

from tests.scan import cast
from tests.scan.browser import Screen, read
from tests.scan.cast import OPERATOR, PIN, WAREHOUSE, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import scans
from tests.scan.rules.containment import walk_begun
from tests.scan.rules.leaving import old
from trace.recording.acts.weighing import CheckWeight


def at_home(plant: Plant, key: str = OPERATOR) -> Screen:
    screen = Screen()
    screen.sign_on(plant[key], PIN)
    screen.read_cautions()
    return screen


def opened(screen: Screen, code: str) -> tuple[str, dict[str, list[str]]]:
    """The station that opens, and what it holds then."""
    answer = screen.client.get("/scan/", {"code": code})
    assert answer.status_code == 302, read(answer).said("main")
    to = urlsplit(answer["Location"])
    assert read(screen.client.get(answer["Location"])).status == 200
    return to.path, parse_qs(to.query)


def test_a_thing_opens_the_station_it_is_for_as_it_stands(plant: Plant) -> None:
    screen = at_home(plant)
    assert opened(screen, plant["T430-01"]) == ("/scan/load/", {"mould": [plant["T430-01"]]})
    cast.load(plant)
    assert opened(screen, plant["T430-01"])[0] == "/scan/oven/"
    plant.shift.cook(["T430-01"], "S1")
    assert opened(screen, plant["T430-01"])[0] == "/scan/demould/"
    assert opened(screen, plant["S1"]) == ("/scan/oven/", {"arm": [plant["S1"]]})


def test_a_scale_is_checked_first_and_then_weighed_with(plant: Plant) -> None:
    screen = at_home(plant)
    assert opened(screen, "W-3")[0] == "/scan/weigh/"
    plant.shift.scan(CheckWeight(scale="W-3", shown="10.30", again="10.30"))
    assert opened(screen, "W-3")[0] == "/scan/check-weight/"


def test_several_stations_are_offered_and_none_is_said(plant: Plant) -> None:
    serial = cast.passed(plant)
    answer = at_home(plant, WAREHOUSE).client.get("/scan/", {"code": serial})
    assert {link.split("?")[0] for link in read(answer).links} >= {"/scan/pack/", "/scan/rack/"}
    assert "None of your stations" in read(at_home(plant, WAREHOUSE).client.get("/scan/", {"code": "S1"})).said("main")
    assert "Nothing of this plant" in read(at_home(plant).client.get("/scan/", {"code": "NO-SUCH-1"})).said("main")


def test_a_rack_is_walked_to_only_while_somebody_looks_for_hulls(plant: Plant) -> None:
    screen, serial = at_home(plant, WAREHOUSE), old(plant, 1)
    assert opened(screen, plant["R4-2"])[0] == "/scan/rack/"
    walk_begun(plant, serial)
    answer = screen.client.get("/scan/", {"code": plant["R4-2"]})
    assert {link.split("?")[0] for link in read(answer).links} >= {"/scan/rack/", "/scan/containment/"}


def test_a_badge_at_home_leads_to_the_sign_on(plant: Plant) -> None:
    answer = at_home(plant).client.get("/scan/", {"code": plant[WAREHOUSE]})
    assert answer["Location"].startswith("/sign-in/")


def test_what_stays_for_the_next_work_waits_for_nobody(plant: Plant, at: Opens) -> None:
    """An order and an arm stay for the next mould, an oven for the next arm: no work of anybody is left by that."""
    screen = at("load")
    scans(screen, plant["WO-1041"], plant["S1"])
    scans(at("oven"), plant["OVEN-2"])
    assert "Waits for you" not in read(at_home(plant).client.get("/")).said("main")


def test_work_left_half_done_waits_at_home_and_opens_as_it_was(plant: Plant, at: Opens) -> None:
    cast.load(plant)
    assert "Waits for you" not in read(at_home(plant).client.get("/")).said("main")
    scans(at("oven"), plant["S1"], plant["T430-01"], plant["OVEN-2"])
    screen = at_home(plant)
    home = read(screen.client.get("/"))
    assert "Waits for you Oven You left work here" in home.said("main")
    assert "/scan/oven/" in home.links
    other = at_home(plant, "P-02")
    assert "Waits for you" not in read(other.client.get("/")).said("main")
    # Scanned at home by somebody else, the arm is as it was left.
    answer = other.client.get("/scan/", {"code": plant["S1"]}, follow=True)
    assert read(answer).form.values["moulds"] == plant["T430-01"]
