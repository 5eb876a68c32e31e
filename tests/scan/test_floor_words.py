"""Words of the floor: names for places, walks and holds as people say them, and one button for one act."""

from urllib.parse import parse_qs, urlsplit

from tests.scan.browser import read
from tests.scan.cast import LEAD, PIN, QUALITY, WAREHOUSE, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import scans
from tests.scan.rules.containment import walk_begun
from tests.scan.rules.leaving import old
from trace.lookup import plant_now
from trace.models import Event


def test_a_place_is_found_by_its_name(plant: Plant, at: Opens) -> None:
    serial = old(plant, 1)
    screen = at("rack")
    name = next(t.body["name"] for t in plant_now().of_kind("place") if t.key == "R4-2")
    assert scans(screen, str(name).lower(), serial).outcome == "accepted"
    assert "R4-2" in Event.objects.latest("id").body
    walk_begun(plant, serial)
    assert scans(at("containment"), name, serial).outcome == "accepted"


def test_a_rack_without_its_level_is_refused_with_the_levels(plant: Plant, at: Opens) -> None:
    page = at("rack").scan("R4")
    assert page.outcome == "refused"
    assert "R4-2" in page.said("said")


def test_a_hold_is_laid_by_one_press(plant: Plant, at: Opens) -> None:
    screen = at("hold")
    page = screen.scan(plant["red"])
    shown = [words for _name, value, words in page.form.buttons if value in ("send", "hold", "without")]
    assert set(shown) == {"Lay the hold", "Enter"}  # the second stands at the box for a code
    assert shown.count("Lay the hold") == 2  # what Enter does, and the button
    page = screen.press("hold", why="damage", why_words="torn bag")
    assert page.outcome == "accepted"


def test_a_badge_scanned_at_a_station_is_not_asked_for_again(plant: Plant, at: Opens) -> None:
    """Nor is anybody led to a station that is none of theirs: home shows what is."""
    screen = at("check-weight")
    sent = {**screen.page.form.values, "code": plant[QUALITY], "do": "send"}  # type: ignore[union-attr]
    way = screen.client.post("/scan/check-weight/", sent)["Location"]
    page = read(screen.client.get(way))
    assert page.form.values["badge"] == plant[QUALITY]
    assert 'data-step="pin"' in page.html
    back = parse_qs(urlsplit(way).query)["next"][0]
    answer = screen.client.post("/sign-in/", {"badge": plant[QUALITY], "pin": PIN, "next": back})
    assert answer["Location"] == "/"
    assert read(screen.client.get("/")).status == 200
    # Once: whoever comes to the sign-on later is asked for their own.
    assert read(screen.client.get("/sign-in/")).form.values["badge"] == ""


def test_a_badge_of_one_who_works_here_leads_back(plant: Plant, at: Opens) -> None:
    screen = at("check-weight")
    sent = {**screen.page.form.values, "code": plant[LEAD], "do": "send"}  # type: ignore[union-attr]
    way = screen.client.post("/scan/check-weight/", sent)["Location"]
    back = parse_qs(urlsplit(way).query)["next"][0]
    answer = screen.client.post("/sign-in/", {"badge": plant[LEAD], "pin": PIN, "next": back})
    assert answer["Location"] == back


def test_walks_are_told_apart_in_words(plant: Plant, at: Opens) -> None:
    walk_begun(plant, old(plant, 1))
    walk_begun(plant, old(plant, 2))
    page = at("containment", WAREHOUSE).page
    assert page is not None
    assert "hulls that are of model T430" in page.html
    assert "model=T430" not in page.said("main")


def test_the_ways_from_a_station_are_one_press_from_its_head(plant: Plant, at: Opens) -> None:
    page = at("check-weight").page
    assert page is not None
    assert "#more" in page.links
    assert 'id="more"' in page.html
    assert "Enter later, from paper" in page.said("station-foot")
