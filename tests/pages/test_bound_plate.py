"""A plate bound by its number is part of its hull: the trace finds the hull by it, the batch's events touch it."""

from tests.pages.story import Told
from trace.genealogy.find import find_unit
from trace.models import Edge, EventUnit, Serial


def test_the_plate_goes_into_the_hull(story: Told) -> None:
    serial = Serial.objects.get(text=story.hulls["gone"])
    edge = Edge.objects.get(parent=serial.plate, role="plate")
    assert find_unit(serial.text) == edge.child_id


def test_checking_out_touches_the_plate(story: Told) -> None:
    plate = Serial.objects.get(text=story.hulls["gone"]).plate_id
    roles = set(EventUnit.objects.filter(unit_id=plate).values_list("role", flat=True))
    assert {"checked out", "status"} <= roles
