"""Rules met at the oven's page. Some need a form that is older than what another screen has done since."""

from collections.abc import Iterator

from tests.scan.browser import Page, Screen
from tests.scan.cast import EARLIER, QUALITY, Plant, cook, hull, load
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule, scans
from tests.scan.rules.loading import ready
from tests.scan.rules.weighing import define
from trace.demo import plant as invented
from trace.recording.acts.cook import CookStage, EndCook, EndCooling
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.opening import OldHull
from trace.recording.acts.oven import StartCook
from trace.recording.acts.pre_use import CheckMachine

LOGGER = {"T430-01": "LG-1", "T430-02": "LG-2"}
STAGES = ("heat", "drop foam", "drop inner", "out")
# Which buoys each arm of the carousel takes.
BUOY_MOULDS = {"A1": ("B60-01", "B60-02"), "A2": ("B60-03",), "A3": ("B60-04",)}


def before_start(plant: Plant, open_: Opens, n: int = 0, mould: str = "T430-01", arm: str = "S1") -> Screen:
    """A closed mould on its arm before the oven."""
    load(plant, n, mould, arm)
    return at_oven(plant, open_, mould, arm)


def at_oven(plant: Plant, open_: Opens, mould: str = "T430-01", arm: str = "S1") -> Screen:
    screen = open_("oven")
    scans(screen, plant[arm], plant[mould], plant["OVEN-2"], plant[LOGGER[mould]])
    return screen


def in_the_oven(plant: Plant) -> None:
    """A load in the oven, of which nothing more is recorded."""
    load(plant)
    plant.shift.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",)))


def inside(plant: Plant, open_: Opens, *, stages: tuple[str, ...] = STAGES) -> Screen:
    """In the oven, with these stages seen."""
    load(plant)
    shift = plant.shift
    shift.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",)))
    for stage in stages:
        shift.scan(CookStage(mould="T430-01", stage=stage))
    return at_oven(plant, open_)


def other_mould(screen: Screen, plant: Plant) -> Page:
    """The next good scan on another arm: a fresh mould goes in."""
    load(plant, 1, "T430-02", "S2")
    fresh = Screen(client=screen.client)
    fresh.open("oven")
    scans(fresh, plant["S2"], plant["T430-02"], plant["OVEN-2"], plant["LG-2"])
    return fresh.press("start")


