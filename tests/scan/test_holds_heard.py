"""Does everybody know of the hold: a new one stands on the next answer of every open page until it is read."""

import json
from datetime import datetime, timedelta

import pytest
from django.utils import timezone

from tests.scan.browser import Screen, read
from tests.scan.cast import LEAD, PIN, QUALITY, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import scans
from tests.scan.rules.leaving import old, packs, truck
from tests.scan.rules.weighing import define
from trace.codes import printed
from trace.exports.asked import Asked, Reader
from trace.exports.kinds.load import KIND
from trace.exports.paper import Facts, Table
from trace.models import Event, ScreenHeard
from trace.readmodels import plantdata
from trace.recording.acts.holds import Hold
from trace.recording.acts.packing import Dispatch
from trace.recording.acts.scope_holds import HoldScope
from trace.recording.floor import hold_list
from trace.scan.hold_notice import READ, listed
from trace.sheets.loads import load_of


def lay(plant: Plant, code: str = "") -> int:
    plant.shift.scan(Hold(code=code or plant["red"], rule="quality", reason="torn bag"), person=QUALITY)
    return int(Event.objects.latest("id").id)


def heard() -> list[int]:
    return [screen.number for screen in hold_list.screens(timezone.now())]


def test_a_new_hold_stands_on_the_next_answer_until_it_is_read(plant: Plant, at: Opens) -> None:
    screen = at("weigh")
    screen.scan(plant["W-3"])
    before = heard()
    hold = lay(plant)
    page = screen.scan(plant["WO-1041"])
    assert "On hold: LL-35 red lot V-2288: torn bag, Priya Ashdown" in page.said("hold-notice-words")
    assert page.said("summary") == "1 new hold: LL-35 red lot V-2288"
    assert ("do", READ, "I have read it (holds)") in page.form.buttons
    assert "data-new-hold" in page.html
    # It has left the server; that it has arrived is known when the screen says so.
    assert heard() == before
    page = screen.scan(plant["red2"])
    assert heard() == [hold]
    # No news any more, and not read yet.
    assert "data-new-hold" not in page.html
    assert "torn bag" in page.said("hold-notice-words")
    read = screen.press(READ)
    assert "is recorded" in read.said("said")
    assert read.said("hold-notice-words") == ""
    assert "1 hold matters at this station" in read.said("station-foot")
    assert "list no." not in read.html
    kept = Event.objects.latest("id")
    assert (kept.kind, json.loads(kept.body)["says"]["number"], kept.person) == ("holds_read", hold, "P-01")
    # What was put together stays; the page has one line now, and says nothing of it again in this sign-on.
    assert screen.scan(plant["tubs"][0]).said("hold-notice-words") == ""
    again = at("weigh")
    assert again.page is not None
    assert "torn bag" in again.page.said("hold-notice-words")


def test_what_does_not_concern_the_work_is_news_once(plant: Plant, at: Opens) -> None:
    screen = at("check-weight")
    lay(plant)
    page = screen.scan(plant["W-3"])
    assert "torn bag" in page.said("hold-notice-words")
    assert ("do", READ) not in [button[:2] for button in page.form.buttons]
    assert screen.fill(shown="10.00").said("hold-notice-words") == ""


def test_a_scope_is_on_the_list_and_what_was_ended_is_not(plant: Plant, at: Opens) -> None:
    plant.shift.scan(HoldScope(cause=("model=T430",), reason="cracked"), person=QUALITY)
    screen = at("pack")
    assert screen.page is not None
    assert "all hulls that are of model T430: cracked" in screen.page.said("hold-notice-words")
    assert screen.press(READ).said("hold-notice-words") == ""


@pytest.mark.parametrize("text", ["", "x", "1.2", "1.2.x", "-1.2.3", "1.99999999999999.0", "٣.1.1"])
def test_a_list_that_cannot_be_read_is_none(text: str) -> None:
    assert listed(text) is None


def test_the_gate_asks_for_a_list_that_is_young_enough(plant: Plant, at: Opens) -> None:
    define(plant, "setting", "phones", value={"lead": "204", "quality": "211"})
    define(plant, "setting", "hold list minutes", value=10)
    [code] = packs(plant, old(plant, 1))
    screen = at("dispatch", LEAD)
    scans(screen, plant["SO-220"], code)
    leave(screen, minutes=11)
    refused = screen.press("gone", consignee="WHARFE", vehicle="PA 12")
    assert "The list of holds here is 11 min old" in refused.verdict
    assert "phone quality manager, 211" in refused.verdict
    # Let pass with a reason, it is the list of that page that stands in the record.
    passed = screen.override()
    assert passed.outcome == "warned", passed.verdict
    says = json.loads(Event.objects.filter(kind="dispatched").latest("id").body)["says"]
    assert timezone.now() - datetime.fromisoformat(says["listed_at"]) > timedelta(minutes=10)


def leave(screen: Screen, minutes: int) -> None:
    """As if the page had stood there for so long."""
    assert screen.page is not None
    form = screen.page.form.values
    number, made, kept = map(int, form["holds_listed"].split("."))
    form["holds_listed"] = f"{number}.{made - minutes * 60_000}.{kept}"


