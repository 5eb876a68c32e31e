"""What every station does alike: double sending, replays, overrides, facts, people, paper, and odd inputs."""

import json
import re
from pathlib import Path

import pytest
from django.urls import reverse
from django.utils import timezone

import trace.scan.stations
from plant.access import STATION_RIGHTS, STATION_ROLES
from plant.roles import ROLES
from plant.sign_on import SignedOn
from plant.stations import ENTRIES
from tests.scan.browser import Screen, read
from tests.scan.cast import LEAD, OPERATOR, PIN, QUALITY, Plant, weigh_all
from tests.scan.conftest import Opens
from tests.scan.rules.cases import newest_scan, scans, state
from tests.scan.rules.goods import let_go, received, releasing
from tests.scan.rules.loading import opened
from tests.scan.rules.weighing import begun, define
from trace.models import Event, Hold, LabelState, Scan, ScanConflict
from trace.pages.home import home_page
from trace.scan.posted import OWN
from trace.scan.stations import STATIONS

FOLDER = Path(str(trace.scan.stations.__file__)).parent
BOX = re.compile(r'(?:Field|choice)\(\s*"([a-z_]+)"')
DRAWINGS = FOLDER.parents[2] / "templates" / "drawings" / "stations"


def test_every_station_is_said_once_and_reached_from_its_own_file() -> None:
    texts = [file.read_text(encoding="utf-8") for file in FOLDER.glob("*.py")]
    said = {slug for text in texts for slug in re.findall(r'^    slug="([a-z-]+)",$', text, re.M)}
    assert said == set(STATIONS) == set(STATION_ROLES) == set(ENTRIES)
    assert said == {file.name.partition(".")[0] for file in DRAWINGS.glob("*.svg.html")}, "each is drawn on home"
    places = [(str(s.home.group), s.home.at) for s in STATIONS.values()]
    assert len(places) == len(set(places)), "two stations stand at one place of home"


@pytest.mark.django_db
@pytest.mark.parametrize("slug", sorted(STATIONS))
def test_home_lists_every_station_to_its_roles(slug: str) -> None:
    for role in ROLES:
        person = SignedOn("P-01", "P", frozenset({role}), {}, timezone.now())
        shown = {line.url for group in home_page(person).groups for line in group.stations}
        assert (reverse("station", kwargs={"slug": slug}) in shown) == (role in (STATION_RIGHTS[slug].get or ()))


@pytest.mark.parametrize("slug", sorted(STATIONS))
def test_every_station_opens_and_asks_for_one_thing(plant: Plant, at: Opens, slug: str) -> None:
    screen = at(slug)
    assert screen.page is not None
    assert screen.page.next
    assert screen.page.form.values["scan_id"]
    bare = screen.fill()
    assert bare.status == 200
    assert bare.said("said") or bare.outcome == "refused" or bare.next


def test_a_form_sent_twice_counts_once(plant: Plant, at: Opens) -> None:
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    form = screen.page.form  # type: ignore[union-attr]
    first = screen.send(form, {"gross": "12.20"}, ("do", "send"))
    before = state()
    again = screen.send(form, {"gross": "12.20"}, ("do", "send"))
    assert (first.outcome, first.replayed) == ("accepted", False)
    assert (again.outcome, again.replayed) == ("accepted", True)
    assert "Recorded before, counted once:" in again.verdict
    assert state() == before


def test_one_form_records_one_scan(plant: Plant, at: Opens) -> None:
    """The same form with something else in it is kept as a conflict and answered in one sentence."""
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    form = screen.page.form  # type: ignore[union-attr]
    screen.send(form, {"gross": "12.20"}, ("do", "send"))
    before = state()
    page = screen.send(form, {"gross": "12.25"}, ("do", "send"))
    assert (page.outcome, page.status) == ("refused", 200)
    assert "sent before with something else" in page.verdict
    assert state() == before
    assert ScanConflict.objects.count() == 1


def test_a_refused_ask_told_as_a_fact_is_flagged_under_the_same_scan(plant: Plant, at: Opens) -> None:
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    refused = screen.fill(gross="13.00")
    assert refused.outcome == "refused"
    page = screen.fact()
    assert page.outcome == "flagged"
    asks, tells = Scan.objects.order_by("-id")[:2][::-1]
    assert (asks.client_id, asks.mode, asks.outcome) == (tells.client_id, "asks", "refused")
    assert (tells.mode, tells.outcome) == ("tells", "flagged")
    assert Hold.objects.count() == 1
    assert screen.fact is not None


