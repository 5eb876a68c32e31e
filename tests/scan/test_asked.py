"""What a station asks for, one thing after the other; refusals before an act is whole; work left half done."""

import json
from datetime import timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from plant.models import Begun, WrongPin
from tests.scan import cast
from tests.scan.browser import Screen, read
from tests.scan.cast import EARLIER, LEAD, OPERATOR, PIN, QUALITY, SERIALS, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import newest_scan, scans
from tests.scan.rules.goods import DELIVERY
from tests.scan.rules.weighing import before, begun, define
from trace.models import Event
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.tipping import TipTub


def newest() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(Event.objects.latest("id").body)
    return found


def expired(plant: Plant) -> str:
    return str(before(plant, days=30).stock("VERRIN", "LL-35 red", "V-2190", ("500.00",), expires=EARLIER)[0])


# Refusals before the act is whole.


def test_a_box_refused_early_can_be_told_as_a_fact(plant: Plant, at: Opens) -> None:
    """It is in already: the box is kept, the rest is asked for, and the whole is recorded, flagged and held."""
    screen = begun(at, plant)
    page = screen.scan(expired(plant))
    assert (page.outcome, page.offers("tell"), page.offers("override")) == ("refused", True, True)
    count = Event.objects.count()
    page = screen.fact()
    assert (page.outcome, "tub" in page.next, Event.objects.count()) == ("", True, count)
    screen.scan(plant["tubs"][0])
    page = screen.fill(gross="12.20")
    assert (page.outcome, newest_scan()) == ("flagged", ("flagged", "SOURCE-EXPIRED"))
    # Only what was told is: the next charge asks again.
    screen.scan(plant["foam"])
    assert "told" not in screen.page.form.values  # type: ignore[union-attr]


def test_another_box_scanned_instead_is_no_fact(plant: Plant, at: Opens) -> None:
    screen = begun(at, plant)
    screen.scan(expired(plant))
    screen.fact()
    scans(screen, plant["red"], plant["tubs"][0])
    assert screen.fill(gross="12.20").outcome == "accepted"


def test_a_box_refused_early_is_let_pass_by_who_may(plant: Plant, at: Opens) -> None:
    screen = at("weigh", QUALITY, OPERATOR)
    code = expired(plant)
    scans(screen, plant["WO-1041"], plant["W-3"])
    assert screen.scan(code).outcome == "refused"
    page = screen.override(badge=plant[OPERATOR])
    assert (page.outcome, "may not allow this" in page.said("field-error")) == ("refused", True)
    page = screen.override(badge=plant[QUALITY])
    assert (page.outcome, "tub" in page.next) == ("", True)
    screen.scan(plant["tubs"][0])
    assert screen.fill(gross="12.20").outcome in ("accepted", "warned")
    body = newest()
    assert (body["person"], body["helper"], list(body["overrides"])) == (QUALITY, OPERATOR, ["SOURCE-EXPIRED"])


def test_what_lets_one_box_pass_lets_no_other_pass(plant: Plant, at: Opens) -> None:
    screen = at("weigh", QUALITY, OPERATOR)
    one, two = before(plant, days=30).stock("VERRIN", "LL-35 red", "V-2190", ("50.00", "50.00"), expires=EARLIER)
    scans(screen, plant["WO-1041"], plant["W-3"], one)
    screen.override(badge=plant[QUALITY])
    assert screen.scan(two).outcome == "refused"
    # Nor does a word of it written into the form by hand.
    page = screen.send(screen.page.form, {"code": two}, ("let", "forged"))  # type: ignore[union-attr]
    assert page.outcome == "refused"


# What is asked, and what Enter gives.


def test_enter_books_nothing_while_something_asked_for_is_empty(plant: Plant, at: Opens) -> None:
    screen, count = at("goods-in"), Event.objects.count()
    for name in ("supplier", "material", "lot_no", "count", "each", "note_no", "note_amount"):
        assert screen.page.form.values["asked"] == name  # type: ignore[union-attr]
        screen.fill(**{name: DELIVERY[name]})
    assert Event.objects.count() == count
    assert "Book 2 × 500 of lot V-2400" in screen.page.next  # type: ignore[union-attr]
    assert screen.press("book").outcome == "accepted"


def test_what_was_said_stands_there_while_the_rest_is_asked(plant: Plant, at: Opens) -> None:
    screen = at("goods-in")
    for name in ("supplier", "material", "lot_no"):
        page = screen.fill(**{name: DELIVERY[name]})
    said = page.said("checklist")
    assert "3 of 7 done" in said
    assert all(words in said for words in ("Verrin Polymers", DELIVERY["lot_no"]))


