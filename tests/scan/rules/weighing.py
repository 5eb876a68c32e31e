"""Rules met when powder is weighed and vessels are filled."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from django.utils import timezone

from tests.scan.browser import Page, Screen
from tests.scan.cast import EARLIER, LATER, STORES, Plant
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule, scans
from trace.demo import plant as invented
from trace.recording.acts.counting import Count
from trace.recording.acts.holds import Hold
from trace.recording.acts.setup import Define
from trace.recording.acts.vessels import TopUp


def define(plant: Plant, kind: str, key: str, /, **change: Any) -> None:
    """Plant data changes: the body as invented, with these fields."""
    bodies = {(k, i): body for k, i, _, body in invented.things()}
    plant.shift.scan(Define(kind=kind, key=key, body={**bodies.get((kind, key), {}), **change}), person="P-09")


def before(plant: Plant, **ago: float) -> Any:
    """A shift that scanned so long ago."""
    then = timezone.now() - timedelta(**ago)
    shift = plant.shift
    shift.clock = lambda: then
    return shift


def begun(open_: Opens, plant: Plant, *codes: str) -> Screen:
    """The weighing station with order and scale, and these codes."""
    screen = open_("weigh")
    scans(screen, plant["WO-1041"], plant["W-3"], *codes)
    return screen


def skin(screen: Screen, plant: Plant, gross: str = "12.20", tub: int = 0, box: str = "red") -> Page:
    """The good scan: the skin, weighed."""
    scans(screen, plant[box], plant["tubs"][tub])
    return screen.fill(gross=gross)


@rule("CODE-MISREAD")
def misread(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("weigh")
    assert screen.scan("3334-3DRX").verdict.lower().count("scan it") == 1
    yield lambda: screen.scan("3334-3DRX")
    yield lambda: [screen.scan(plant["WO-1041"]), screen.scan(plant["W-3"]), skin(screen, plant)][-1]


@rule("CODE-UNKNOWN")
def unknown(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("weigh")
    yield lambda: screen.scan("WO-9999")
    yield lambda: [screen.scan(plant["WO-1041"]), screen.scan(plant["W-3"]), skin(screen, plant)][-1]


@rule("CODE-WRONG-KIND")
def wrong_kind(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("weigh")
    # By its label or by its key, a thing is called what people call it.
    for code in (plant["T430-01"], "T430-01"):
        assert screen.scan(code).verdict.startswith("Stop: T430-01 is a mould.")
    yield lambda: screen.scan(plant["T430-01"])
    yield lambda: [screen.scan(plant["WO-1041"]), screen.scan(plant["W-3"]), skin(screen, plant)][-1]


@rule("AMOUNT-UNREADABLE")
def unreadable(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    yield lambda: screen.fill(gross="12,20")
    yield lambda: screen.fill(gross="12.20")


@rule("TIME-AHEAD")
def ahead(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("weigh", late="yes")
    scans(screen, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    later = timezone.localtime() + timedelta(hours=3)
    yield lambda: screen.fill(gross="12.20", happened=f"{later:%Y-%m-%d %H:%M}")
    now = timezone.localtime()
    yield lambda: screen.fill(gross="12.20", happened=f"{now:%Y-%m-%d %H:%M:%S}")


@rule("UNTRAINED")
def untrained(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("weigh", "P-02", "P-04")
    scans(screen, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    yield lambda: screen.fill(gross="12.20")
    yield lambda: screen.scan(plant["P-02"])  # a trained person's badge beside it: a witnessed run


@rule("LAYER-MATERIAL")
def other_material(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = begun(at, plant)
    yield lambda: screen.scan(plant["foam"])
    yield lambda: skin(screen, plant)


@rule("CHARGE-HEAVY")
def heavy(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    yield lambda: screen.fill(gross="12.31")
    yield lambda: screen.fill(gross="12.30")


@rule("CHARGE-LIGHT")
def light(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    yield lambda: screen.fill(gross="14.00", tare="1.95")
    yield lambda: screen.fill(gross="14.05", tare="1.95")


@rule("SCALE-OVERDUE")
def overdue(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "instrument", "W-3", calibration_due=EARLIER)
    screen = at("weigh")
    screen.scan(plant["WO-1041"])
    yield lambda: screen.scan(plant["W-3"])
    yield lambda: [screen.scan(plant["W-4"]), skin(screen, plant)][-1]


@rule("SCALE-UNCHECKED")
def unchecked(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "instrument", "W-9", kind="scale", calibration_due=LATER, check_mass="10.000", check_tolerance="0.02")
    screen = at("weigh")
    screen.scan(plant["WO-1041"])
    yield lambda: screen.scan("W-9")
    plant.shift.check_scale("W-9")
    yield lambda: [screen.scan("W-9"), skin(screen, plant)][-1]


@rule("SCALE-FAILED")
def failed(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.check_scale("W-3", "10.10")
    screen = at("weigh")
    screen.scan(plant["WO-1041"])
    yield lambda: screen.scan(plant["W-3"])
    yield lambda: [screen.scan(plant["W-4"]), skin(screen, plant)][-1]


@rule("SCALE-FAILS-NEXT", "flagged")
def failed_next(plant: Plant, at: Opens) -> Iterator[Scan]:
    """Written on paper, and sent only after the scale had failed: it may have been off by then."""
    screen = at("weigh", late="yes")
    scans(screen, plant["WO-1041"], plant["W-3"], plant["red"], plant["tubs"][0])
    then = timezone.localtime()
    plant.shift.check_scale("W-3", "10.10")
    yield lambda: screen.fill(gross="12.20", happened=f"{then:%Y-%m-%d %H:%M:%S.%f}")
    plant.shift.check_scale("W-3")
    now = timezone.localtime()
    scans(screen, plant["WO-1041"], plant["W-3"], plant["foam"], plant["drops"][0])
    yield lambda: screen.fill(gross="9.15", happened=f"{now:%Y-%m-%d %H:%M:%S.%f}")


@rule("SCALE-STEP", "warned")
def finer_than_the_scale(plant: Plant, at: Opens) -> Iterator[Scan]:
    """W-3 reads to 0.01 kg; what follows is a figure that it can show."""
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    yield lambda: screen.fill(gross="14.155", tare="1.95")
    yield lambda: [scans(screen, plant["foam"], plant["drops"][0]), screen.fill(gross="9.15")][-1]


@rule("TUB-FULL")
def tub_full(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0])
    screen = begun(at, plant)
    screen.scan(plant["red"], layer="skin")  # one stands weighed already: the page would go on with the foam
    yield lambda: screen.scan(plant["tubs"][0])
    yield lambda: [screen.scan(plant["tubs"][1]), screen.fill(gross="12.20")][-1]


@rule("TUB-KIND")
def tub_kind(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = begun(at, plant, plant["red"])
    yield lambda: screen.scan(plant["drops"][0])
    yield lambda: [screen.scan(plant["tubs"][1]), screen.fill(gross="12.20")][-1]


@rule("TUB-SMALL", "warned")
def tub_small(plant: Plant, at: Opens) -> Iterator[Scan]:
    """12.20 kg at 350 kg/m3 take 34.9 litres."""
    define(plant, "setting", "tub litres", value="30")
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    yield lambda: screen.fill(gross="12.20")
    yield lambda: [scans(screen, plant["foam"], plant["drops"][0]), screen.fill(gross="9.15")][-1]


@rule("TARE-ODD", "warned")
def gross_as_net(plant: Plant, at: Opens) -> Iterator[Scan]:
    """The tub stood on the scale and its tare was not taken off; the second part has the first one under it."""
    define(plant, "setting", "tub tare kg", value="1.95")
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    yield lambda: screen.fill(gross="5.00", tare="0", part="yes")
    screen.scan(plant["red"])
    yield lambda: screen.fill(gross="14.15", tare="6.95", part=None)


@rule("BAG-CHANGED")
def second_bag(plant: Plant, at: Opens) -> Iterator[Scan]:
    """The reading so far is kept, and the next bag is scanned. This plant wants one lot in a charge."""
    define(plant, "setting", "rule:BAG-CHANGED", value="refuse")
    screen = begun(at, plant, plant["red"], plant["tubs"][0])
    assert screen.fill(gross="5.00", part="yes").outcome == "accepted"
    assert screen.page is not None
    assert screen.page.form.values["tub"] == plant["tubs"][0]
    assert screen.scan(plant["red2"]).next.startswith("Weigh 7.20 kg more for the skin: 5.00 kg are in")
    yield lambda: screen.fill(gross="7.20")
    yield lambda: [screen.scan(plant["red"]), screen.fill(gross="7.20")][-1]


@rule("CHECK-WEIGHT-FAILS", "warned")
def check_fails(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("check-weight")
    screen.scan(plant["W-3"])
    yield lambda: screen.fill(shown="10.03")
    yield lambda: [screen.scan(plant["W-3"]), screen.fill(shown="10.02")][-1]


@rule("CHECK-WEIGHT-AGAIN")
def check_mistyped(plant: Plant, at: Opens) -> Iterator[Scan]:
    """10.3 for 10.03 would hold the charge that was weighed before."""
    skin(begun(at, plant), plant)
    screen = at("check-weight")
    page = screen.scan(plant["W-3"])
    assert "again" not in page.form.boxes
    yield lambda: screen.fill(shown="10.3")
    yield lambda: screen.fill(shown="10.01")


@rule("CHECK-WEIGHT-AGAIN")
def check_far_off_indeed(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("check-weight")
    screen.scan(plant["W-3"])
    yield lambda: screen.fill(shown="10.3")
    yield lambda: screen.fill(again="10.30")


# The source, whatever is taken from it.


@rule("SOURCE-EMPTY")
def source_empty(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = begun(at, plant)
    yield lambda: screen.scan(plant["boxes"][0])
    yield lambda: skin(screen, plant)


@rule("SOURCE-HELD")
def source_held(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.scan(Hold(code=plant["red"], reason="density query"), person="P-06")
    screen = begun(at, plant)
    yield lambda: screen.scan(plant["red"])
    yield lambda: skin(screen, plant, box="red2")


@rule("SOURCE-NOT-RELEASED")
def source_in_quarantine(plant: Plant, at: Opens) -> Iterator[Scan]:
    [code] = plant.shift.receive("VERRIN", "LL-35 red", "V-2300", ("500.00",))
    screen = begun(at, plant)
    yield lambda: screen.scan(code)
    yield lambda: skin(screen, plant)


@rule("SOURCE-USED-UP")
def source_used_up(plant: Plant, at: Opens) -> Iterator[Scan]:
    """All that the book says, and the 2 % of it that may be in a bag besides."""
    [bag] = plant.shift.stock("VERRIN", "LL-35 red", "V-2304", ("12.00",))
    plant.shift.weigh("WO-1041", "skin", bag, plant["tubs"][0], gross="12.24")
    screen = begun(at, plant)
    yield lambda: screen.scan(bag, layer="skin")
    yield lambda: skin(screen, plant, tub=1)


@rule("SOURCE-EXPIRED")
def source_expired(plant: Plant, at: Opens) -> Iterator[Scan]:
    shift = before(plant, days=30)
    [bag] = shift.stock("VERRIN", "LL-35 red", "V-2190", ("500.00",), expires=EARLIER)
    screen = begun(at, plant)
    yield lambda: screen.scan(bag)
    yield lambda: skin(screen, plant)


@rule("SOURCE-OPEN-TOO-LONG")
def source_open_too_long(plant: Plant, at: Opens) -> Iterator[Scan]:
    shift = before(plant, days=40)
    [bag] = shift.stock("DUNSAY", "FM-22", "F-099", ("25.00",), expires=LATER)
    shift.scan(TopUp(source=bag, into=plant["vessel"], amount="1"), person=STORES)
    screen = begun(at, plant)
    screen.fill(layer="foam")
    yield lambda: screen.scan(bag)
    yield lambda: [scans(screen, plant["foam"], plant["drops"][1]), screen.fill(gross="9.15")][-1]


@rule("OVERDRAW")
def overdraw(plant: Plant, at: Opens) -> Iterator[Scan]:
    [bag] = plant.shift.stock("VERRIN", "LL-35 red", "V-2305", ("11.00",))
    screen = begun(at, plant, bag, plant["tubs"][0])
    yield lambda: screen.fill(gross="12.20")
    yield lambda: [screen.scan(plant["red"]), screen.fill(gross="12.20")][-1]


# Vessels.


def topping(open_: Opens, *codes: str) -> Screen:
    screen = open_("top-up")
    scans(screen, *codes)
    return screen


@rule("MIXES-MATERIALS")
def mixes_materials(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.scan(TopUp(source=plant["natural"], into=plant["vessel"], amount="100"), person=STORES)
    screen = topping(at, plant["vessel"])
    yield lambda: screen.scan(plant["red"])
    yield lambda: [screen.scan(plant["natural"]), screen.fill(amount="50")][-1]


@rule("MIXES-LOTS")
def mixes_lots(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = topping(at, plant["red2"], plant["red"])
    yield lambda: screen.fill(amount="10")
    yield lambda: screen.fill(amount="10", commingle="yes")


@rule("INTO-ITSELF")
def into_itself(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = topping(at, plant["red"])
    yield lambda: screen.scan(plant["red"])
    yield lambda: [screen.scan(plant["red2"]), screen.fill(amount="5", commingle="yes")][-1]


def counting(open_: Opens, code: str) -> Screen:
    screen = open_("count")
    screen.scan(code)
    return screen


def counted(screen: Screen, amount: str, **more: str) -> Page:
    return screen.fill(amount=amount, **more, why="weighed", why_words="on the floor scale")


@rule("NOTHING-TO-COUNT")
def nothing_to_count(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = counting(at, plant["boxes"][0])
    yield lambda: counted(screen, "20")
    yield lambda: [screen.scan(plant["red2"]), counted(screen, "98.5")][-1]


@rule("COUNTED-OVER", "warned")
def counted_over(plant: Plant, at: Opens) -> Iterator[Scan]:
    """100 kg were received, and 2 % may be in it besides."""
    screen = counting(at, plant["red2"])
    yield lambda: counted(screen, "102.1")
    yield lambda: [screen.scan(plant["red2"]), counted(screen, "102")][-1]


@rule("COUNTED-UNDER")
def counted_far_under(plant: Plant, at: Opens) -> Iterator[Scan]:
    """100 kg by the book: 40 kg is no loss of every day, and somebody is told of it."""
    screen = counting(at, plant["red2"])
    yield lambda: counted(screen, "40")
    yield lambda: counted(screen, "40", again="40")


@rule("COUNTED-REVIVED")
def counted_after_a_filling_nobody_recorded(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.scan(Count(box=plant["red2"], amount="0", again="0", reason="weighed"), person=STORES)
    screen = counting(at, plant["red2"])
    yield lambda: counted(screen, "80")
    yield lambda: [screen.scan(plant["red"]), counted(screen, "498")][-1]


@rule("NOT-EMPTY")
def not_empty(plant: Plant, at: Opens) -> Iterator[Scan]:
    plant.shift.scan(TopUp(source=plant["natural"], into=plant["vessel"], amount="100"), person=STORES)
    screen = topping(at, plant["vessel"])
    yield lambda: screen.press("empty")
    yield lambda: [screen.scan(plant["natural"]), screen.fill(amount="50")][-1]
