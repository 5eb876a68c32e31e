"""The oven's page where an arm carries several moulds, or a stage is seen otherwise than the recipe has it."""

import json

import pytest

from tests.scan.browser import Screen
from tests.scan.cast import Plant, hull, load
from tests.scan.conftest import Opens
from tests.scan.rules.cases import newest_scan, scans
from tests.scan.rules.finishing import ALL
from trace.models import Event, EventResource, Gap, Hold, Reading, UnitState
from trace.recording.acts.cook import CookStage, EndCook
from trace.recording.acts.oven import StartCook

STAGES = ("heat", "drop foam", "drop inner", "out")


def pair(plant: Plant, at: Opens, *loggers: str) -> Screen:
    """Two kayaks closed on one arm, each with a logger of its own."""
    load(plant, 0, "T430-01", "S1")
    load(plant, 1, "T430-02", "S1")
    screen = at("oven")
    scans(screen, plant["S1"], plant["T430-01"], plant["T430-02"], plant["OVEN-2"], *(plant[key] for key in loggers))
    return screen


def test_an_arm_takes_every_mould_s_own_logger_and_says_which_is_wanted(plant: Plant, at: Opens) -> None:
    screen = pair(plant, at, "LG-2")
    assert "Scan logger LG-1" in screen.page.next  # type: ignore[union-attr]
    said = screen.page.said("main")  # type: ignore[union-attr]
    assert "Logger LG-1 T430-01" in said
    assert "Logger LG-2 T430-02" in said
    page = screen.scan(plant["LG-1"])
    assert "Scan logger" not in page.next
    assert screen.press("start").outcome == "accepted"
    assert EventResource.objects.filter(role="logger").count() == 2


def said(kind: str) -> list[dict[str, object]]:
    """What the events of a kind say, oldest first."""
    return [json.loads(e.body)["says"] for e in Event.objects.filter(kind=kind).order_by("id")]


def test_each_logger_of_an_arm_has_its_own_peak_log_and_temperature_at_demould(plant: Plant, at: Opens) -> None:
    screen = pair(plant, at, "LG-1", "LG-2")
    screen.press("start")
    for stage in STAGES:
        screen.press(f"stage {stage}")
    logs = {"log_moulds0": "attached", "log_moulds1": "missing"}
    page = screen.press("end", temperature_moulds0="208", temperature_moulds1="231", **logs)
    assert page.outcome == "flagged"
    assert [(s["piat"], s["log"]) for s in said("cook_ended")] == [("208", "attached"), ("231", "missing")]
    assert "Air inside T430-02" in page.said("label")
    screen.press("cooled", temperature_moulds1="45")
    assert [s["demould_c"] for s in said("cooled")] == ["", "45"]
    assert Reading.objects.filter(quantity="peak internal air").count() == 2


def test_a_mould_that_came_out_before_leaves_only_the_other_s_fields(plant: Plant, at: Opens) -> None:
    screen = pair(plant, at, "LG-1", "LG-2")
    form = screen.press("start").form
    assert {"temperature_moulds0", "temperature_moulds1"} <= form.boxes
    plant.shift.scan(EndCook(mould="T430-01", piat="208", log="attached", stages=STAGES))
    # A form that is older than that still names each mould's own figure.
    told = {"temperature_moulds0": "199", "temperature_moulds1": "211", "log_moulds1": "missing"}
    page = screen.send(form, told, ("do", "end"))
    assert [s["piat"] for s in said("cook_ended")] == ["208", "211"]
    assert {"temperature_moulds0", "temperature_moulds1"} <= page.form.boxes


def in_oven(plant: Plant, at: Opens, *stages: str) -> Screen:
    load(plant)
    plant.shift.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",), loggers=("LG-1",)))
    for stage in stages:
        plant.shift.scan(CookStage(mould="T430-01", stage=stage))
    screen = at("oven")
    scans(screen, plant["S1"], plant["T430-01"], plant["OVEN-2"])
    return screen


def test_a_drop_not_seen_is_the_next_one_and_does_not_count_as_seen(plant: Plant, at: Opens) -> None:
    screen = in_oven(plant, at, "heat", "drop foam")
    page = screen.press("not seen")
    assert (page.outcome, said("cook_stage")[-1]["stage"]) == ("flagged", "drop inner")
    assert "Stage drop inner not seen" in page.said("main")
    screen.press("stage out")
    screen.press("end", temperature="208", log="attached")
    assert newest_scan() == ("flagged", "STAGE-SKIPPED")
    assert said("cook_ended")[-1]["stages"] == ["heat", "drop foam", "out"]


def test_every_rule_that_speaks_of_a_cook_is_said(plant: Plant, at: Opens) -> None:
    """Stages in the wrong order, one never pressed, no log: the first rule's sentence, and the others under it."""
    screen = in_oven(plant, at)
    for stage, said_of_it in (
        ("drop inner", "drop inner is recorded before heat and drop foam"),
        ("heat", "drop inner was recorded before heat"),
        ("heat", "heat was recorded for this cook before"), ("drop foam", "drop inner was recorded before drop foam"),
    ):  # fmt: skip
        page = screen.press(f"stage {stage}")
        assert (page.outcome, said_of_it in page.verdict) == ("warned", True)
    page = screen.press("end", temperature="208", log="missing")
    assert newest_scan() == ("flagged", "COOK-NO-LOG")
    assert page.said("verdict-also") == "Also: Not seen: out. Also: drop inner was recorded before heat."