def test_a_note_that_did_not_come_is_said_and_not_left_open(plant: Plant, at: Opens) -> None:
    screen, count = at("goods-in"), Event.objects.count()
    known = {name: value for name, value in DELIVERY.items() if not name.startswith("note")}
    page = screen.press("book", **known)
    assert (page.form.values["asked"], Event.objects.count()) == ("note_no", count)
    page = screen.press("without")
    assert page.outcome == "accepted", page.verdict
    assert newest()["says"]["note_no"] == ""


def test_the_tare_is_asked_next_where_scales_are_not_zeroed(plant: Plant, at: Opens) -> None:
    define(plant, "setting", "tub tare kg", value="1.95")
    screen, count = begun(at, plant, plant["red"], plant["tubs"][0]), Event.objects.count()
    page = screen.fill(gross="14.15")
    assert page.form.values["asked"] == "tare"
    page = screen.scan(plant["tubs"][0])  # a code read meanwhile books nothing either
    assert (page.form.values["asked"], page.form.values["gross"], Event.objects.count()) == ("tare", "14.15", count)
    assert screen.fill(tare="1.95").outcome == "accepted"
    assert (newest()["says"]["gross"], newest()["says"]["tare"]) == ("14.15", "1.95")
    # A drop box weighs nothing here: no tare is asked for it.
    scans(screen, plant["foam2"], plant["drops"][0])
    assert screen.fill(gross="9.15").outcome == "accepted"


def test_a_correction_asks_for_what_is_right_instead(plant: Plant, at: Opens) -> None:
    for n, (reason, asked) in enumerate((("wrong amount", "amount"), ("wrong time", "at"), ("never happened", ""))):
        plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][n])
        event = str(Event.objects.latest("id").uid)
        screen, count = at("correct"), Event.objects.count()
        screen.scan(plant["red"])
        page = screen.fill(event=event, why=reason)
        assert (page.form.values["asked"], Event.objects.count()) == (asked, count)
        if asked == "":
            assert "It never happened" in page.next
            page = screen.press("withdraw")
        elif asked == "amount":
            page = screen.fill(amount="12.15")
        else:
            page = screen.fill(at=f"{timezone.localtime() - timedelta(minutes=1):%Y-%m-%dT%H:%M}")
        assert page.outcome in ("accepted", "warned", "flagged"), page.verdict
        assert newest()["kind"] == "corrected"


def test_the_lot_number_of_a_delivery_is_put_right_where_it_is_read(plant: Plant, at: Opens) -> None:
    [code] = plant.shift.receive("VERRIN", "LL-35 red", "V-2402", ("500",))
    event = str(Event.objects.latest("id").uid)
    screen = at("correct")
    assert "lot" not in screen.scan(plant["tubs"][0]).form.boxes  # a tub was never delivered
    screen = at("correct")
    screen.scan(code)
    page = screen.fill(event=event, why="wrong lot")
    assert (page.form.values["asked"], page.next) == ("lot", "Which lot number is on its label?")
    page = screen.fill(lot="V-2420")
    assert page.outcome == "accepted", page.verdict
    assert newest()["says"]["lot"] == "V-2420"
    page = at("correct").scan(code)
    assert "V-2420" in page.said("checklist")


def test_nothing_to_look_at_is_said_and_nothing_is_asked(plant: Plant, at: Opens) -> None:
    page = at("discrepancies").page
    assert page is not None
    assert page.next == "Nothing waits to be looked at"
    assert not [words for _name, _value, words in page.form.buttons if words]


def test_weigh_goes_on_with_the_layer_that_the_open_mould_lacks(plant: Plant, at: Opens) -> None:
    shift = plant.shift
    tub, foam, _inner = plant["tubs"][0], plant["drops"][0], plant["drops"][1]
    shift.weigh("WO-1041", "skin", plant["red"], tub)
    shift.weigh("WO-1041", "foam", plant["foam2"], foam)
    shift.scan(ReadyMould(mould="T430-01", order="WO-1041", arm="S1"))
    for code in (tub, foam):
        shift.scan(TipTub(mould="T430-01", tub=code))
    assert "for the inner" in begun(at, plant).page.next  # type: ignore[union-attr]
    shift.weigh("WO-1041", "inner", plant["natural"], plant["drops"][1])
    assert "for the skin" in begun(at, plant).page.next  # type: ignore[union-attr]


def test_a_figure_that_is_a_code_is_a_code(plant: Plant, at: Opens) -> None:
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    page = screen.fill(gross=plant["tubs"][1])
    assert (page.outcome, page.form.values["tub"]) == ("", plant["tubs"][1])
    assert page.form.values["gross"] == ""


