"""Rules about what nobody can rule out: a hull whose record is thin leaves neither packing nor gate under a hold."""

from collections.abc import Iterator

from tests.scan.cast import QUALITY, Plant, passed
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule
from tests.scan.rules.leaving import leaves, old, packing, packs, truck
from trace.recording.acts.holds import Hold
from trace.recording.acts.opening import OpeningStock


def old_lot_held(plant: Plant) -> None:
    """Opening stock of a known lot, all of it on hold: any hull made before the records may hold it."""
    stock = OpeningStock(material="LL-35 red", lot_no="V-1999", amount="20", supplier="VERRIN")
    code = plant.shift.scan(stock, person="P-05", helper="P-03").made["codes"][0]
    plant.shift.scan(Hold(code=code, whole_lot=True, reason="query"), person=QUALITY)


@rule("PACK-MAY-BE-HELD")
def pack_one_that_may_hold_it(plant: Plant, at: Opens) -> Iterator[Scan]:
    before, recorded = old(plant, 1), passed(plant)
    old_lot_held(plant)
    screen = packing(plant, at)
    yield lambda: screen.scan(before)
    yield lambda: screen.scan(recorded)


@rule("GATE-MAY-BE-HELD")
def load_one_that_may_hold_it(plant: Plant, at: Opens) -> Iterator[Scan]:
    before, recorded = packs(plant, old(plant, 1), passed(plant))
    old_lot_held(plant)
    screen = truck(plant, at)
    yield lambda: screen.scan(before)
    yield lambda: leaves(screen, recorded)