def test_a_drop_that_opened_late_counts_by_the_last_record(plant: Plant, at: Opens) -> None:
    screen = in_oven(plant, at, "heat")
    screen.press("not seen", drop="drop foam")
    for stage in STAGES[1:]:
        screen.press(f"stage {stage}")
    assert screen.press("end", temperature="208", log="attached").outcome == "accepted"


@pytest.mark.parametrize("typed", ["-20", "501"])
def test_what_no_oven_can_show_is_refused_and_said(plant: Plant, at: Opens, typed: str) -> None:
    load(plant)
    screen = at("oven")
    scans(screen, plant["S1"], plant["T430-01"], plant["OVEN-2"], plant["LG-1"])
    page = screen.press("start", set_c=typed)
    assert (page.outcome, newest_scan()[1]) == ("refused", "AMOUNT-UNREADABLE")
    assert f"{typed} °C for oven temperature is none that an oven or a mould shows" in page.verdict
    assert screen.press("start", set_c="290").outcome == "accepted"
    assert screen.press("stage heat", temperature=typed).outcome == "refused"
    for stage in STAGES:
        screen.press(f"stage {stage}", temperature="160")
    assert screen.press("end", temperature=typed, log="attached").outcome == "refused"
    screen.press("end", temperature="208", log="attached")
    assert screen.press("cooled", temperature=typed).outcome == "refused"
    assert screen.press("cooled", temperature="45").outcome == "accepted"


def test_what_was_let_go_hot_is_held_once_it_is_told(plant: Plant, at: Opens) -> None:
    screen = in_oven(plant, at, *STAGES)
    screen.press("end", temperature="208", log="attached")
    holds = Hold.objects.count()
    assert screen.press("cooled", temperature="75").outcome == "refused"
    page = screen.fact()
    assert (page.outcome, "rule DEMOULD-HOT" in page.verdict, Hold.objects.count()) == ("flagged", True, holds + 1)


def test_every_mould_gathered_can_be_dropped_from_the_list_and_that_is_all(plant: Plant, at: Opens) -> None:
    screen = pair(plant, at, "LG-1", "LG-2")
    assert "Off the list: T430-01" in [b[2] for b in screen.page.form.buttons]  # type: ignore[union-attr]
    screen.press("start")
    page = screen.press(f"off {plant['T430-01']}")
    assert page.said("said") == "T430-01 is off this list; nothing was recorded."
    assert "T430-01" not in page.said("detail")
    words = [b[2] for b in page.form.buttons]
    assert {"Stage: out", "End of the cook: out of the oven"} <= set(words)
    assert "Off the list: T430-01" not in words


def test_a_stop_without_its_length_is_a_gap_until_it_is_said(plant: Plant, at: Opens) -> None:
    screen = in_oven(plant, at, "heat")
    page = screen.press("stage stopped")
    assert (page.outcome, "its length is not said" in page.verdict) == ("flagged", True)
    assert [(gap.what, bool(gap.which)) for gap in Gap.objects.all()] == [("stop length", True)]
    assert screen.press("stage stopped", minutes="-3").outcome == "refused"
    holds = Hold.objects.count()
    page = screen.press("stage stopped", minutes="12")
    assert page.outcome == "accepted"
    assert (Gap.objects.count(), Hold.objects.count()) == (0, holds)
    assert Reading.objects.get(quantity="stopped").unit is not None
    # Another stop, its length known at once; and one while it cools.
    assert screen.press("stage stopped", minutes="4").outcome == "flagged"
    for stage in STAGES[1:]:
        screen.press(f"stage {stage}")
    screen.press("end", temperature="208", log="attached")
    page = screen.press("stage stopped", minutes="2")
    assert (page.outcome, "The cycle was stopped: 2 minutes" in page.verdict) == ("flagged", True)
    assert Gap.objects.count() == 0


def test_a_hull_cooked_again_cools_before_it_is_inspected(plant: Plant, at: Opens) -> None:
    serial = hull(plant)
    screen = at("oven")
    scans(screen, plant["S1"], plant["OVEN-2"], serial)
    screen.press("start")
    for stage in STAGES:
        screen.press(f"stage {stage}")
    page = screen.press("end", temperature="208", log="attached")
    assert (page.outcome, page.next) == ("accepted", "Read the air inside when rotation has stopped")
    inspect = at("inspect")
    inspect.scan(serial)
    assert inspect.press("pass", **ALL).outcome == "refused"
    assert newest_scan()[1] == "INSPECT-GONE"
    assert screen.press("cooled", temperature="45").outcome == "accepted"
    assert inspect.press("pass", **ALL).outcome == "accepted"
    # The end of the cook, told once more, moves nothing back.
    plant.shift.scan(EndCook(mould=serial, piat="208", log="attached", stages=STAGES), mode="tells")
    assert not UnitState.objects.filter(status="cooling again").exists()
