"""One thing asked at a time, one thing that Enter does, and no honest scan lost: typed as scanners and hands type."""

import json
import time
from datetime import timedelta
from typing import Any
from urllib.parse import parse_qs

import pytest
from django.utils import timezone
from playwright.sync_api import Page, Route

from tests.browser.phone import (
    HIGH,
    WIDE,
    Phone,
    answered,
    asked,
    bursts,
    drawn_anew,
    enter,
    keys,
    out_of_view,
    outcome,
    scan,
    slow_line,
    until,
)
from tests.scan import cast
from tests.scan.cast import OPERATOR, PIN, SERIALS, Plant
from tests.scan.rules.leaving import old
from trace.models import Event, Scan
from trace.recording.acts.holds import Hold

SPEEDS = (3, 20, 90, 160)  # ms between two keys: two scanners, a slow one, a hand
LATE = 300  # ms by which Enter may come late
SLOW = 1500  # ms an answer takes on a bad line


def weighings() -> list[dict[str, Any]]:
    return [
        json.loads(body)["says"]
        for body in Event.objects.filter(kind="weighed").order_by("id").values_list("body", flat=True)
    ]


@pytest.mark.parametrize("late", [0, LATE])
@pytest.mark.parametrize("delay", SPEEDS)
def test_a_weighing_typed_at_any_speed(plant: Plant, floor_server: str, chromium: Any, delay: int, late: int) -> None:
    """Nothing is waited for between two codes: what comes meanwhile is kept in order and answered."""
    page = Phone(chromium, floor_server, plant).at("weigh")
    for code in (plant["WO-1041"], "W-3", plant["red"], plant["tubs"][0], "12.20"):
        keys(page, code, delay=delay, late=late)
    answered(page)
    assert outcome(page) == "accepted", page.inner_text("main")
    [one] = weighings()
    assert (one["gross"], one["layer"]) == ("12.20", "skin")


@pytest.mark.parametrize(("delay", "late"), [(20, 0), (90, LATE)])
def test_a_weighing_on_a_slow_line(plant: Plant, floor_server: str, chromium: Any, delay: int, late: int) -> None:
    page = Phone(chromium, floor_server, plant).at("weigh")
    slow_line(page, SLOW)
    for code in (plant["WO-1041"], "W-3", plant["red"], plant["tubs"][0], "12.20"):
        keys(page, code, delay=delay, late=late)
    until(lambda: page.is_visible("[data-not-sent]"))
    answered(page)
    assert outcome(page) == "accepted", page.inner_text("main")
    assert [one["gross"] for one in weighings()] == ["12.20"]


@pytest.mark.parametrize("end", ["Enter", "Tab", ""])
@pytest.mark.parametrize("delay", [3, 20])
def test_badge_and_pin_by_a_scanner(plant: Plant, floor_server: str, chromium: Any, end: str, delay: int) -> None:
    page = chromium.new_context(viewport={"width": WIDE, "height": HIGH}).new_page()
    page.goto(f"{floor_server}/sign-in/?next=/scan/weigh/")
    keys(page, plant[OPERATOR], end=end, delay=delay)
    until(lambda: page.is_visible("[name=pin]"))
    assert not page.is_visible("[name=badge]")
    assert page.input_value("[name=badge]") == plant[OPERATOR]
    keys(page, PIN, end=end, delay=delay)
    page.wait_for_url("**/scan/weigh/")
    assert "Ines Orrell" in page.inner_text(".station-people")


def test_a_badge_then_a_pin_by_hand_and_an_enter_that_comes_late(
    plant: Plant, floor_server: str, chromium: Any
) -> None:
    page = chromium.new_context(viewport={"width": WIDE, "height": HIGH}).new_page()
    page.goto(f"{floor_server}/sign-in/?next=/scan/weigh/")
    keys(page, plant[OPERATOR], delay=20, late=LATE)
    keys(page, PIN, delay=160, late=LATE)
    page.wait_for_url("**/scan/weigh/")
    assert asked(page) == "read"