def test_a_trial_moulding_asks_for_the_next_mould_and_says_why_it_gets_no_plate(plant: Plant, at: Opens) -> None:
    define(plant, "works_order", "WO-1041", purpose="trial")
    cast.cook(plant)
    screen = at("demould")
    page = screen.scan(plant["T430-01"])
    assert (page.outcome, page.next.startswith("Scan the next mould")) == ("accepted", True)
    assert "trial moulding: it gets no plate" in page.said("asked-detail")
    page = screen.scan(SERIALS[0])
    assert page.outcome == "refused"
    assert "only production is numbered" in page.verdict
    assert "only production is numbered" not in screen.scan(plant["T430-02"]).verdict


def test_a_red_bag_at_the_mould_is_told_where_powder_goes(plant: Plant, at: Opens) -> None:
    screen = at("load")
    scans(screen, plant["T430-01"], plant["WO-1041"], plant["S1"])
    page = screen.scan(plant["red"])
    assert "powder goes into a mould by a weighed tub" in page.verdict
    assert "Weigh it into a tub, then scan the tub" in page.verdict


def test_a_letter_for_a_digit_on_a_plate_gets_a_hint(plant: Plant, at: Opens) -> None:
    serial = cast.hull(plant)
    page = at("inspect").scan(serial.replace("00", "OO"))
    assert page.outcome == "refused"
    assert f"{serial} is known here" in page.said("said")


def test_a_long_foreign_code_is_quoted_short(plant: Plant, at: Opens) -> None:
    page = at("weigh").scan("https://example.net/" + "x" * 300)
    assert page.outcome == "refused"
    assert max(len(word) for word in page.verdict.split()) <= 24


# The caution, the sign-on.


def test_a_caution_is_asked_once_in_a_sign_on(plant: Plant, at: Opens) -> None:
    screen = Screen()
    screen.sign_on(plant[OPERATOR], PIN)
    page = screen.open("weigh")
    assert page.next.startswith("Powder dust can burn")
    assert screen.scan(plant["WO-1041"]).form.values["order"] == plant["WO-1041"]
    assert screen.press("read").next == "Scan the scale"
    assert screen.open("top-up").next == "Scan what it goes into"
    assert screen.open("load").next == "Moulds burn skin"
    screen.sign_on(plant[LEAD], PIN)
    assert screen.open("weigh").next.startswith("Powder dust can burn")


def test_a_badge_without_a_pin_is_no_wrong_pin(plant: Plant) -> None:
    client = Client()
    answer = client.post("/sign-in/", {"badge": plant[OPERATOR], "pin": ""})
    page = read(answer)
    assert (answer.status_code, WrongPin.objects.count()) == (401, 0)
    assert (page.form.values["badge"], page.said("field-error")) == (plant[OPERATOR], "")


# Work left half done.


def test_half_done_goods_in_is_there_at_another_tablet(plant: Plant, at: Opens) -> None:
    screen = at("goods-in")
    for name in ("supplier", "material", "lot_no"):
        screen.fill(**{name: DELIVERY[name]})
    other = at("goods-in")
    values = other.page.form.values  # type: ignore[union-attr]
    assert (values["asked"], values["lot_no"]) == ("count", "V-2400")
    assert "You left this here" in other.page.said("said")  # type: ignore[union-attr]
    page = other.press("anew")
    assert (page.form.values["asked"], page.form.values["lot_no"]) == ("supplier", "")
    assert at("goods-in").page.form.values["lot_no"] == ""  # type: ignore[union-attr]


def test_an_arm_is_as_it_was_left_whoever_scans_it(plant: Plant, at: Opens) -> None:
    cast.load(plant)
    scans(at("oven"), plant["S1"], plant["T430-01"], plant["OVEN-2"], plant["LG-1"])
    other = at("oven", "P-02")
    assert "arm" not in other.page.form.values  # type: ignore[union-attr]
    page = other.scan(plant["S1"])
    assert page.form.values["moulds"] == plant["T430-01"]
    assert other.press("start").outcome in ("accepted", "warned")


def test_an_inspection_is_taken_up_where_it_was_left(plant: Plant, at: Opens) -> None:
    serial = cast.hull(plant)
    screen = at("inspect")
    screen.scan(serial)
    screen.fill(zone_Z1="4.1")
    other = at("inspect", QUALITY)
    values = other.page.form.values  # type: ignore[union-attr]
    assert (values["hull"], values["zone_Z1"], values["asked"]) == (serial, "4.1", "zone_Z2")


def test_what_is_recorded_is_left_nowhere(plant: Plant, at: Opens) -> None:
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    assert Begun.objects.get(name=f"weigh by {OPERATOR}").held["box"] == plant["red"]
    assert screen.fill(gross="12.20").outcome == "accepted"
    assert Begun.objects.get(name=f"weigh by {OPERATOR}").held == {}
    assert "box" not in at("weigh").page.form.values  # type: ignore[union-attr]


def test_a_day_badge_leaves_no_name_behind(plant: Plant, at: Opens) -> None:
    at("badges").fill(name="Wren Ashby")
    assert not Begun.objects.filter(held__icontains="Wren").exists()
