"""A refusal is not wiped away by the next scan: it stays named until it is read, or until the same thing is taken."""

from urllib.parse import parse_qs, urlsplit

from tests.cast import rows_of
from tests.scan.browser import read
from tests.scan.cast import DEPUTY, LEAD, PIN, QUALITY, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import scans
from tests.scan.rules.containment import walk_begun
from tests.scan.rules.leaving import old, packing
from trace.genealogy.containment import progress, walks
from trace.models import Event
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.scan.just_refused import READ

WORDS = "just-refused-words"


def held(plant: Plant, n: int) -> str:
    serial = old(plant, n)
    plant.shift.scan(Hold(code=serial, reason="query"), person=QUALITY)
    return serial


def test_a_held_hull_stays_named_when_a_good_one_follows(plant: Plant, at: Opens) -> None:
    bad, good, better = held(plant, 1), old(plant, 2), old(plant, 3)
    screen = packing(plant, at)
    page = screen.scan(bad)
    assert (page.outcome, page.said(WORDS)) == ("refused", "")  # the answer itself says it
    page = screen.scan(good)
    assert page.outcome == "accepted"
    assert f"Refused just before: On hold: {bad}" in page.said(WORDS)
    assert f"On hold: {bad}" in screen.scan(better).said(WORDS)
    page = screen.press(f"{READ}1")
    assert page.said(WORDS) == ""
    assert page.next == "Scan the hull's plate"
    assert screen.scan(plant["SO-220"]).said(WORDS) == ""


def test_it_is_named_no_longer_once_the_same_thing_is_taken(plant: Plant, at: Opens) -> None:
    bad, good = held(plant, 1), old(plant, 2)
    screen = packing(plant, at)
    scans(screen, bad, good)
    [(hold,)] = rows_of("SELECT uid::text FROM hold ORDER BY id DESC LIMIT 1")
    plant.shift.scan(ReleaseHold(hold=hold, reason="looked at"), person=DEPUTY)
    page = screen.scan(bad)
    assert (page.outcome, page.said(WORDS)) == ("accepted", "")


def test_two_refusals_are_both_named_and_a_press_reads_what_was_shown(plant: Plant, at: Opens) -> None:
    first, second, third, good = held(plant, 1), held(plant, 2), held(plant, 3), old(plant, 4)
    screen = packing(plant, at)
    assert first in scans(screen, first, second).said(WORDS)
    page = screen.scan(third)
    assert first in page.said(WORDS)
    assert second in page.said(WORDS)
    page = screen.press(f"{READ}2")
    assert first not in page.said(WORDS)
    assert third in page.said(WORDS)  # it was on the page as its answer, which is gone now
    page = screen.scan(good)
    assert second not in page.said(WORDS)
    assert third in page.said(WORDS)


def test_a_code_that_nobody_knows_and_another_badge(plant: Plant, at: Opens) -> None:
    good = old(plant, 1)
    screen = packing(plant, at)
    page = scans(screen, "R1", good)
    assert page.outcome == "accepted"
    assert "R1" in page.said(WORDS)
    # The PIN comes first; the way back leads to the same page.
    assert screen.page is not None
    sent = {**screen.page.form.values, "code": plant[LEAD], "do": "send"}
    way = screen.client.post("/scan/pack/", sent)["Location"]
    back = parse_qs(urlsplit(way).query)["next"][0]
    assert screen.client.post("/sign-in/", {"badge": plant[LEAD], "pin": PIN, "next": back})["Location"] == back
    assert "R1" in read(screen.client.get(back)).said(WORDS)


def test_it_is_no_work_that_was_left(plant: Plant, at: Opens) -> None:
    bad, good = held(plant, 1), old(plant, 2)
    screen = packing(plant, at)
    scans(screen, bad, good)
    assert "You left this here" not in screen.open("pack").html


def test_what_others_wrote_into_the_form_names_nothing(plant: Plant, at: Opens) -> None:
    screen = packing(plant, at)
    screen.page.form.values["just_refused"] = "WyJ4IiwgW1sieCIsICJ5Il1dXQ:1x:y"  # type: ignore[union-attr]
    assert screen.scan(old(plant, 1)).said(WORDS) == ""


def test_after_a_refused_place_no_hull_counts_in_the_place_before(plant: Plant, at: Opens) -> None:
    first, second = old(plant, 1), old(plant, 2)
    walk_begun(plant, first, second)
    screen = at("containment")
    assert scans(screen, plant["STORE"], first).outcome == "accepted"
    seen = Event.objects.filter(kind="containment_seen").count()
    page = screen.scan("R1")
    assert page.outcome == "refused"
    assert page.next == "Scan the rack or place where you stand"
    page = screen.scan(second)
    assert page.outcome == "refused"
    assert f"{second} does not count yet: no place is scanned." in page.verdict
    assert "R1" in page.said(WORDS)
    assert Event.objects.filter(kind="containment_seen").count() == seen
    # Nothing of it is kept for the place that comes next.
    page = screen.scan(plant["R4-2"])
    assert page.outcome == ""
    assert second in page.said(WORDS)
    assert screen.scan(second).said(WORDS).count(second) == 0
    [walk] = [one for one in walks() if one.ended is None]
    places = {one.node.said: one.seen.place for one in progress(walk).here if one.seen}
    assert places == {first: "STORE", second: "R4-2"}


def test_a_hull_before_its_place_is_said_and_not_kept(plant: Plant, at: Opens) -> None:
    serial = old(plant, 1)
    walk_begun(plant, serial)
    screen = at("containment")
    page = screen.scan(serial)
    assert page.outcome == "refused"
    assert "Scan the rack or place where it stands, then the hull again." in page.verdict
    screen.scan(plant["R4-2"])
    assert not Event.objects.filter(kind="containment_seen").exists()


def test_after_a_refused_rack_nothing_is_put_into_the_one_before(plant: Plant, at: Opens) -> None:
    serial = old(plant, 1)
    screen = at("rack")
    scans(screen, plant["STORE"], "R1", serial)
    assert not Event.objects.filter(kind="racked").exists()
    assert screen.page is not None
    assert screen.page.next == "Scan the rack or place"
