"""The pages of dispersion and of recall size before you start."""

from collections.abc import Callable

import pytest
from django.test import Client

from tests.pages.story import Told
from trace.models import Event


def test_links_down_and_up(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    every = client.get("/dispersion/").content.decode()
    assert "worst recall of one lot" in every and every.count("flow-drawing") == 2
    assert client.get("/dispersion/?first=2026-04-20&last=2026-04-20").status_code == 200
    assert client.get("/dispersion/?first=soon").status_code == 400
    hull = client.get(f"/dispersion/{story.hulls['sled']}/").content.decode()
    assert "Upward dispersion of hull" in hull and "D-77" in hull
    lot = client.get("/dispersion/D-77/").content.decode()
    assert "Downward dispersion of lot" in lot
    assert client.get("/dispersion/T430-01/").status_code == 404
    # One click from the pages of the lot and of the hull.
    assert 'href="/dispersion/' in client.get("/lot/D-77/").content.decode()
    assert f'href="/dispersion/{story.hulls["sled"]}/"' in client.get(f"/hull/{story.hulls['sled']}/").content.decode()


def test_a_plan_is_reckoned_and_nothing_is_recorded(story: Told, signed_in: Callable[[str], Client]) -> None:
    client, boxes, before = signed_in("P-05"), story.plant.boxes, Event.objects.count()
    asked = {"do": "top-up", "source": boxes["inner 2"][0], "into": story.plant.silo, "kg": "20"}
    page = client.get("/plan/", asked).content.decode()
    # The worst is D-77 either way; V-2301 would be done with.
    assert "Run the vessel empty first" in page and "on average" in page
    split = {"do": "split", "source": boxes["inner"][0], "other": boxes["inner 2"][0]}
    asked = {**split, "order1": "WO-1041", "kg1": "20"}
    assert "Whole charges only" in client.get("/plan/", asked).content.decode()
    assert Event.objects.count() == before


@pytest.mark.parametrize(("box", "kg"), [("inner", "900000"), ("inner", "much"), ("inner", "0"), ("red", "10")])
def test_what_is_no_plan_is_said(story: Told, signed_in: Callable[[str], Client], box: str, kg: str) -> None:
    asked = {"do": "top-up", "source": story.plant.boxes[box][0], "into": story.plant.silo, "kg": kg}
    answer = signed_in("P-05").get("/plan/", asked)
    assert answer.status_code == 400 and b"field-error" in answer.content