def test_a_form_without_its_list_is_of_an_unknown_age(plant: Plant, at: Opens) -> None:
    [code] = packs(plant, old(plant, 1))
    screen = truck(plant, at)
    screen.scan(code)
    assert screen.page is not None
    screen.page.form.values.pop("holds_listed")
    assert "of an unknown age" in screen.press("gone", consignee="WHARFE", vehicle="PA 12").verdict


def test_what_is_told_late_is_not_judged_by_a_list_that_nobody_knows(plant: Plant) -> None:
    [code] = packs(plant, old(plant, 1))
    load = Dispatch(order="SO-220", packs=(code,), consignee="WHARFE", vehicle="PA 12", listed_at="unknown")
    assert plant.shift.scan(load, person="P-07", mode="tells").outcome == "accepted"


def test_a_wide_hold_whose_hulls_are_still_sought_makes_the_list_old(plant: Plant) -> None:
    now, known = timezone.now(), plantdata.newest()
    young = (now - timedelta(minutes=1)).isoformat()
    for minutes, old_ in ((14, False), (16, True)):
        facts = hold_list.list_facts(7, young, now - timedelta(minutes=minutes), now, known)
        assert facts["old"] is old_
        assert facts["age"] == f"{minutes} min old"
        assert str(facts["why_old"]).startswith("A wide hold was laid")


def test_a_screen_that_was_away_for_a_month_is_asked_about_no_more(plant: Plant, at: Opens) -> None:
    at("weigh").scan(plant["W-3"])
    ScreenHeard.objects.update(seen=timezone.now() - timedelta(days=31))
    assert heard() == []


def test_the_page_of_a_hold_names_who_knows_of_it_and_whom_to_phone(plant: Plant, at: Opens) -> None:
    define(plant, "setting", "phones", value={"operator": "118", "quality": "211"})
    away, here, desk = at("weigh"), at("pack"), Screen()
    for screen in (away, here):
        screen.scan("3334-3DRX")
    desk.sign_on(plant[QUALITY], PIN)
    lay(plant)
    (held,) = [one for one in hold_list.in_force(hold_list.plant_and_number()[1]) if one.kind != "scope"]
    known = desk.client.get(f"/hold/{held.key}/").context["page"]
    assert [line.station for line in known.know] == []
    assert {(line.station, line.phone) for line in known.not_yet} == {
        ("Weigh", "Ines Orrell: operator, 118"), ("Pack", "quality manager, 211"),
    }  # fmt: skip
    here.scan("3334-3DRX")
    here.press(READ)
    page = desk.client.get(f"/hold/{held.key}/")
    known = page.context["page"]
    assert [line.station for line in known.know] == ["Pack"]
    assert [line.station for line in known.not_yet] == ["Weigh"]
    assert [(line.who, line.station) for line in known.read] == [("Jonty Blewitt", "Pack")]
    assert [url.partition("?")[0] for _said, url in known.ways] == ["/containment/", "/recall/", "/drill/"]
    assert f'href="/hold/{held.key}/"' in (listed_ := desk.client.get("/open/holds/").content.decode())
    assert "known on 1 of 2 screens, not on: Weigh" in listed_
    plant.shift.scan(HoldScope(cause=("model=T430",), reason="cracked"), person=QUALITY)
    assert desk.client.get("/hold/scope-1/").context["page"].title == "all that share model=T430"
    assert desk.client.get("/hold/scope-2/").status_code == 404
    assert desk.client.get("/hold/x/").status_code == 404


def test_the_load_paper_prints_the_age_of_the_list(plant: Plant, at: Opens) -> None:
    serial = old(plant, 1)
    [code] = packs(plant, serial)
    screen = at("dispatch", LEAD)
    scans(screen, plant["SO-220"], code)
    leave(screen, minutes=4)
    page = screen.press("gone", consignee="WHARFE", vehicle="PA 12")
    (url,) = [link for link in page.links if link.startswith("/load/")]
    words = read(screen.client.get(url)).said("letter")
    for word in (printed(code), serial, "PA 12", "4 min, no. 0", "Wharfe & Weir", "Mabs Quill"):
        assert word in words
    asked = Asked({"load": url.split("/")[2]}, timezone.now(), Reader(consignees=True, words=True))
    paper = KIND.make(asked)
    facts, hulls, *_more = paper.parts
    assert isinstance(facts, Facts) and ("Age of the list of holds", "4 min, no. 0") in facts.pairs
    assert isinstance(hulls, Table) and [row[:2] for row in hulls.rows] == [(printed(code), serial)]
    assert "Wharfe" not in str(KIND.make(Asked(asked.words, asked.as_known_on)))


def test_a_truck_told_later_has_a_list_of_an_unknown_age(plant: Plant) -> None:
    [code] = packs(plant, old(plant, 1))
    now = timezone.now().isoformat()
    load = Dispatch(order="SO-220", packs=(code,), consignee="WHARFE", vehicle="PA 12", listed_at=now)
    (made,) = plant.shift.scan(load, person="P-07", mode="tells").made["units"]
    assert load_of(made["uid"], timezone.now()).age is None
    with pytest.raises(LookupError):
        load_of(made["uid"], timezone.now() - timedelta(days=400))
