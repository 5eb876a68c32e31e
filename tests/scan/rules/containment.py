"""Rules met on a containment walk."""

from collections.abc import Iterator

from tests.scan.cast import QUALITY, WAREHOUSE, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule, scans
from tests.scan.rules.leaving import old, packs
from trace.models import Event, Unit
from trace.recording.acts.containment import BeginContainment, EndContainment
from trace.recording.acts.packing import Dispatch

NOBODY_S = "01900000-0000-7000-8000-000000000000"


def walk_begun(plant: Plant, *serials: str) -> str:
    """A walk over a list of hulls; its uid."""
    hulls = Unit.objects.filter(kind="hull").order_by("-id")[: len(serials)]
    uids = tuple(sorted(str(hull.uid) for hull in hulls))
    listed = BeginContainment(question=("model=T430",), known_on="2026-06-08T06:00:00.000000Z", hulls=uids)
    plant.shift.scan(listed, person=QUALITY)
    return str(Event.objects.filter(kind="containment_begun").order_by("-id")[0].uid)


@rule("WALK-UNKNOWN")
def walk_that_nobody_began(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial = old(plant, 1)
    screen = at("containment", walk=NOBODY_S)
    screen.scan(plant["STORE"])
    yield lambda: screen.scan(serial)
    walk = walk_begun(plant, serial)
    other = at("containment", walk=walk)
    yield lambda: scans(other, plant["STORE"], serial)


@rule("WALK-OVER")
def walk_that_is_over(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial = old(plant, 1)
    walk = walk_begun(plant, serial)
    screen = at("containment", walk=walk)
    screen.scan(plant["STORE"])
    plant.shift.scan(EndContainment(walk=walk, reason="all found"), person=QUALITY)
    yield lambda: screen.scan(serial)
    walk_begun(plant, serial)
    other = at("containment")
    yield lambda: scans(other, plant["STORE"], serial)


@rule("WALK-NOT-LISTED", "warned")
def hull_that_is_not_on_the_list(plant: Plant, at: Opens) -> Iterator[Scan]:
    stranger, wanted = old(plant, 1), old(plant, 2)
    walk_begun(plant, wanted)
    screen = at("containment")
    screen.scan(plant["STORE"])
    yield lambda: screen.scan(stranger)
    yield lambda: screen.scan(wanted)


@rule("WALK-ELSEWHERE", "warned")
def hull_that_stands_elsewhere(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial = old(plant, 1)
    walk_begun(plant, serial)
    screen = at("containment")
    screen.scan(plant["R4-2"])
    yield lambda: screen.scan(serial)
    yield lambda: screen.scan(serial)


@rule("WALK-GONE", "warned")
def hull_that_had_left(plant: Plant, at: Opens) -> Iterator[Scan]:
    gone, here = old(plant, 1), old(plant, 2)
    [code] = packs(plant, gone)
    load = Dispatch(order="SO-220", packs=(code,), consignee="WHARFE", vehicle="PA 12")
    plant.shift.scan(load, person=WAREHOUSE)
    walk_begun(plant, here, gone)
    screen = at("containment")
    screen.scan(plant["STORE"])
    yield lambda: screen.scan(gone)
    yield lambda: screen.scan(here)
