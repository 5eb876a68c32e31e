"""Unit pages draw their thing, and the table beside it says the same."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from tests.pages.story import Told
from trace.drawings.sketch import Cell, Check, Until, checks_over_time, rows_of, until_days
from trace.models import Unit
from trace.recording.acts.weighing import CheckWeight


@pytest.fixture
def desk(signed_in: Callable[[str], Client]) -> Client:
    return signed_in("P-06")


@pytest.fixture
def shown(desk: Client) -> Callable[[str], Any]:
    def show(code: str) -> Any:
        answer = desk.get(f"/unit/{code}/")
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


def test_many_things_stay_within_the_sheet() -> None:
    for n in (0, 1, 7, 200):
        pair = rows_of("pack", [Cell(f"P-{k}") for k in range(n)], "lorry", "Lorry")
        for sketch in (pair.wide, pair.narrow):
            assert all(0 < w.x < sketch.width and 0 < w.y < sketch.height for w in sketch.words)
            assert len(sketch.parts) == min(n, 60)
