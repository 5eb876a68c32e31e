"""A hull comes back through the pages: found by its plate, taken back for its complaint, listed to be inspected."""

from django.test import Client

from tests.scan.cast import Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import newest_scan
from tests.scan.rules.returns import gone
from trace.models import Event, PlaceNow, SerialState, UnitState
from trace.recording.acts.complaints import TakeComplaint


def hull_page(screen_client: Client, serial: str) -> str:
    return screen_client.get(f"/hull/{serial}/").content.decode()


def test_a_hull_comes_back_for_its_complaint(plant: Plant, at: Opens) -> None:
    serial = gone(plant, 1)
    plant.shift.scan(TakeComplaint(hull=serial, symptom="warp"), person="P-03")
    screen = at("returns", "P-06")
    assert f"/scan/returns/?hull={serial}" in hull_page(screen.client, serial)
    screen.open("returns", hull=serial)
    page = screen.scan(plant["R4-2"])
    assert 'name="complaint"' in page.html and "open: 1, warped" in page.html
    page = screen.press("back", consignee="WHARFE", sender="the shop’s van")
    assert (page.outcome, newest_scan()) == ("flagged", ("flagged", "RETURN-TO-LOOK-AT"))
    says = Event.objects.get(kind="returned").body
    assert '"complaint":1' in says and '"consignee":"WHARFE"' in says
    hull = SerialState.objects.get(text=serial).hull
    assert hull is not None
    assert (UnitState.objects.get(unit=hull).status, PlaceNow.objects.get(unit=hull).place) == ("returned", "R4-2")
    sheet = hull_page(screen.client, serial)
    assert "Came back from Wharfe &amp; Weir Paddlesport, complaint 1, put in" in sheet
    assert "/scan/returns/?hull=" not in sheet and "dispatched on" not in sheet
    listed = screen.client.get("/open/inspections/").content.decode()
    assert serial in listed and "came back: to inspect" in listed