def test_an_override_needs_the_role_and_a_reason_and_stays_in_the_record(plant: Plant, at: Opens) -> None:
    screen = at("weigh", LEAD)
    scans(screen, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    page = screen.fill(gross="12.40")
    assert page.offers("override")
    page = screen.override("checked by hand", "")
    assert page.outcome in ("accepted", "warned"), page.verdict
    assert "Overridden; the reason stays in the record." in page.verdict
    body = json.loads(Event.objects.latest("id").body)
    assert list(body["overrides"]) == ["CHARGE-HEAVY"]
    assert "checked by hand" not in Event.objects.latest("id").body


def test_an_override_without_a_reason_is_not_one(plant: Plant, at: Opens) -> None:
    screen = at("weigh", LEAD)
    scans(screen, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    screen.fill(gross="12.40")
    before = state()
    page = screen.send(screen.page.way("override"), {}, ("override", "yes"))  # type: ignore[union-attr]
    assert page.outcome == "refused"
    assert "The reason is missing" in page.verdict or "The reason is missing" in page.said("field-error")
    assert state() == before


def test_a_second_persons_badge_overrides_only_once_they_are_signed_on(plant: Plant, at: Opens) -> None:
    screen = at("weigh", OPERATOR)
    scans(screen, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    screen.fill(gross="12.40")
    page = screen.override(badge=plant[LEAD])
    assert page.outcome == "refused"
    assert "not signed on here: scan the badge under “Scan or type a code”" in page.said("field-error")
    assert screen.override(badge=plant["red"]).outcome == "refused"
    two = at("weigh", LEAD, OPERATOR)
    scans(two, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    two.fill(gross="12.40")
    page = two.override(badge=plant[OPERATOR])
    assert page.outcome == "refused"
    assert "Ines Orrell may not allow this: scan the badge of the shift lead" in page.said("field-error")
    assert two.override(badge=plant[LEAD]).outcome in ("accepted", "warned")
    body = json.loads(Event.objects.latest("id").body)
    assert (body["person"], body["helper"]) == (LEAD, OPERATOR)


def test_a_refusal_waits_while_the_lead_signs_on_and_lets_it_pass(plant: Plant, at: Opens) -> None:
    """The badge, the PIN, the reason: the lead does not type what the operator typed, nor show the badge twice."""
    screen = at("weigh", OPERATOR)
    scans(screen, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    page = screen.fill(gross="12.40")
    assert "Badge of the one who allows it" in page.html
    answer = screen.client.post("/scan/weigh/", {**page.form.values, "code": plant[LEAD], "do": "send"})
    back = screen.client.post(answer["Location"], {"badge": plant[LEAD], "pin": PIN, "next": ""})
    before = state()
    page = read(screen.client.get(back["Location"]))
    assert (page.outcome, "rule CHARGE-HEAVY" in page.verdict, page.replayed) == ("refused", True, False)
    assert "Badge of the one who allows it" not in page.html
    assert "Mabs Quill scans now , Ines Orrell" in page.said("station-people")
    assert state() == before
    screen.page = page
    page = screen.scan(plant[OPERATOR])
    assert ("Ines Orrell works here now" in page.said("said"), page.outcome) == (True, "refused")
    assert screen.scan(plant[LEAD]).outcome == "refused"
    assert screen.override().outcome in ("accepted", "warned")
    body = json.loads(Event.objects.latest("id").body)
    assert (body["person"], list(body["overrides"])) == (LEAD, ["CHARGE-HEAVY"])
    assert "rule CHARGE-HEAVY" not in screen.open("weigh").verdict


def test_a_refusal_is_gone_with_the_next_scan_and_a_forged_one_shows_nothing(plant: Plant, at: Opens) -> None:
    screen = at("weigh", LEAD, OPERATOR)
    scans(screen, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    page = screen.fill(gross="12.40")
    kept = page.form.values["refused_scan"]
    assert "refused_scan" not in screen.scan(plant["red2"]).form.values
    for forged in ("", "x", "[]", '{"scan": "x"}', "[" * 4000, kept.replace("-", "0")):
        page = screen.open("weigh", refused_scan=forged)
        assert (page.status, page.outcome) == (200, "")
    stranger = at("weigh", LEAD, refused_scan=kept)
    assert stranger.page is not None
    assert stranger.page.outcome == ""


def test_a_badge_changes_who_works_here_and_asks_for_the_pin_of_a_newcomer(plant: Plant, at: Opens) -> None:
    screen = at("weigh", LEAD, OPERATOR)
    assert screen.page is not None
    screen.scan(plant["WO-1041"])
    page = screen.scan(plant[LEAD])
    assert "Mabs Quill works here now" in page.said("said")
    assert page.form.values["order"] == plant["WO-1041"]
    scans(screen, plant["W-3"], plant["red"], plant["tubs"][0])
    screen.fill(gross="12.20")
    assert Event.objects.latest("id").person == LEAD
    answer = screen.client.post("/scan/weigh/", {**page.form.values, "code": plant["P-02"], "do": "send"})
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/?next=%2Fscan%2Fweigh%2F")
    assert plant["WO-1041"] in answer["Location"]
    newcomer = screen.client.post(answer["Location"], {"badge": plant["P-02"], "pin": PIN})
    assert newcomer.status_code == 302
    back = screen.open("weigh", order=plant["WO-1041"])
    assert "Dov Hartnell" in back.said("station-people")
    assert back.form.values["order"] == plant["WO-1041"]


def test_a_badge_without_a_task_here_changes_nobody(plant: Plant, at: Opens) -> None:
    screen = Screen()
    screen.sign_on(plant[QUALITY], PIN)
    screen.sign_on(plant[OPERATOR], PIN)
    screen.open("weigh")
    page = screen.scan(plant[QUALITY])
    assert "no task at this station" in page.said("said")
    assert page.said("station-people").startswith("Signed on: Ines Orrell")


def test_a_badge_that_was_replaced_or_has_ended_changes_nobody(plant: Plant, at: Opens) -> None:
    screen = at("weigh", LEAD, OPERATOR)
    LabelState.objects.create(code=plant[LEAD])
    page = screen.scan(plant[LEAD])
    assert (page.outcome, newest_scan()) == ("refused", ("refused", "LABEL-REPLACED"))
    assert page.said("station-people").startswith("Signed on: Ines Orrell")
    define(plant, "person", "P-02", ended=True)
    page = screen.scan(plant["P-02"])
    assert "This badge has ended" in page.said("said")


def test_untrained_work_counts_as_witnessed(plant: Plant, at: Opens) -> None:
    screen = at("weigh", "P-04")
    scans(screen, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    page = screen.fill(gross="12.20")
    assert page.outcome == "refused"
    # A colleague's badge alone is no witness: the PIN is asked for, and the one who works here stays.
    events = Event.objects.count()
    answer = screen.client.post("/scan/weigh/", {**page.form.values, "code": plant["P-02"], "do": "send"})
    assert (answer.status_code, Event.objects.count()) == (302, events)
    back = screen.client.post(answer["Location"], {"badge": plant["P-02"], "pin": PIN, "next": ""})
    screen.page = page = read(screen.client.get(back["Location"]))
    assert "with Dov Hartnell beside" in page.said("station-people")
    page = screen.fill(gross="12.20")
    assert page.outcome == "accepted"
    body = json.loads(Event.objects.latest("id").body)
    assert (body["person"], body["helper"]) == ("P-04", "P-02")
    assert "with Dov Hartnell beside" in page.said("station-people")
    # The badge stands for the next scans too; nobody can write it into the form by hand.
    forged = {**page.form.values, "helper": "P-03"}
    scans(screen, plant["foam"], plant["drops"][0])
    assert screen.fill(gross="9.15").outcome == "accepted"
    assert "P-03" not in Event.objects.latest("id").body
    assert forged["helper"] != page.form.values["helper"]


def test_several_people_load_one_mould_in_any_order(plant: Plant, at: Opens) -> None:
    """Two screens, two people, any order; only closing depends on the whole."""
    one = opened(at, plant)
    two = at("load", "P-02")
    two.scan(plant["T430-01"])
    tubs = weigh_all(plant)
    for screen, code in ((one, tubs[1]), (two, plant["m6"]), (two, plant["side"]), (one, plant["m8"]), (two, tubs[0])):
        assert screen.scan(code).outcome == "accepted"
    assert two.press("close").outcome == "refused"
    for screen, code in ((one, plant["side"]), (two, plant["capacity"]), (one, tubs[2])):
        page = screen.scan(code)
        assert page.outcome == "accepted", page.verdict
    assert "Ines Orrell" in page.said("checklist")
    assert "Dov Hartnell" in page.said("checklist")
    assert two.press("close", counted="12").outcome == "accepted"


def test_a_page_of_paper_is_entered_with_its_own_time(plant: Plant, at: Opens) -> None:
    screen = at("check-weight", late="yes")
    screen.scan(plant["W-3"])
    page = screen.fill(shown="10.00")
    assert page.outcome == ""
    assert "When was it done?" in page.said("field-error")
    assert page.form.values["shown"] == "10.00"
    page = screen.fill(shown="10.00", happened="2026-04-30 14:05")
    assert page.outcome == "accepted"
    event = Event.objects.latest("id")
    assert f"{event.happened:%Y-%m-%d}" == "2026-04-30"
    assert event.offset_min == 60  # British summer time, from the IANA time zone database
    assert page.form.values["late"] == "yes"


HOSTILE = {
    "control": "A\x00B\x07\x1b[31m",
    "bidi": "\u202e\u2066GHM\u2069",
    "script": "<script>alert(1)</script>",
    "quotes": "\"'><img src=x onerror=alert(1)>",
    "long": "Z" * 5000,
    "foreign": "00340123456789012343",
    "unicode": "ＡＢＣＤ-ＥＦＧＨ",
    "tokens": "⟦person:P-06⟧ ⟦note:x⟧",
    "format": "{codes[trouble]} %s %(x)s",
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_hostile_codes_get_one_sentence_and_are_kept(plant: Plant, at: Opens, text: str) -> None:
    screen = at("weigh")
    screen.scan(plant["WO-1041"])
    page = screen.scan(text)
    assert (page.status, page.outcome) == (200, "refused")
    assert newest_scan()[0] == "refused"
    assert "<script>alert" not in page.html
    assert "onerror=alert(1)>" not in page.html
    assert "Priya" not in page.html
    assert page.form.values["order"] == plant["WO-1041"]
    assert screen.scan(plant["W-3"]).outcome == ""


FIGURES = {"1,5": "1.5", "-1": "minus", "1e9": "exponent", "NaN": "digits", "": "missing", "9" * 5000: "too long"}


@pytest.mark.parametrize("text", FIGURES, ids=lambda t: t[:6] or "empty")
def test_figures_that_are_none_are_answered_and_stay_in_the_form(plant: Plant, at: Opens, text: str) -> None:
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    page = screen.fill(gross=text, tare="0.5")
    assert page.status == 200
    assert page.outcome in ("refused", "")
    assert FIGURES[text] in page.verdict + page.said("field-error")
    assert page.form.values["gross"] == text
    assert page.form.values["tare"] == "0.5"
    assert page.form.values["box"] == plant["red"]


@pytest.mark.parametrize("slug", sorted(STATIONS))
@pytest.mark.parametrize("text", ["script", "control", "long"])
def test_no_station_fails_on_text_in_all_its_fields(plant: Plant, at: Opens, slug: str, text: str) -> None:
    screen = at(slug)
    form = screen.page.form  # type: ignore[union-attr]
    values = {name: HOSTILE[text] for name in form.boxes if name not in ("photo", "photo_evidence")}
    for press in [("do", "send"), *(b[:2] for b in form.buttons)]:
        page = screen.send(form, {**values, "code": ""} if "code" in form.boxes else values, press)
        assert page.status == 200
        assert "<script>alert" not in page.html


def test_a_get_prefills_nothing_but_what_the_form_could_hold(plant: Plant, at: Opens) -> None:
    page = at("weigh", order=plant["WO-1041"], scan_id="x", tell="fact", csrfmiddlewaretoken="y").page
    assert page is not None
    assert page.form.values["order"] == plant["WO-1041"]
    assert page.form.values["scan_id"] != "x"


def test_a_decision_is_never_offered_as_a_fact(plant: Plant, at: Opens) -> None:
    """A release that is refused has not happened: no button records it, and no forged form does."""
    screen = releasing(at, received(plant))
    booked = Event.objects.latest("id").id
    page = let_go(screen)
    assert page.outcome == "refused"
    assert not page.offers("tell")
    forged = {**page.form.values, "do": "release", "tell": "fact", "rule": "CERTIFICATE-MISSING"}
    screen.client.post("/scan/release/", forged)
    assert Scan.objects.latest("id").mode == "asks"
    assert not Event.objects.filter(kind="released", id__gt=booked).exists()


def test_weighing_goes_on_with_the_layer_that_is_due(plant: Plant, at: Opens) -> None:
    """Somebody leaves and comes back: the page asks for what is not weighed yet, and says when nothing is."""
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0])
    page = begun(at, plant).page
    assert page is not None
    assert "foam" in page.next
    plant.shift.weigh("WO-1041", "foam", plant["foam"], plant["drops"][0])
    plant.shift.weigh("WO-1041", "inner", plant["natural"], plant["drops"][1])
    page = begun(at, plant).page
    assert page is not None
    assert page.next.startswith("All layers stand weighed: load the mould")


def test_the_mould_scanned_when_all_is_weighed_is_loaded_at_its_station(plant: Plant, at: Opens) -> None:
    screen = begun(at, plant)
    assert screen.scan(plant["T430-01"]).outcome == "refused"  # nothing is weighed yet
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0])
    plant.shift.weigh("WO-1041", "foam", plant["foam"], plant["drops"][0])
    plant.shift.weigh("WO-1041", "inner", plant["natural"], plant["drops"][1])
    screen = at("weigh")
    scans(screen, plant["WO-1041"], plant["W-3"])
    assert screen.page is not None
    assert screen.page.next == "All layers stand weighed: load the mould"
    answer = screen.client.post("/scan/weigh/", {**screen.page.form.values, "code": plant["T430-01"], "do": "send"})
    page = read(screen.client.get(answer["Location"]))
    assert answer["Location"].startswith("/scan/load/?")
    assert "T430-01" in page.said("station-line")
    assert page.form.values["order"] == plant["WO-1041"]


def test_a_wrong_weight_keeps_the_box_and_the_tub(plant: Plant, at: Opens) -> None:
    screen = begun(at, plant, plant["tubs"][0])
    page = screen.scan(plant["red"])
    assert "Tub" in page.html
    assert screen.fill(gross="10.37").outcome == "refused"
    assert screen.fill(gross="12.20").outcome == "accepted"


def test_another_layer_is_asked_for_as_soon_as_it_is_chosen(plant: Plant, at: Opens) -> None:
    """The box that was scanned for the layer before is in the way: it is asked for anew, not the tub."""
    screen = begun(at, plant)
    assert screen.press("look", layer="foam").next == "Scan the FM-22 box for the foam"
    screen = begun(at, plant, plant["red"])
    page = screen.press("look", layer="foam")
    assert (page.outcome, page.next) == ("refused", "Scan the FM-22 box for the foam")
    screen = begun(at, plant, plant["red"])
    page = screen.scan(plant["drops"][0], layer="foam")
    assert (page.outcome, page.next) == ("refused", "Scan the FM-22 box for the foam")
    screen.scan(plant["foam"])
    assert screen.fill(gross="9.15").outcome == "accepted"
    # With everything filled in, choosing records nothing.
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    count = Event.objects.count()
    screen.press("look", layer="skin", gross="12.20")
    assert Event.objects.count() == count


def test_a_full_tub_of_two_lots_names_both(plant: Plant, at: Opens) -> None:
    plant.shift.weigh("WO-1041", "foam", plant["foam"], plant["drops"][0], gross="5.00", part=True)
    plant.shift.weigh("WO-1041", "foam", plant["foam2"], plant["drops"][0], gross="4.15")
    screen = begun(at, plant)
    screen.fill(layer="foam")
    assert "is full: FM-22 lots F-118 and F-119." in screen.scan(plant["drops"][0]).verdict


def test_more_than_is_in_a_box_says_how_the_rest_is_weighed(plant: Plant, at: Opens) -> None:
    [bag] = plant.shift.stock("VERRIN", "LL-35 red", "V-2305", ("5.00",))
    screen = begun(at, plant, bag, plant["tubs"][0])
    page = screen.fill(gross="12.20")
    assert "type what came from it alone, tick “More comes from another bag”, send, and scan" in page.verdict
    assert screen.fill(gross="5.00", part="yes").outcome == "accepted"
    screen.scan(plant["red"])
    assert screen.fill(gross="7.20", part=None).outcome == "accepted"


def test_a_full_tub_is_refused_at_its_own_scan(plant: Plant, at: Opens) -> None:
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0])
    page = begun(at, plant).scan(plant["tubs"][0], layer="skin")
    assert page.outcome == "refused"
    assert "is full" in page.verdict


def test_no_box_of_a_station_has_a_name_that_the_form_keeps_for_itself() -> None:
    """What is typed there would be read as something else, and lost."""
    named = {name for file in FOLDER.glob("*.py") for name in BOX.findall(file.read_text(encoding="utf-8"))}
    assert len(named) > 20
    assert sorted(named & OWN) == []
