"""What a station says before anything is scanned: the hulls that should stand in a rack, the orders that are open."""

import pytest

from tests.scan.cast import QUALITY, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.leaving import old, packs
from tests.scan.rules.weighing import define
from trace.recording.acts.finishing import Scrap
from trace.recording.acts.holds import Hold
from trace.recording.acts.packing import Rack
from trace.scan.stations import gate
from trace.scan.stations import rack as racking


def racked(plant: Plant, *numbers: int, place: str = "R4-2") -> list[str]:
    serials = [old(plant, n) for n in numbers]
    plant.shift.scan(Rack(place=place, units=tuple(serials)), person="P-07")
    return serials


def test_a_rack_says_what_should_stand_in_it_before_anything_is_scanned(plant: Plant, at: Opens) -> None:
    first, second, third = racked(plant, 1, 2, 3)
    elsewhere = racked(plant, 4, place="R5-1")[0]
    packs(plant, second)
    plant.shift.scan(Rack(place="R4-2", units=(second,)), person="P-07")
    plant.shift.scan(Hold(code=third, reason="query"), person=QUALITY)
    screen = at("rack")
    assert "By the records" not in screen.page.said("checklist")  # type: ignore[union-attr]
    said = screen.scan(plant["R4-2"]).said("checklist")
    assert "By the records 3 hulls stand here" in said
    assert f"{first} T430 red · made before records" in said
    assert f"{second} T430 red · packed" in said
    assert f"{third} T430 red · on hold, made before records" in said
    assert elsewhere not in said
    said = screen.scan(elsewhere).said("checklist")
    assert "By the records 4 hulls stand here" in said
    assert elsewhere in said
    assert "By the records no hull stands here" in screen.scan(plant["R5-1"]).said("checklist")


def test_what_was_scrapped_stands_nowhere(plant: Plant, at: Opens) -> None:
    first, second = racked(plant, 1, 2)
    plant.shift.scan(Scrap(unit=first, plate_destroyed=True, reason="crack"), person=QUALITY)
    said = at("rack").scan(plant["R4-2"]).said("checklist")
    assert "By the records 1 hull stands here" in said
    assert second in said
    assert first not in said


def test_a_long_list_is_turned_by_a_press_that_records_nothing(
    plant: Plant, at: Opens, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(racking, "MOST_ROWS", 2)
    serials = racked(plant, 1, 2, 3)
    screen = at("rack")
    page = screen.scan(plant["R4-2"])
    assert "1 to 2 of 3 are shown" in page.said("checklist")
    page = screen.press("more 2")
    assert (serials[2] in page.said("checklist"), serials[0] in page.said("checklist")) == (True, False)
    assert page.outcome == ""
    assert "Nothing was recorded" not in page.said("said")
    page = screen.press("more 0")
    assert serials[0] in page.said("checklist")


def lines(*wanted: tuple[str, str, int]) -> list[dict[str, object]]:
    return [{"product": product, "colour": colour, "quantity": n} for product, colour, n in wanted]


def test_the_pack_station_lists_the_open_orders_and_a_press_is_a_scan(plant: Plant, at: Opens) -> None:
    define(plant, "sales_order", "SO-220", lines=lines(("T430", "red", 2)))
    define(plant, "sales_order", "SO-221", lines=lines(("T430", "red", 1), ("T430", "red", 2), ("B60", "red", 1)))
    first, second, third, held = (old(plant, n) for n in (1, 2, 3, 4))
    plant.shift.scan(Hold(code=held, reason="query"), person=QUALITY)
    packs(plant, first)
    screen = at("pack")
    page = screen.page
    assert page is not None
    said = page.said("checklist")
    assert "SO-220 WHARFE T430 red: 1 owed, 2 ready" in said
    assert "SO-221 LOCKGATE T430 red: 3 owed, 2 ready; B60 red: 1 owed, 0 ready" in said
    assert said.index("SO-220") < said.index("SO-221") < said.index("SO-222")
    page = screen.press("scan SO-220")
    assert page.said("station-place") == "SO-220"
    assert "Nothing was recorded" not in page.said("said")
    assert "T430 red: 1 of 2 packed" in page.said("asked-detail")
    assert screen.scan(second).outcome == "accepted"
    assert "SO-220" not in screen.open("pack", order="").said("checklist")  # all of it is packed
    screen.press("scan SO-221")
    assert screen.scan(third).outcome == "accepted"


def test_where_no_order_is_open_the_pack_station_says_so(plant: Plant, at: Opens) -> None:
    for key in ("SO-220", "SO-221", "SO-222"):
        define(plant, "sales_order", key, ended=True)
    page = at("pack").page
    assert page is not None
    assert page.said("checklist") == "No order is open."


def test_many_open_orders_are_turned_by_a_press(plant: Plant, at: Opens, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gate, "MOST_ORDERS", 2)
    screen = at("pack")
    assert "SO-222" not in screen.page.said("checklist")  # type: ignore[union-attr]
    page = screen.press("more 2")
    assert ("SO-222" in page.said("checklist"), "SO-220" in page.said("checklist")) == (True, False)
