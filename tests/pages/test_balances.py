"""The page of a balance: the flow, the figures beside it, and the records that they add up."""

from collections.abc import Callable
from decimal import Decimal

from django.test import Client

from tests.cast import QUALITY
from tests.pages.story import Told
from trace.drawings import Band, flow_drawings
from trace.genealogy.balance.subjects import balance_of
from trace.recording.acts.counting import Count
from trace.sheets.balances.sheet import balance_sheet


def test_a_lot_through_a_silo_to_the_gram(story: Told, signed_in: Callable[[str], Client]) -> None:
    page = signed_in("P-07").get("/balance/D-77/").content.decode()
    assert "Balance of lot" in page and "Nobody has counted what is left" in page
    assert page.count("<svg class=\"drawing flow-drawing") == 2
    # Each record leads to the hull that it went into.
    assert f'href="/hull/{story.hulls["sled"]}/"' in page


def test_from_a_lot_and_a_container_by_one_click(story: Told, signed_in: Callable[[str], Client]) -> None:
    client, box = signed_in("P-07"), story.plant.boxes["red"][0]
    page = client.get(f"/lot/{box}/").content.decode()
    assert "Balance of the lot" in page and f'href="/balance/{box}/"' in page
    assert client.get(f"/balance/{box}/").status_code == 200
    assert client.get(f"/balance/{story.hulls['sled']}/").status_code == 404


def test_a_works_order_and_plant_days_by_material(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-09")
    page = client.get("/balance/WO-1041/").content.decode()
    assert "Balance of works order" in page and "weighed for it" in page and "LL-35 red: 100.00 %" in page
    assert 'href="/balance/WO-1041/"' in client.get("/unit/WO-1041/").content.decode()
    page = client.get("/balance/?first=2026-01-01").content.decode()
    assert "Balance of plant days" in page and "in stock at the end" in page
    assert client.get("/balance/?first=soon").status_code == 400


def test_what_a_silo_holds_on_both_its_pages(story: Told, signed_in: Callable[[str], Client]) -> None:
    client, silo = signed_in("P-07"), story.plant.silo
    for address in (f"/lot/{silo}/", f"/balance/{silo}/"):
        page = client.get(address).content.decode()
        assert "What it holds now" in page and "first in, first out" in page and "138.94" in page
    assert "What it holds now" not in client.get("/lot/D-77/").content.decode()


def test_what_is_missing_beyond_weighing_is_warned_of(story: Told) -> None:
    box = story.plant.boxes["red"][0]
    left = balance_of(box).book.left or 0
    kg = Decimal(left - 40_000_000) / 1_000_000
    story.plant.scan(Count(box=box, amount=f"{kg:.2f}", again=f"{kg:.2f}", reason="weighed"), person=QUALITY)
    sheet = balance_sheet(balance_of(box))
    assert sheet.off
    assert sheet.missing.startswith("40.00")
    assert "does not explain it" in sheet.verdict
    assert [s.count for s in sheet.sources] and sheet.limit


def test_streams_are_as_wide_as_their_amounts() -> None:
    pair = flow_drawings(
        [Band("received", 100.0, "100 kg")],
        [Band("in hulls", 75.0, "75 kg"), Band("unexplained", 25.0, "25 kg", missing=True)],
        title="V-1", total="100 kg",
    )  # fmt: skip
    widths = [float(stream.d.split("v")[1].split("C")[0]) for stream in pair.wide.streams]
    assert widths[0] == 260.0 and widths[1:] == [195.0, 65.0]
    assert [stream.kind for stream in pair.wide.streams] == ["band", "band", "band-missing"]
    assert pair.wide.description == "V-1. received: 100 kg. in hulls: 75 kg; unexplained: 25 kg."
