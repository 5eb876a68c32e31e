"""The loading page: a mould made ready for the wrong order, a load given up, and what its refusals say."""

from tests.scan.browser import Page
from tests.scan.cast import LATER, Plant, load, weigh_all
from tests.scan.conftest import Opens
from tests.scan.rules.cases import newest_scan, scans
from tests.scan.rules.loading import filled, opened
from tests.scan.rules.weighing import define
from trace.models import Discrepancy, MouldState, Unit, UnitState


def statuses(kind: str) -> list[str]:
    units = Unit.objects.filter(kind=kind).values("id")
    return [str(one.status) for one in UnitState.objects.filter(unit__in=units).order_by("unit")]


def stages() -> set[str]:
    return set(MouldState.objects.values_list("stage", flat=True))


def another_order(plant: Plant) -> None:
    define(plant, "works_order", "WO-1050", product="T430", colour="red", quantity=4, purpose="production")


def test_while_nothing_is_in_it_another_order_opens_the_mould_anew(plant: Plant, at: Opens) -> None:
    another_order(plant)
    screen = at("load")
    page = scans(screen, plant["T430-01"], "WO-1050", plant["S1"])
    assert "made ready for WO-1050; scan another order to change that" in page.said("next")
    page = screen.scan(plant["WO-1041"])
    assert (page.outcome, "T430-01 open for WO-1041 on S1" in page.verdict) == ("accepted", True)
    assert statuses("load") == ["given up", "open"]
    assert not Discrepancy.objects.exists()
    # The same once more changes nothing, and says so.
    page = screen.scan(plant["WO-1041"])
    assert "Mould T430-01 is open for WO-1041 on S1 already" in page.said("said")
    assert statuses("load") == ["given up", "open"]
    # Once something is in it, it stays: the next step is said.
    [tub, *_] = weigh_all(plant)
    assert screen.scan(tub).outcome == "accepted"
    page = screen.scan("WO-1050")
    assert (newest_scan(), "give up its load" in page.verdict) == (("refused", "MOULD-HAS-CHARGE"), True)
    assert "Nothing is in it yet" not in page.said("next")
    assert stages() == {"open", "empty"}


def test_another_arm_opens_it_anew_too(plant: Plant, at: Opens) -> None:
    screen = at("load")
    scans(screen, plant["T430-01"], plant["WO-1041"], plant["S1"])
    assert "open for WO-1041 on S2" in screen.scan(plant["S2"]).verdict


def test_an_order_kept_from_before_opens_no_mould_that_is_open_for_another(plant: Plant, at: Opens) -> None:
    another_order(plant)
    screen = at("load")
    scans(screen, plant["T430-02"], "WO-1050", plant["S2"])
    other = at("load")
    other.press("anew")
    scans(other, plant["WO-1041"], plant["S1"])
    page = other.scan(plant["T430-02"])
    assert "made ready for WO-1050" in page.said("next")
    assert statuses("load") == ["open"]


def test_a_load_given_up_says_what_became_of_it(plant: Plant, at: Opens) -> None:
    screen = opened(at, plant)
    page = screen.press("abort")
    assert "nothing was in it; its load is given up and nothing is scrap" in page.verdict
    assert (statuses("load"), Unit.objects.filter(kind="moulding").count()) == (["given up"], 0)
    assert stages() == {"empty"}
    assert not any(MouldState.objects.values_list("shots", flat=True))
    screen = filled(plant, at)
    page = screen.press("abort")
    assert "T430-01 given up; what was in it is scrap" in page.verdict
    assert statuses("moulding") == ["scrapped"]


def test_a_cook_is_given_up_only_once_it_has_begun(plant: Plant, at: Opens) -> None:
    load(plant)
    screen = at("oven")
    page = scans(screen, plant["S1"], plant["T430-01"], plant["OVEN-2"], plant["LG-1"])
    assert ("do", "abort") not in [b[:2] for b in page.form.buttons]
    screen.press("start")
    assert "what was in it is scrap" in screen.press("abort").verdict


def refused(page: Page) -> str:
    assert page.outcome == "refused", page.verdict
    return page.verdict


def test_refusals_say_what_is_so(plant: Plant, at: Opens) -> None:
    screen = opened(at, plant)
    [rescue] = plant.shift.stock("PELLAM", "RESCUE A", "G-90", ("20",), expires=LATER)
    said = refused(screen.scan(rescue))
    assert "Artwork RESCUE is not for this mould. The order takes CAPACITY or TAMSIN-SIDE there." in said
    screen.scan(plant["capacity"])
    said = refused(screen.scan(plant["capacity"]))
    assert "Zone CAPACITY has its graphic already" in said
    [tub, *_] = weigh_all(plant)
    screen.scan(tub)
    assert "was tipped into mould T430-01 already" in refused(screen.scan(tub))
    assert "Missing: foam, inner. The mould would be closed without them." in _flat(refused(screen.press("close")))
    said = refused(screen.scan(plant["SO-220"]))
    assert "Here a mould, tub, drop box, container, graphic pack, works order or arm is scanned." in said
    assert "Scan the right one." in said


def _flat(text: str) -> str:
    return " ".join(text.split())


def test_a_loaded_mould_s_next_step_is_said(plant: Plant, at: Opens) -> None:
    load(plant)
    screen = at("load")
    said = refused(scans(screen, plant["T430-01"], plant["WO-1041"], plant["S1"]))
    assert "Mould T430-01 is loaded for WO-1041 already. It is closed. It goes to the oven next" in _flat(said)
    oven = at("oven")
    scans(oven, plant["S2"], plant["T430-02"], plant["OVEN-2"])
    assert "T430-02: nothing is in it, take it off the list." in refused(oven.press("start"))


def test_the_count_of_inserts_is_not_if_needed_and_does_not_take_the_focus(plant: Plant, at: Opens) -> None:
    page = opened(at, plant).page
    assert page is not None
    counted = page.html.split('for="f-counted"')[1].split("</div>")[0]
    assert "if needed" not in counted
    assert 'id="code"' in next(part for part in page.html.split("<input") if "autofocus" in part)


def test_sent_without_a_button_the_page_asks_for_one(plant: Plant, at: Opens) -> None:
    page = opened(at, plant).fill(counted="12")
    assert page.said("said") == "Nothing was recorded: press the button of what was done."


def test_the_arm_of_an_earlier_cook_is_not_shown_where_the_arm_is_asked_for(plant: Plant, at: Opens) -> None:
    opened(at, plant).press("abort")
    page = scans(at("load"), plant["T430-01"], plant["WO-1041"])
    assert (page.next, page.said("station-place")) == ("Scan the arm or carriage", "T430-01")
