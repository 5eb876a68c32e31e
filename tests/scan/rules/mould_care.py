"""Rules met where a mould is worked on between loads."""

from collections.abc import Iterator

from tests.scan.cast import QUALITY, Plant, load
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule, scans
from tests.scan.rules.weighing import define
from trace.recording.acts.demould import Demould
from trace.recording.acts.holds import Hold
from trace.recording.acts.mould_care import CareForMould
from trace.recording.acts.mounting import Mount, TakeOff

MOULD = "T430-02"


def agent(plant: Plant) -> str:
    return str(plant.shift.stock("TOLBY", "TR-4", "R-12", ("5",))[0])


def trial(plant: Plant, n: int = 0) -> str:
    """A moulding of the mould, cooked and demoulded; its number."""
    load(plant, n, MOULD, "S2")
    plant.shift.cook([MOULD], "S2")
    return str(plant.shift.scan(Demould(mould=MOULD)).made["units"][0]["lot_no"])


def refurbished(plant: Plant) -> None:
    plant.shift.scan(CareForMould(mould=MOULD, done=("refurbished",)))


def first_off_made(plant: Plant) -> str:
    """The number of a moulding that was made on a trial order since the mould was refurbished."""
    refurbished(plant)
    define(plant, "works_order", "WO-1041", purpose="trial")
    return trial(plant)


@rule("CARE-LOADED")
def with_a_load_in_it(plant: Plant, at: Opens) -> Iterator[Scan]:
    load(plant)
    screen = at("mould-care")
    screen.scan(plant["T430-01"])
    yield lambda: screen.press("vent")
    yield lambda: [screen.scan(plant[MOULD]), screen.press("vent")][-1]


@rule("CARE-AGENT-MISSING", "warned")
def coated_with_nobody_knows_what(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("mould-care")
    screen.scan(plant[MOULD])
    yield lambda: screen.press("release coat")
    yield lambda: [screen.scan(agent(plant)), screen.press("release coat", coat="2")][-1]


@rule("CARE-NO-COAT")
def an_agent_for_another_work(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("mould-care")
    scans(screen, plant[MOULD], agent(plant))
    page = screen.page
    assert page is not None
    yield lambda: screen.send(page.form, {}, ("do", "vent"))
    yield lambda: screen.press("release coat")


@rule("FIRST-OFF-NOT-DUE")
def none_is_due(plant: Plant, at: Opens) -> Iterator[Scan]:
    number = first_off_made(plant)
    screen = at("first-off")
    scans(screen, plant[MOULD], number)
    other = at("first-off")
    scans(other, plant[MOULD], number)
    other.press("pass")
    yield lambda: screen.press("pass")
    refurbished(plant)
    again = trial(plant)
    yield lambda: [screen.scan(again), screen.press("pass")][-1]


@rule("FIRST-OFF-OTHER")
def made_before(plant: Plant, at: Opens) -> Iterator[Scan]:
    old = trial(plant)
    new = first_off_made(plant)
    screen = at("first-off")
    scans(screen, plant[MOULD], old)
    yield lambda: screen.press("pass")
    yield lambda: [screen.scan(new), screen.press("pass")][-1]


@rule("FIRST-OFF-HELD")
def on_hold(plant: Plant, at: Opens) -> Iterator[Scan]:
    number = first_off_made(plant)
    plant.shift.scan(Hold(code=number, rule="quality", reason="a soft spot"), person=QUALITY)
    screen = at("first-off")
    scans(screen, plant[MOULD], number)
    yield lambda: screen.press("pass")
    refurbished(plant)
    other = trial(plant)
    yield lambda: [screen.scan(other), screen.press("pass")][-1]


# Changeover.


@rule("MOULD-UNMOUNTED", "warned")
def taken_off(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.scan(TakeOff(mould=MOULD))
    screen = at("load")
    scans(screen, plant[MOULD], plant["WO-1041"])
    yield lambda: screen.scan(plant["S2"])
    yield lambda: scans(screen, plant["T430-01"], plant["WO-1041"], plant["S1"])


@rule("MOUNTED-FIRST-OFF", "refused")
def first_after_a_changeover(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "setting", "rule:MOUNTED-FIRST-OFF", value="refuse")
    plant.shift.scan(Mount(mould=MOULD, arm="S2"))
    screen = at("load")
    scans(screen, plant[MOULD], plant["WO-1041"])
    yield lambda: screen.scan(plant["S2"])
    yield lambda: scans(screen, plant["T430-01"], plant["WO-1041"], plant["S1"])


@rule("MOUNT-LOADED")
def moved_with_a_load(plant: Plant, at: Opens) -> Iterator[Scan]:
    load(plant)
    screen = at("mount")
    screen.scan(plant["T430-01"])
    yield lambda: screen.press("off")
    yield lambda: [screen.open("mount"), screen.scan(plant[MOULD]), screen.press("off")][-1]


@rule("MOUNT-POSITION-TAKEN")
def on_a_position_that_has_one(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "machine", "S1", positions=2)
    plant.shift.scan(Mount(mould="T430-01", arm="S1", position="1"))
    screen = at("mount")
    scans(screen, plant[MOULD], plant["S1"])
    yield lambda: screen.fill(position="1")
    yield lambda: screen.fill(position="2")


@rule("MOUNT-ARM-FULL")
def on_an_arm_that_is_full(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "machine", "S1", positions=1)
    plant.shift.scan(Mount(mould="T430-01", arm="S1", position="1"))
    screen = at("mount")
    screen.scan(plant[MOULD])
    yield lambda: screen.scan(plant["S1"])
    plant.shift.scan(TakeOff(mould="T430-01"))
    yield lambda: [screen.open("mount"), scans(screen, plant[MOULD], plant["S1"])][-1]


@rule("TAKE-OFF-TWICE", "warned")
def taken_off_twice(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.scan(TakeOff(mould=MOULD))
    screen = at("mount")
    screen.scan(plant[MOULD])
    yield lambda: screen.press("off")
    yield lambda: [screen.open("mount"), scans(screen, plant[MOULD], plant["S2"])][-1]
