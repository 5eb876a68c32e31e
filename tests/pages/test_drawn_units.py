"""Unit pages draw their thing, and the table beside it says the same."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from tests.pages.story import Told
from trace.drawings.sketch import Cell, Check, Until, checks_over_time, rows_of, until_days
from trace.drawings.strips import Marked, Strip, strips, uses_by_week
from trace.models import Edge, Event, Unit
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.oven import StartCook
from trace.recording.acts.packing import Dispatch
from trace.recording.acts.returns import Return
from trace.recording.acts.weighing import CheckWeight


@pytest.fixture
def desk(signed_in: Callable[[str], Client]) -> Client:
    return signed_in("P-06")


@pytest.fixture
def shown(desk: Client) -> Callable[[str], Any]:
    def show(code: str, **asked: str) -> Any:
        answer = desk.get(f"/unit/{code}/", asked)
        assert answer.status_code == 200
        return answer.context["unit"]

    return show


def unit_of(kind: str) -> str:
    return str(Unit.objects.filter(kind=kind).order_by("-id")[0].uid)


def test_a_charge_is_its_tub_with_its_lots(story: Told, shown: Callable[[str], Any]) -> None:
    drawn = shown(unit_of("charge")).drawn
    assert drawn.container is not None and drawn.rows
    assert {row[0][0] for row in drawn.rows} <= {w.text for w in drawn.container.wide.words}
    assert all(row[1][0] in ("certain", "may", "cannot") for row in drawn.rows)


def test_a_load_and_a_moulding_are_drawn_as_the_hull_that_comes_of_them(
    story: Told, shown: Callable[[str], Any], desk: Client
) -> None:
    hull = desk.get(f"/hull/{story.hulls['sled 2']}/").context["hull"]
    for kind in ("load", "moulding"):
        drawn = shown(unit_of(kind)).drawn
        assert drawn.plan.wide.outline == hull.plan.wide.outline
        assert {m.name: m.standing for m in drawn.plan.wide.marks} == {m.name: m.standing for m in hull.plan.wide.marks}
        assert drawn.wall.wide.description == hull.wall.wide.description


def test_a_pack_and_a_consignment_show_what_is_in_them(story: Told, shown: Callable[[str], Any]) -> None:
    words = {w.text for w in shown(story.packs["sleds"]).drawn.sketch.wide.words}
    assert {story.hulls["sled"], story.hulls["sled 2"]} <= words
    assert shown(unit_of("consignment")).drawn.sketch.wide.parts


def test_a_mould_is_its_plan_and_an_arm_and_an_oven_what_they_carry(story: Told, shown: Callable[[str], Any]) -> None:
    drawn = shown("T430-01").drawn
    assert {row[0][0] for row in drawn.rows} >= {mark.name for mark in drawn.plan.wide.marks if mark.name}
    assert "T430-01" in {row[1][0] for row in shown("S1").drawn.rows}
    assert "S1" in {row[0][0] for row in shown("OVEN-2").drawn.rows}


def test_an_arm_and_an_oven_are_drawn_as_they_were_on_a_past_day(
    story: Told, shown: Callable[..., Any], desk: Client
) -> None:
    begun = Event.objects.filter(kind=StartCook.KIND).order_by("id")[0].recorded
    before, during = (shown("S1", as_known_on=at.isoformat()).drawn for at in (begun - timedelta(seconds=1), begun))
    for drawn, does in ((before, "closed"), (during, "in oven")):
        assert {row[1][0]: row[2][0] for row in drawn.rows}["T430-01"] == does
        assert (drawn.title, drawn.head[2]) == ("What it carried", "Then")
    now = shown("S1").drawn
    assert {row[1][0]: row[2][0] for row in now.rows}["T430-01"] == "fits it"
    assert "S1" in {row[0][0] for row in shown("OVEN-2", as_known_on=begun.isoformat()).drawn.rows}
    # Before there was any plant data there is nothing to draw, and no page.
    assert desk.get("/unit/S1/?as_known_on=2020-01-01").status_code == 404


def numbers(drawn: Any) -> dict[str, str]:
    return {row[0][0]: row[1][0] for row in drawn.rows}


def test_a_works_order_is_what_is_ordered_made_packed_and_under_way(story: Told, shown: Callable[..., Any]) -> None:
    drawn = shown("WO-1042").drawn
    told = numbers(drawn)
    assert (told["made"], told["packed, here"], told["gone"], told["under way"]) == ("2", "2", "0", "0")
    kayaks = numbers(shown("WO-1041").drawn)
    assert (kayaks["made"], kayaks["gone"], kayaks["packed, here"], kayaks["not packed"]) == ("6", "1", "0", "5")
    # Every piece is one mark on one axis: what is under way stands after what is made.
    assert [part.kind for part in drawn.sketch.wide.parts].count("bar-certain") == 2 + 2
    assert drawn.sketch.wide.description.startswith("Ordered, made, packed, under way: ordered ")
    story.plant.scan(ReadyMould(mould="T430-01", order="WO-1041", arm="S1"), person="P-02")
    begun = shown("WO-1041").drawn
    assert {row[0][0]: row[2][0] for row in begun.rows}["under way"] == "in T430-01"
    assert numbers(begun)["under way"] == "1"
    # As known before any of it was made: ordered, and nothing more.
    first = Event.objects.filter(kind=ReadyMould.KIND).order_by("id")[0].recorded - timedelta(seconds=1)
    then = numbers(shown("WO-1041", as_known_on=first.isoformat()).drawn)
    assert then == {**kayaks, **dict.fromkeys(("made", "gone", "not packed"), "0")}


def test_a_rack_shows_what_stands_in_it_and_what_is_held_by_word_and_bar(
    story: Told, shown: Callable[..., Any]
) -> None:
    drawn = shown("R4-2").drawn
    named = {row[0][0].partition(",")[0]: row for row in drawn.rows}
    assert named.keys() == {story.hulls["held"], story.hulls["bag change"]}
    assert named[story.hulls["held"]][0][0].endswith("on hold") and named[story.hulls["held"]][2][0] == "Jonty Blewitt"
    assert "on hold" in {w.text for w in drawn.sketch.wide.words}
    on_hold = [row[0][0].endswith("on hold") for row in drawn.rows]
    assert [line.kind for line in drawn.sketch.wide.lines].count("mark-bar") == sum(on_hold) > 0
    [pack] = shown("R5-1").drawn.rows
    assert "2 hulls" in pack[0][0] and pack[0][1].startswith("/unit/")
    # What was there on a past day: the pack that has gone since, and nothing was held yet.
    gone = Event.objects.filter(kind=Dispatch.KIND).order_by("id")[0].recorded - timedelta(seconds=1)
    then = shown("R4-2", as_known_on=gone.isoformat()).drawn
    assert [row[0][0].endswith("1 hull") for row in then.rows] == [True]
    later = shown("R4-2", as_known_on="2026-05-01").drawn
    assert {row[0][0].partition(",")[0] for row in later.rows} == named.keys()
    assert not any("on hold" in row[0][0] for row in later.rows)


def test_a_hull_that_came_back_is_neither_gone_nor_packed(story: Told, shown: Callable[..., Any]) -> None:
    hull = story.hulls["gone"]
    story.plant.scan(Return(hull=hull, place="R4-2", consignee="WHARFE"), person="P-07")
    told = numbers(shown("WO-1041").drawn)
    assert (told["made"], told["gone"], told["packed, here"], told["not packed"]) == ("6", "0", "0", "6")
    assert hull in {row[0][0].partition(",")[0] for row in shown("R4-2").drawn.rows}


def test_a_logger_shows_its_checks_its_calibration_and_what_it_measured(
    story: Told, shown: Callable[..., Any]
) -> None:
    drawn = shown("LG-1").drawn
    told = {row[0][0]: row[1][0] for row in drawn.rows}
    assert told["last check"] == "none is recorded: all that it measured is in doubt"
    assert told["calibration due"]
    assert drawn.sketch.wide.description.startswith("Used, checked, calibrated, by week from ")
    # It lies idle since April: its weeks end with its last.
    assert told["start cook, since 12 Apr 2026"] == "6"
    assert "6 Apr 4, 13 Apr 2;" in drawn.sketch.wide.description
    assert shown("G-2").drawn.rows


def test_a_scale_shows_its_checks_and_one_that_failed_by_word_and_cross(
    story: Told, shown: Callable[[str], Any]
) -> None:
    before = shown("W-3").drawn
    assert {row[2][0] for row in before.rows} == {"passed"}
    story.plant.clock.on(days=1)
    story.plant.scan(CheckWeight(scale="W-3", shown="10.05"), person="P-01", station="check-weight")
    drawn = shown("W-3").drawn
    assert (drawn.rows[0][1][0], drawn.rows[0][2][0]) == ("+0.050 kg", "failed")
    assert "failed" in {w.text for w in drawn.sketch.wide.words}
    assert len(drawn.rows) == len(before.rows) + 1


def test_a_person_shows_until_when_training_holds(story: Told, shown: Callable[[str], Any]) -> None:
    drawn = shown("P-01").drawn
    assert {row[0][0] for row in drawn.rows} == {"weighing", "loading", "oven", "demould", "top-up"}
    assert {row[2][0] for row in drawn.rows} == {"holds"}


def test_what_a_drawing_says_it_says_in_words_too() -> None:
    row = rows_of("hull", [Cell("H-1"), Cell("H-2", "held", "marked"), Cell("free", "", "open")], "pack", "Pack").wide
    assert row.description == "Pack: H-1, H-2 held, free."
    assert [part.kind for part in row.parts] == ["outline", "outline", "layer-missing"]
    assert any(line.kind == "mark-bar" for line in row.lines)
    checks = [Check(date(2026, 6, 1), Decimal("0.00"), True), Check(date(2026, 6, 2), Decimal("-0.05"), False)]
    for tolerance in (Decimal("0.02"), None):
        drawn = checks_over_time(checks, tolerance, "Checks").narrow
        assert drawn.description == "Checks: 1 Jun 2026 +0.00 kg passed, 2 Jun 2026 -0.05 kg failed."
        assert [line.kind for line in drawn.lines].count("mark-bar") == 1
    spans = [Until("oven", date(2026, 7, 1)), Until("weighing", date(2026, 5, 1)), Until("loading", None)]
    until = until_days(spans, date(2026, 6, 1), "Trained").wide
    assert until.description == "Trained: oven: 1 Jul 2026; weighing: ended 1 May 2026; loading: not recorded."
    assert [block.kind for block in until.blocks] == ["bar-certain", "bar-may", "bar-may"]


def test_strips_and_weeks_say_their_numbers_in_words_too() -> None:
    rows = [Strip("ordered", 4, dashed=True), Strip("made", 3), Strip("under way", 1, 3, dashed=True)]
    few, many = strips(rows, "Order"), strips([Strip("ordered", 600, dashed=True), Strip("made", 200)], "Order")
    assert few.wide.description == "Order: ordered 4, made 3, under way 1."
    assert [part.kind for part in few.narrow.parts] == ["bar-may"] * 4 + ["bar-certain"] * 3 + ["bar-may"]
    # What is under way stands on the axis where what is made ends: over the last piece ordered.
    assert few.wide.parts[-1].transform.split()[0] == few.wide.parts[3].transform.split()[0]
    # Too many for one mark each: bars to one scale.
    assert many.wide.parts == () and many.wide.blocks[0].width == pytest.approx(3 * many.wide.blocks[1].width, abs=0.2)
    marks = [Marked(date(2026, 5, 4), "checked"), Marked(date(2026, 5, 20), "calibration due", dashed=True)]
    weeks = uses_by_week([(date(2026, 5, 5), 2), (date(2026, 5, 12), 4)], marks, date(2026, 6, 1), "Used").wide
    assert weeks.description == (
        "Used, by week from 4 May 2, 11 May 4; checked 4 May 2026; calibration due 20 May 2026."
    )
    assert [block.height for block in weeks.blocks] == [42.0, 84.0]
    assert [line.kind for line in weeks.lines].count("leader-may") == 1


def test_many_things_stay_within_the_sheet() -> None:
    for n in (0, 1, 7, 200):
        pair = rows_of("pack", [Cell(f"P-{k}") for k in range(n)], "lorry", "Lorry")
        for sketch in (pair.wide, pair.narrow):
            assert all(0 < w.x < sketch.width and 0 < w.y < sketch.height for w in sketch.words)
            assert len(sketch.parts) == min(n, 60)


def test_a_charge_leads_to_the_hulls_of_which_as_much_was_charged(
    story: Told, shown: Callable[[str], Any], desk: Client
) -> None:
    hull = desk.get(f"/hull/{story.hulls['sled 2']}/").context["hull"]
    skin = hull.layers[0]
    assert skin.cause == f"charged:{skin.name.lower()}={skin.kg - Decimal('0.1')}..{skin.kg + Decimal('0.1')}"
    answer = desk.get("/scope/", {"q": [skin.cause]})
    assert (story.hulls["sled 2"], "certain") in {(row.code, row.verdict) for row in answer.context["page"].rows}
    assert f"q=charged%3A{skin.name.lower()}%3D" in desk.get(f"/hull/{story.hulls['sled 2']}/").content.decode()
    tipped = Edge.objects.filter(role="charge", child__kind="load").order_by("-id")[0]
    unit = shown(str(tipped.parent.uid))
    assert {what: cause for what, _words, cause in unit.facts}["amount"].startswith(f"charged:{tipped.layer}=")
