"""A power cut is recorded once: every open cook has its start and length, and what is in it is held."""

from __future__ import annotations

from tests.cast import rows_of
from tests.scan.cast import Plant, load
from tests.scan.conftest import Opens
from tests.scan.rules.oven import in_the_oven
from trace.recording.acts.oven import StartCook

STOPS = """SELECT r.key, d.value::int FROM reading d JOIN unit u ON u.id = d.unit
  JOIN mould_state m ON m.load = u.id JOIN resource r ON r.id = m.mould WHERE d.quantity = 'stopped' ORDER BY r.key"""
HELD = """SELECT r.key FROM hold h JOIN mould_state m ON m.load = h.unit JOIN resource r ON r.id = m.mould
  WHERE h.rule = 'COOK-STOPPED' ORDER BY r.key"""


def two_cook(plant: Plant) -> None:
    in_the_oven(plant)
    load(plant, 1, "T430-02", "S2")
    plant.shift.scan(StartCook(oven="OVEN-2", arm="S2", moulds=("T430-02",)))


def test_one_entry_marks_every_open_cook_of_the_plant(plant: Plant, at: Opens) -> None:
    two_cook(plant)
    screen = at("stop")
    words = screen.page.said("main")  # type: ignore[union-attr]
    assert "T430-01" in words and "T430-02" in words
    page = screen.press("stopped", minutes="25")
    assert page.outcome == "flagged", page.verdict
    assert rows_of(STOPS) == [("T430-01", 25), ("T430-02", 25)]
    assert [key for (key,) in rows_of(HELD)] == ["T430-01", "T430-02"]


def test_the_stop_of_an_arm_is_of_what_is_on_it(plant: Plant, at: Opens) -> None:
    two_cook(plant)
    screen = at("stop")
    screen.scan(plant["S2"])
    screen.press("stopped", minutes="10")
    assert rows_of(STOPS) == [("T430-02", 10)]


def test_its_length_is_missing_until_it_is_said(plant: Plant, at: Opens) -> None:
    in_the_oven(plant)
    screen = at("stop")
    screen.scan(plant["OVEN-2"])
    screen.press("stopped")
    gaps = "SELECT count(*) FROM gap WHERE what = 'stop length'"
    assert rows_of(gaps) == [(1,)]
    screen.scan(plant["OVEN-2"])
    screen.press("stopped", minutes="40")
    assert rows_of(gaps) == [(0,)]
    assert len(rows_of(HELD)) == 1


def test_where_nothing_cooks_nothing_is_recorded(plant: Plant, at: Opens) -> None:
    screen = at("stop")
    assert "Nothing cooks or cools" in screen.page.next  # type: ignore[union-attr]
    assert screen.send(screen.page.form, {}, ("do", "stopped")).outcome == ""  # type: ignore[union-attr]