def test_without_the_script_a_badge_with_enter_asks_for_the_pin(plant: Plant, floor_server: str, chromium: Any) -> None:
    page = chromium.new_context(java_script_enabled=False).new_page()
    page.goto(f"{floor_server}/sign-in/")
    page.fill("[name=badge]", plant[OPERATOR])
    page.press("[name=badge]", "Enter")
    assert page.input_value("[name=badge]") == plant[OPERATOR]
    assert not page.locator(".field-error").count()
    page.fill("[name=pin]", PIN)
    page.press("[name=pin]", "Enter")
    page.wait_for_url(f"{floor_server}/")


def test_twenty_scans_in_two_seconds_over_a_slow_line(plant: Plant, floor_server: str, chromium: Any) -> None:
    """None lost, none altered, in the order in which they were scanned."""
    page = Phone(chromium, floor_server, plant).at("plates")
    with drawn_anew(page):
        page.click("label:has([name=task][value=back])")
    slow_line(page, SLOW)
    codes = SERIALS[:20]
    bursts(page, codes, delay=3, every=100)
    assert page.is_visible("[data-not-sent]")
    answered(page)
    assert page.locator(".checklist .row-label").all_inner_texts() == codes
    with drawn_anew(page):
        page.click("button[value=done]:not(.first)")
    answered(page)
    assert outcome(page) == "accepted", page.inner_text("main")
    made = Event.objects.latest("id")
    assert (made.kind, json.loads(made.body)["says"]["plates"]) == ("plates_back", codes)


@pytest.mark.parametrize("every", [100, 600])
def test_a_held_hull_is_not_wiped_away_by_the_next_scan(
    plant: Plant, floor_server: str, chromium: Any, every: int
) -> None:
    bad, good, better = (old(plant, n) for n in (1, 2, 3))
    plant.shift.scan(Hold(code=bad, reason="query"), person=cast.QUALITY)
    phone = Phone(chromium, floor_server, plant)
    page = phone.at("pack")
    scan(page, plant["SO-220"])
    bursts(page, [bad, good, better], every=every)
    answered(page)
    assert outcome(page) == "accepted"
    assert f"Refused just before: On hold: {bad}" in page.inner_text(".just-refused")
    phone.look(page, "pack: refused just before")
    with drawn_anew(page):
        page.click(".just-refused button")
    assert not page.locator(".just-refused").count()
    assert phone.found == []


def test_what_is_scanned_behind_the_mould_goes_on_where_it_is_loaded(
    plant: Plant, floor_server: str, chromium: Any
) -> None:
    """All is weighed: the mould opens its own station, and nothing that was scanned meanwhile is lost."""
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0])
    plant.shift.weigh("WO-1041", "foam", plant["foam"], plant["drops"][0])
    plant.shift.weigh("WO-1041", "inner", plant["natural"], plant["drops"][1])
    phone = Phone(chromium, floor_server, plant)
    phone.at("load")  # its caution is read
    page = phone.at("weigh")
    scan(page, plant["WO-1041"], "W-3")
    bursts(page, [plant["T430-01"], plant["S1"]], every=100)
    page.wait_for_url("**/scan/load/**")
    answered(page)
    assert "Arm S1 · T430-01" in page.inner_text(".station-line")
    assert outcome(page) == "accepted", page.inner_text("main")
    assert phone.found == []


def test_keys_that_a_busy_tablet_hands_over_late_belong_to_their_scan(
    plant: Plant, floor_server: str, chromium: Any
) -> None:
    """Half a second goes by in the middle of a code; when each key was pressed stands in the key."""
    phone = Phone(chromium, floor_server, plant)
    page = phone.at("plates")
    with drawn_anew(page):
        page.click("label:has([name=task][value=back])")
    slow_line(page, SLOW)
    for stalled in (6, 9, 15):
        bursts(page, [SERIALS[stalled]], stalled=stalled)
        answered(page)
    assert page.locator(".checklist .row-label").all_inner_texts() == [SERIALS[n] for n in (6, 9, 15)]
    # A figure that is cut so is not given before its end has come.
    page = phone.at("check-weight")
    scan(page, plant["W-3"])
    with drawn_anew(page):
        bursts(page, ["10.00"], stalled=4)
    assert outcome(page) == "accepted", page.inner_text("main")
    assert json.loads(Event.objects.latest("id").body)["says"]["shown"] == "10.00"


def sent_ids(posts: list[str]) -> list[str]:
    """The scan id of each form posted."""
    return [parse_qs(body)["scan_id"][0] for body in posts]


