"""The page of a balance: the flow, the figures beside it, and the records that they add up."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.test import Client
from django.utils import timezone

from tests.cast import QUALITY
from tests.pages.story import Told
from trace.drawings import Band, flow_drawings
from trace.genealogy.balance.days import balances_of_days
from trace.genealogy.balance.documents import as_document
from trace.genealogy.balance.orders import balances_of_order
from trace.genealogy.balance.subjects import balance_of
from trace.readmodels.plantdata import newest
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
    # To the place to which weighing leaves it known; other systems read all digits.
    assert (sheet.missing, sheet.limit) == ("40 kg", "12 kg")
    assert "40 kg are missing." in sheet.verdict and "± 12 kg" in sheet.verdict
    told = as_document(balance_of(box))
    assert told["unexplained"]["best"] == "40.000" and len(told["uncertainty"]["expanded"]) > len("12.000")
    assert "does not explain it" in sheet.verdict
    assert [s.count for s in sheet.sources] and sheet.limit


@pytest.mark.outside("identity", "one count in one box: the box, its lot’s box and the plant’s days are off by as much")
@pytest.mark.parametrize("more", [-40, 40])
def test_a_span_of_days_is_off_by_what_its_box_is_and_too_much_is_as_loud(story: Told, more: int) -> None:
    box = story.plant.boxes["red"][0]
    kg = Decimal((balance_of(box).book.left or 0) + more * 1_000_000) / 1_000_000
    story.plant.scan(Count(box=box, amount=f"{kg:.2f}", again=f"{kg:.2f}", reason="weighed"), person=QUALITY)
    of_box = balance_of(box)
    [of_days] = [one for one in balances_of_days(None, None) if one.material == of_box.material]
    assert of_days.unexplained.best == of_box.unexplained.best
    assert of_days.uncertainty == of_box.uncertainty and of_days.uncertainty.sources
    assert of_days.explained is of_box.explained is False
    sheets = [balance_sheet(one) for one in (of_days, of_box)]
    assert [sheet.off for sheet in sheets] == [True, True]
    assert all("does not explain it" in sheet.verdict for sheet in sheets)
    # On days after the count nothing is found, and nothing can be said to be missing.
    tomorrow = timezone.localtime(of_days.as_known_on).date() + timedelta(days=1)
    [later] = [one for one in balances_of_days(tomorrow, None) if one.material == of_box.material]
    assert later.unexplained.best == 0 and not later.uncertainty.sources


@pytest.mark.outside("published", "JCGM 100:2008, 4.3.7, 5.2.2 and F.2.2.1, from memory")
def test_what_was_weighed_for_an_order_is_off_by_the_sum_of_its_readings(story: Told) -> None:
    """Readings of one scale: each step d gives d²/12, its limit a is one error in all of them: (n·a)²/3."""
    [skin] = [one for one in balances_of_order("WO-1041") if one.material == "LL-35 red"]
    steps = {s.of: s for s in skin.uncertainty.sources if s.what == "step of the scale"}
    limits = {s.of: s for s in skin.uncertainty.sources if s.what == "limits of the scale"}
    assert steps.keys() == limits.keys() and steps
    weighed = sum(len(part.records) for figure in skin.came for part in figure.parts)
    assert sum(s.count for s in limits.values()) == weighed - skin.uncertainty.unmeasured
    for scale, one in limits.items():
        body = newest().body("instrument", scale)
        d, a = (Fraction(body[name]) * 1_000_000 for name in ("resolution", "check_tolerance"))
        assert (steps[scale].variance, one.variance) == (steps[scale].count * d**2 / 12, (one.count * a) ** 2 / 3)
    assert "may make their sum be off by ±" in balance_sheet(skin).verdict


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