@rule("SECOND-OPEN-CYCLE")
def second_cycle(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = before_start(plant, at)
    plant.shift.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-01",)))
    yield lambda: screen.press("start")
    yield lambda: screen.press("stage heat")


@rule("MOULD-NOT-CLOSED")
def not_closed(plant: Plant, at: Opens) -> Iterator[Scan]:
    ready(plant)
    screen = at_oven(plant, at)
    yield lambda: screen.press("start")
    yield lambda: other_mould(screen, plant)


@rule("COOK-HELD")
def held_before_the_oven(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = before_start(plant, at)
    [hold] = plant.shift.scan(Hold(code=plant["m8"], reason="finish in doubt"), person=QUALITY).made["holds"]
    yield lambda: screen.press("start")
    plant.shift.scan(ReleaseHold(hold=hold, reason="finish verified"), person="P-10")
    yield lambda: screen.press("start")


@rule("NOT-FOR-ANOTHER-COOK")
def packed_long_ago(plant: Plant, at: Opens) -> Iterator[Scan]:
    serial, first = hull(plant), "GHM-T430-000001"
    plant.shift.scan(OldHull(serial=first, product="T430", place="STORE"), person="P-09")
    screen = at("oven")
    scans(screen, plant["S1"], plant["OVEN-2"], first)
    yield lambda: screen.press("start")
    fresh = Screen(client=screen.client)
    fresh.open("oven")
    fresh.press("anew")
    scans(fresh, plant["S1"], plant["OVEN-2"], serial)
    yield lambda: fresh.press("start")


@rule("OVEN-OTHER-RECIPE")
def other_recipe(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = before_start(plant, at)
    screen.scan(plant["OVEN-1"])
    yield lambda: screen.press("start")
    yield lambda: [screen.scan(plant["OVEN-2"]), screen.press("start")][-1]


@rule("SECOND-OPEN-CYCLE")
def arm_in_cycle(plant: Plant, at: Opens) -> Iterator[Scan]:
    """Another mould was closed for the same arm while its first is in the oven."""
    screen = before_start(plant, at)
    load(plant, 1, "T430-02", "S1")
    plant.shift.scan(StartCook(oven="OVEN-2", arm="S1", moulds=("T430-02",)))
    yield lambda: screen.press("start")
    plant.shift.scan(EndCook(mould="T430-02", piat="208", log="attached", stages=STAGES))
    plant.shift.scan(EndCooling(mould="T430-02", demould_c="45"))
    yield lambda: screen.press("start")


@rule("COOKS-DIFFER")
def other_cook(plant: Plant, at: Opens) -> Iterator[Scan]:
    """A hull is to be cooked again beside a mould of another peak."""
    serial = hull(plant, 1, "T430-02", "S2")
    define(plant, "product", "H320", cook={**invented.HULL_COOK, "piat_c": ["205", "215"]})
    plant.shift.scan(OldHull(serial="GHM-H320-000001", product="H320", place="STORE"), person="P-09")
    fails = ("surface", "inserts", "plate")
    plant.shift.scan(Inspect(hull="GHM-H320-000001", verdict="fail", checks=fails), person="P-06")
    screen = before_start(plant, at)
    screen.scan("GHM-H320-000001")
    yield lambda: screen.press("start")
    yield lambda: [screen.press("off GHM-H320-000001"), screen.scan(serial), screen.press("start")][-1]


@rule("ARM-OTHER-OVEN")
def arm_of_other_oven(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "product", "T430", cook={**invented.HULL_COOK, "ovens": ["OVEN-1", "OVEN-2"]})
    screen = before_start(plant, at)
    screen.scan(plant["OVEN-1"])
    yield lambda: screen.press("start")
    yield lambda: [screen.scan(plant["OVEN-2"]), screen.press("start")][-1]


@rule("ARM-LOCKED-OUT")
def arm_locked_out(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "machine", "S1", state="locked out")
    load = at("load")
    scans(load, plant["T430-01"], plant["WO-1041"])
    yield lambda: load.scan(plant["S1"])
    define(plant, "machine", "S1")
    yield lambda: load.scan(plant["S1"])


@rule("ARM-LOCKED-OUT")
def arm_locked_since(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = before_start(plant, at)
    define(plant, "machine", "S1", state="locked out")
    yield lambda: screen.press("start")
    define(plant, "machine", "S1")
    yield lambda: screen.press("start")


@rule("COOK-OFF-RECIPE")
def oven_set_otherwise(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "product", "T430", cook={**invented.HULL_COOK, "set_c": ["280", "300"]})
    screen = before_start(plant, at)
    yield lambda: screen.press("start", set_c="310")
    yield lambda: screen.press("start", set_c="290")


@rule("COOK-OFF-RECIPE")
def ratio_not_said(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "machine", "OVEN-2", motion="biaxial")
    define(plant, "product", "T430", cook={**invented.HULL_COOK, "ratio": ["3.5", "4.5"]})
    screen = before_start(plant, at)
    yield lambda: screen.press("start", arm_rpm="8")
    yield lambda: screen.press("start", arm_rpm="8", plate_rpm="10")


@rule("SPEEDS-EQUAL")
def equal_speeds(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "machine", "OVEN-2", motion="biaxial")
    screen = before_start(plant, at)
    yield lambda: screen.press("start", arm_rpm="8", plate_rpm="8")
    yield lambda: screen.press("start", arm_rpm="8", plate_rpm="10")


@rule("MOULD-ON-OTHER-ARM")
def on_other_arm(plant: Plant, at: Opens) -> Iterator[Scan]:
    load(plant)
    screen = at("oven", "P-01")
    screen.scan(plant["S2"])
    yield lambda: screen.scan(plant["T430-01"])
    yield lambda: [scans(screen, plant["S1"], plant["T430-01"], plant["OVEN-2"]), screen.press("start")][-1]


@rule("LOGGER-OTHER-MOULD")
def other_logger(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = before_start(plant, at)
    screen.scan(plant["LG-2"])
    yield lambda: screen.press("start")
    yield lambda: [screen.press(f"off {plant['LG-2']}"), screen.press("start")][-1]


@rule("LOGGER-NOT-SCANNED", "warned")
def no_logger(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = before_start(plant, at)
    screen.press(f"off {plant['LG-1']}")
    yield lambda: screen.press("start")
    yield lambda: other_mould(screen, plant)


@rule("LOGGER-OVERDUE")
def logger_overdue(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "instrument", "LG-1", calibration_due=EARLIER)
    screen = before_start(plant, at)
    yield lambda: screen.press("start")
    define(plant, "instrument", "LG-1")
    yield lambda: screen.press("start")


@rule("OVEN-LOCKED-OUT")
def locked_out(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "machine", "OVEN-2", state="locked out")
    screen = before_start(plant, at)
    yield lambda: screen.press("start")
    define(plant, "machine", "OVEN-2")
    yield lambda: screen.press("start")


@rule("OVEN-OVERDUE")
def overdue(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "machine", "OVEN-2", calibration_due=EARLIER)
    screen = before_start(plant, at)
    yield lambda: screen.press("start")
    define(plant, "machine", "OVEN-2")
    yield lambda: screen.press("start")


@rule("STAGE-UNKNOWN")
def stage_after_end(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at)
    plant.shift.scan(EndCook(mould="T430-01", piat="208", log="attached", stages=STAGES))
    yield lambda: screen.press("stage heat")
    yield lambda: screen.press("cooled", temperature="45")


@rule("COOK-STOPPED", "flagged")
def stopped(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at, stages=())
    yield lambda: screen.press("stage stopped")
    yield lambda: screen.press("stage heat")


@rule("DROP-NOT-SEEN", "flagged")
def drop_not_seen(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at, stages=("heat",))
    yield lambda: screen.press("not seen", drop="drop foam")
    yield lambda: screen.press("stage out")


@rule("DROP-WHICH")
def which_drop(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at, stages=("heat", "drop foam", "drop inner"))
    yield lambda: screen.press("not seen")
    yield lambda: screen.press("not seen", drop="drop inner")


@rule("NOT-IN-OVEN")
def end_twice(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at)
    plant.shift.scan(EndCook(mould="T430-01", piat="208", log="attached", stages=STAGES))
    yield lambda: screen.press("end", temperature="208", log="attached")
    yield lambda: screen.press("cooled", temperature="45")


@rule("COOK-OUTSIDE", "flagged")
def outside(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at)
    yield lambda: screen.press("end", temperature="225", log="attached")
    yield lambda: screen.press("cooled", temperature="45")


def without(plant: Plant, name: str) -> None:
    """The recipe of the kayak lacks this."""
    define(plant, "product", "T430", cook={k: v for k, v in invented.HULL_COOK.items() if k != name})


@rule("COOK-NO-WINDOW", "flagged")
def no_window(plant: Plant, at: Opens) -> Iterator[Scan]:
    without(plant, "piat_c")
    screen = inside(plant, at)
    yield lambda: screen.press("end", temperature="208", log="attached")
    yield lambda: screen.press("cooled", temperature="45")


@rule("COOK-NO-LOG", "flagged")
def no_log(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at)
    yield lambda: screen.press("end", temperature="208", log="missing")
    yield lambda: screen.press("cooled", temperature="45")


@rule("COOK-NO-PEAK", "flagged")
def no_peak(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at)
    yield lambda: screen.press("end", log="attached")
    yield lambda: screen.press("cooled", temperature="45")


@rule("STAGE-SKIPPED", "flagged")
def skipped(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at, stages=("heat", "drop inner", "out"))
    yield lambda: screen.press("end", temperature="208", log="attached")
    yield lambda: screen.press("cooled", temperature="45")


@rule("STAGE-OUT-OF-ORDER", "warned")
def out_of_order(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at, stages=("heat", "drop inner", "drop foam", "out"))
    yield lambda: screen.press("end", temperature="208", log="attached")
    yield lambda: screen.press("cooled", temperature="45")


@rule("STAGE-OUT-OF-ORDER", "warned")
def seen_too_early(plant: Plant, at: Opens) -> Iterator[Scan]:
    """A drop before the heat: said at once. The stage that goes on in turn is no trouble then."""
    screen = inside(plant, at, stages=())
    yield lambda: screen.press("stage drop foam")
    yield lambda: screen.press("stage drop inner")


@rule("STAGE-OUT-OF-ORDER", "warned")
def seen_too_late(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at, stages=("heat", "drop inner"))
    yield lambda: screen.press("stage drop foam")
    yield lambda: screen.press("stage out")


@rule("STAGE-TWICE", "warned")
def seen_twice(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = inside(plant, at, stages=("heat",))
    yield lambda: screen.press("stage heat")
    yield lambda: screen.press("stage drop foam")


@rule("STAGE-OUT-OF-ORDER", "warned")
def cooled_out_of_order(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "product", "T430", cook={**invented.HULL_COOK, "cooling": ["air", "mist"]})
    screen = cooling(plant, at)
    screen.press("stage mist")
    screen.press("stage air")
    yield lambda: screen.press("cooled", temperature="45")
    yield lambda: other_mould(screen, plant)


def cooling(plant: Plant, open_: Opens) -> Screen:
    screen = inside(plant, open_)
    screen.press("end", temperature="208", log="attached")
    return screen


@rule("COOLING-NOT-BEGUN")
def cooled_twice(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = cooling(plant, at)
    plant.shift.scan(EndCooling(mould="T430-01", demould_c="45"))
    yield lambda: screen.press("cooled", temperature="45")
    yield lambda: other_mould(screen, plant)


@rule("DEMOULD-HOT")
def too_hot(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = cooling(plant, at)
    yield lambda: screen.press("cooled", temperature="75")
    yield lambda: screen.press("cooled", temperature="48")


@rule("COOLING-SKIPPED", "flagged")
def no_mist(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "product", "T430", cook={**invented.HULL_COOK, "cooling": ["air", "mist"]})
    screen = cooling(plant, at)
    screen.press("stage air")
    yield lambda: screen.press("cooled", temperature="45")
    yield lambda: other_mould(screen, plant)


@rule("DEMOULD-NO-LIMIT", "warned")
def no_limit(plant: Plant, at: Opens) -> Iterator[Scan]:
    without(plant, "demould_max_c")
    screen = cooling(plant, at)
    yield lambda: screen.press("cooled", temperature="45")
    define(plant, "product", "T430")
    yield lambda: other_mould(screen, plant)


@rule("DEMOULD-NOT-READ", "flagged")
def not_read(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = cooling(plant, at)
    yield lambda: screen.press("cooled")
    yield lambda: other_mould(screen, plant)


@rule("NO-LOAD")
def empty_mould(plant: Plant, at: Opens) -> Iterator[Scan]:
    load(plant)
    plant.shift.cook(["T430-01"], "S1")
    screen = at("demould")
    yield lambda: screen.scan(plant["T430-02"])
    yield lambda: screen.scan(plant["T430-01"])


assert set(STAGES) == set(invented.HULL_COOK["stages"])


@rule("PRE-USE-FAULT")
def not_in_order(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.scan(CheckMachine(machine="OVEN-2", faults=("guards",)))
    screen = before_start(plant, at)
    yield lambda: screen.press("start")
    plant.shift.scan(CheckMachine(machine="OVEN-2"))
    yield lambda: screen.press("start")


@rule("PRE-USE-MISSING", "refused")
def not_looked_over(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "setting", "rule:PRE-USE-MISSING", value="refuse")
    screen = before_start(plant, at)
    yield lambda: screen.press("start")
    for machine in ("OVEN-2", "S1"):
        plant.shift.scan(CheckMachine(machine=machine))
    yield lambda: screen.press("start")


@rule("FIRST-SHOT", "flagged")
def first_after_a_cold_start(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "setting", "first shots", value=1)
    plant.shift.scan(CheckMachine(machine="OVEN-2", cold=True))
    cook(plant)
    screen = at("demould")
    yield lambda: screen.scan(plant["T430-01"])
    cook(plant)
    yield lambda: [screen.open("demould"), screen.scan(plant["T430-01"])][-1]


def carried(plant: Plant, arm: str, first: int) -> None:
    """The buoys of an arm, loaded and closed."""
    for n, mould in enumerate(BUOY_MOULDS[arm], start=first):
        tub, box = plant["tubs"][n], plant["drops"][n]
        plant.shift.weigh("WO-1043", "skin", plant["red"], tub)
        plant.shift.weigh("WO-1043", "foam", plant["foam2"], box)
        plant.shift.load(mould, "WO-1043", arm, [tub, box], [], [])