@pytest.mark.parametrize("away", ["503", "no network"])
def test_what_cannot_be_sent_is_tried_again_with_the_same_id(
    plant: Plant, floor_server: str, chromium: Any, away: str
) -> None:
    page = Phone(chromium, floor_server, plant).at("weigh")
    posts: list[str] = []
    back: list[bool] = []

    def failing(route: Route) -> None:
        posted = route.request.method == "POST"
        if posted:
            posts.append(route.request.post_data or "")
        if not posted or back:
            route.continue_()
        elif away == "503":
            route.fulfill(status=503, headers={"Retry-After": "1"})
        else:
            route.abort()

    page.route("**/scan/weigh/", failing)
    keys(page, plant["WO-1041"])
    keys(page, plant["W-3"])
    until(lambda: page.is_visible("[data-trouble]") and len(posts) > 1)
    # The first may be tried twice before the second was typed to its end.
    until(lambda: page.inner_text("[data-not-sent]").startswith("2"))
    back.append(True)
    answered(page)
    assert not page.is_visible("[data-trouble]")
    *tries, other = sent_ids(posts)
    assert len(tries) > 2
    assert {other} != set(tries) == {tries[0]}
    assert "W-3" in page.inner_text(".station-place")


def test_what_was_not_sent_outlives_the_page(plant: Plant, floor_server: str, chromium: Any) -> None:
    page = Phone(chromium, floor_server, plant).at("check-weight")
    scan(page, plant["W-3"])
    page.route("**/scan/check-weight/", lambda r: r.abort() if r.request.method == "POST" else r.continue_())
    keys(page, "10.00", delay=90)
    until(lambda: page.is_visible("[data-trouble]"))
    page.unroute_all()
    page.reload()
    answered(page)
    until(lambda: outcome(page) == "accepted", page.inner_text("main"))
    assert Scan.objects.filter(raw__contains='"shown":"10.00"').count() == 1


@pytest.mark.parametrize(("delay", "late"), [(3, LATE), (20, 0), (90, LATE), (160, 0)])
def test_a_refused_code_is_replaced_by_the_next(
    plant: Plant, floor_server: str, chromium: Any, delay: int, late: int
) -> None:
    """Misread, unknown, of the wrong kind, and short: the next code stands alone."""
    page = Phone(chromium, floor_server, plant).at("weigh")
    for wrong in ("3334-3DRX", "WO-9999", plant["T430-01"], "X-9"):
        scan(page, wrong, delay=delay, late=late)
        assert outcome(page) == "refused"
        assert page.input_value("#code") == ""
    scan(page, plant["WO-1041"], "W-3", delay=delay, late=late)
    assert "W-3" in page.inner_text(".station-place")


def test_what_is_typed_while_the_answer_is_on_its_way_keeps_its_first_signs(
    plant: Plant, floor_server: str, chromium: Any
) -> None:
    page = Phone(chromium, floor_server, plant).at("weigh")
    slow_line(page, SLOW)
    keys(page, plant["WO-1041"])
    keys(page, "W-3", delay=160, end="")
    answered(page)
    assert page.input_value("#code") == "W-3"
    keys(page, "", end="Enter")
    answered(page)
    assert "W-3" in page.inner_text(".station-place")


def test_a_code_scanned_while_a_figure_is_asked_is_a_code(plant: Plant, floor_server: str, chromium: Any) -> None:
    page = Phone(chromium, floor_server, plant).at("weigh")
    scan(page, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    for delay in SPEEDS:
        scan(page, plant["tubs"][1], delay=delay)
        assert asked(page) == "type"
        assert page.input_value("[name=gross]") == ""
        scan(page, plant["tubs"][0], delay=delay)
    scan(page, "W-4", delay=90)
    assert "W-4" in page.inner_text(".station-place")


def test_the_same_pack_twice_where_two_positions_want_it(plant: Plant, floor_server: str, chromium: Any) -> None:
    page = Phone(chromium, floor_server, plant).at("load")
    scan(page, plant["T430-01"], plant["WO-1041"], plant["S1"])
    scan(page, plant["side"])
    assert "for Port" in page.inner_text(".verdict") or "port" in page.inner_text(".verdict").lower()
    time.sleep(0.6)
    scan(page, plant["side"])
    assert "starboard" in page.inner_text(".verdict").lower()
    # Nothing wants it a third time: a trigger held too long is no scan.
    before = Scan.objects.count()
    keys(page, plant["side"])
    until(lambda: page.is_visible("[data-again]"))
    assert Scan.objects.count() == before


def test_enter_books_nothing_at_goods_in_before_all_is_said(plant: Plant, floor_server: str, chromium: Any) -> None:
    page = Phone(chromium, floor_server, plant).at("goods-in")
    before = Event.objects.count()
    enter_nothing(page)
    for name, value in (("supplier", "VERRIN"), ("material", "LL-35 red")):
        page.select_option(f"[name={name}]", value) if page.locator(f"select[name={name}]").count() else page.click(
            f"label:has([name={name}][value='{value}'])"
        )
        enter(page)
    keys(page, "V-2400", delay=90, end="")
    enter(page)
    for figure in ("2", "500"):
        enter_nothing(page)
        keys(page, figure, delay=90, end="")
        enter(page)
    assert page.input_value("[name=note_no]") == ""
    keys(page, "DN-6", delay=90, end="")
    enter(page)
    assert Event.objects.count() == before
    enter(page, "without")
    assert (asked(page), Event.objects.count()) == ("press", before)
    assert "2 × 500 of lot V-2400" in page.inner_text("#next")
    enter(page)
    assert outcome(page) == "accepted", page.inner_text("main")


def enter_nothing(page: Page) -> None:
    """Enter with nothing given: nothing happens but a word."""
    time.sleep(0.8)
    before = page.inner_text("#next")
    page.keyboard.press("Enter")
    until(lambda: page.is_visible("[data-nothing]") or page.locator(".field-error").count())
    assert page.inner_text("#next") == before


def test_a_certificate_keeps_what_was_typed(plant: Plant, floor_server: str, chromium: Any) -> None:
    page = Phone(chromium, floor_server, plant).at("certificate")
    scan(page, plant["red"])
    before = Event.objects.count()
    keys(page, "V-2288", delay=90, end="")
    enter(page)
    for _ in range(2):
        assert asked(page) == "type"
        keys(page, "0.938" if "ensity" in page.inner_text("#next") else "3.5", delay=90, end="")
        enter(page)
    assert (asked(page), Event.objects.count()) == ("press", before)
    enter(page)
    says = json.loads(Event.objects.latest("id").body)["says"]
    assert says["values"] == {"density": "0.938", "mfi": "3.5"}


def test_an_inspection_figure_after_figure(plant: Plant, floor_server: str, chromium: Any) -> None:
    serial = cast.hull(plant)
    page = Phone(chromium, floor_server, plant).at("inspect")
    scan(page, serial)
    zones = 0
    while asked(page) == "type":
        keys(page, "4.1", delay=90, end="")
        enter(page)
        zones += 1
        assert zones < 20
    assert asked(page) == "choose"
    page.click("label:has([name=looked][value=all])")
    enter(page)
    assert asked(page) == "press"
    enter(page)
    assert outcome(page) == "accepted", page.inner_text("main")
    assert len(json.loads(Event.objects.latest("id").body)["says"]["thickness"]) == zones


def test_enter_ends_the_cooling_once_the_air_was_read(plant: Plant, floor_server: str, chromium: Any) -> None:
    cast.load(plant)
    page = Phone(chromium, floor_server, plant).at("oven")
    scan(page, plant["S1"], plant["T430-01"], plant["OVEN-2"], plant["LG-1"])
    enter(page)
    assert "Into the oven" in page.inner_text(".verdict") or outcome(page) == "accepted"
    while asked(page) == "press" and "when" in page.inner_text("#next"):
        before = Event.objects.count()
        time.sleep(0.8)
        page.keyboard.press("Enter")  # a bare Enter presses no stage
        answered(page)
        assert Event.objects.count() == before
        with drawn_anew(page):
            page.click(".press")
    keys(page, "208", delay=90, end="")
    enter(page)
    page.click("label:has([name=log][value=attached])")
    enter(page)
    with drawn_anew(page):
        page.click(".press")
    while asked(page) == "press":
        with drawn_anew(page):
            page.click(".press")
    keys(page, "45", delay=90, end="")
    enter(page)
    assert asked(page) == "press"
    assert "was read" in page.inner_text("#next")
    enter(page)
    assert Event.objects.latest("id").kind == "cooled", page.inner_text("main")


def test_a_caution_is_one_line_once_it_was_read(plant: Plant, floor_server: str, chromium: Any) -> None:
    phone = Phone(chromium, floor_server, plant)
    page = phone.at("weigh", read=False)
    assert asked(page) == "read"
    scan(page, plant["WO-1041"])  # a scan is a scan meanwhile
    assert asked(page) == "read"
    enter(page)
    assert asked(page) == "scan"
    box = page.locator(".caution").bounding_box()
    assert box is not None
    assert box["height"] < 48
    assert asked(phone.at("top-up", read=False)) == "scan"  # the same words at another station
    assert asked(phone.at("oven", read=False)) == "read"


@pytest.mark.parametrize(
    ("shows", "delay", "end", "late"),
    [("10.00 kg", 3, "Enter", 0), ("10.00", 20, "Tab", 0), ("10.00", 90, "Enter", LATE), ("10.00", 160, "Enter", 0)],
)
def test_a_check_weight_typed_by_a_scale_or_by_hand(
    plant: Plant, floor_server: str, chromium: Any, shows: str, delay: int, end: str, late: int
) -> None:
    page = Phone(chromium, floor_server, plant).at("check-weight")
    scan(page, plant["W-3"])
    before = Event.objects.count()
    enter_nothing(page)
    assert Event.objects.count() == before
    with drawn_anew(page):
        keys(page, shows, delay=delay, end=end, late=late)
    assert outcome(page) == "accepted", page.inner_text("main")
    says = json.loads(Event.objects.latest("id").body)["says"]
    assert (says["shown"], Event.objects.count()) == ("10.00", before + 1)


def test_a_doubtful_check_weight_is_typed_a_second_time(plant: Plant, floor_server: str, chromium: Any) -> None:
    page = Phone(chromium, floor_server, plant).at("check-weight")
    scan(page, plant["W-3"])
    for said in ("refused", "warned"):
        assert asked(page) == "type"
        with drawn_anew(page):
            keys(page, "10.30", delay=90, late=LATE)
        assert outcome(page) == said, page.inner_text("main")


@pytest.mark.parametrize("how", ["30 minutes ago", "picked", "chosen, then picked"])
def test_a_time_gone_by_is_chosen_or_picked(plant: Plant, floor_server: str, chromium: Any, how: str) -> None:
    page = Phone(chromium, floor_server, plant).at("check-weight")
    page.goto(f"{floor_server}/scan/check-weight/?late=yes")
    assert (asked(page), page.inner_text("#next")) == ("choose", "When was it done?")
    assert [words.split()[0] for words in page.locator(".choose .choice").all_inner_texts()] == ["10", "30", "60"]
    assert out_of_view(page) == []
    minutes = 30 if how.endswith("ago") else 95
    if not how.startswith("picked"):
        page.click(".choose .choice:has-text('30 minutes')")
    if how.endswith("picked"):
        then = timezone.localtime() - timedelta(minutes=minutes)
        page.fill("input[type=datetime-local]", f"{then:%Y-%m-%dT%H:%M}")
    enter(page)
    scan(page, plant["W-3"])
    with drawn_anew(page):
        keys(page, "10.00", delay=90)
    assert outcome(page) in ("accepted", "flagged"), page.inner_text("main")
    told = Event.objects.latest("id")
    assert told.kind == "check_weighed"
    assert abs(told.recorded - told.happened - timedelta(minutes=minutes)) < timedelta(minutes=3)


def test_every_time_is_picked(plant: Plant, floor_server: str, chromium: Any) -> None:
    """No station asks for a day or a time to be written out."""
    phone = Phone(chromium, floor_server, plant)
    page = phone.at("correct")
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0])
    scan(page, plant["red"])
    assert page.get_attribute("[name=at]", "type") == "datetime-local"
    page = phone.at("opening")
    assert {page.get_attribute(f"[name={name}]", "type") for name in ("expires", "opened")} == {"date"}
    assert {phone.at("goods-in").get_attribute(f"[name={name}]", "type") for name in ("expires", "made")} == {"date"}
