"""Rules met at the loading page."""

from collections.abc import Iterator
from datetime import timedelta

from django.utils import timezone

from tests.scan.browser import Page, Screen
from tests.scan.cast import LATER, LEAD, QUALITY, Plant, load, weigh_all
from tests.scan.conftest import Opens
from tests.scan.rules.cases import Scan, rule, scans
from tests.scan.rules.weighing import define
from trace.demo import plant as invented
from trace.recording.acts.holds import Hold
from trace.recording.acts.loading import CloseMould, ReadyMould
from trace.recording.acts.weighing import Weigh


def ready(plant: Plant, mould: str = "T430-01", order: str = "WO-1041", arm: str = "S1") -> None:
    plant.shift.scan(ReadyMould(mould=mould, order=order, arm=arm))


def opened(open_: Opens, plant: Plant, *keys: str) -> Screen:
    """The station at an open mould."""
    ready(plant)
    screen = open_("load", *keys)
    screen.scan(plant["T430-01"])
    return screen


def filled(plant: Plant, open_: Opens, *, without: str = "") -> Screen:
    """Everything in the mould but one thing, not closed."""
    screen = opened(open_, plant)
    tubs = weigh_all(plant)
    wanted = {"m8": plant["m8"], "m6": plant["m6"], "port": plant["side"], "starboard": plant["side"],
              "capacity": plant["capacity"], "skin": tubs[0], "foam": tubs[1], "inner": tubs[2]}  # fmt: skip
    for name, code in wanted.items():
        if name != without:
            assert screen.scan(code).outcome == "accepted", name
    return screen


def unready(open_: Opens, plant: Plant) -> Screen:
    """The station with a mould and an order, before the arm."""
    screen = open_("load")
    scans(screen, plant["T430-01"], plant["WO-1041"])
    return screen


@rule("NO-LOAD")
def box_before_ready(plant: Plant, at: Opens) -> Iterator[Scan]:
    [tub, *_] = weigh_all(plant)
    screen = at("load")
    screen.scan(plant["T430-01"])
    yield lambda: screen.scan(tub)
    yield lambda: scans(screen, plant["WO-1041"], plant["S1"])


@rule("NO-OPEN-LOAD")
def box_after_closing(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = filled(plant, at)
    plant.shift.scan(CloseMould(mould="T430-01", counted="12"))
    ready(plant, "T430-02", "WO-1041", "S2")
    yield lambda: screen.scan(plant["m8"])
    yield lambda: scans(screen, plant["T430-02"], plant["m8"])


@rule("MOULD-NOT-OPEN")
def closed_by_two(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = filled(plant, at)
    plant.shift.scan(CloseMould(mould="T430-01", counted="12"))
    yield lambda: screen.press("close", counted="12")
    ready(plant, "T430-02", "WO-1041", "S2")
    yield lambda: scans(screen, plant["T430-02"], plant["m8"])


@rule("MOULD-USED-SINCE")
def about_an_earlier_load(plant: Plant, at: Opens) -> Iterator[Scan]:
    """A record from paper about a load that is no longer the one in the mould."""
    ready(plant)
    screen = at("load", late="yes")
    screen.scan(plant["T430-01"])
    now = timezone.localtime()
    ago = now - timedelta(hours=2)
    yield lambda: screen.scan(plant["m8"], happened=f"{ago:%Y-%m-%d %H:%M}")
    yield lambda: screen.scan(plant["m8"], happened=f"{timezone.localtime():%Y-%m-%d %H:%M:%S.%f}")


@rule("MOULD-ON-HOLD")
def mould_on_hold(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "mould", "T430-01", **{**invented.MOULDS["T430-01"], "cavities": ["1"], "state": "on hold"})
    screen = unready(at, plant)
    yield lambda: screen.scan(plant["S1"])
    yield lambda: scans(screen, plant["T430-02"], plant["WO-1041"], plant["S1"])


@rule("MOULD-SERVICE-DUE")
def service_due(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "mould", "T430-01", service_every=0)
    screen = unready(at, plant)
    yield lambda: screen.scan(plant["S1"])
    yield lambda: scans(screen, plant["T430-02"], plant["WO-1041"], plant["S1"])


@rule("MOULD-SERVICE-DUE")
def serviced_now(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "mould", "T430-01", service_every=0)
    screen = unready(at, plant)
    yield lambda: screen.scan(plant["S1"])
    yield lambda: screen.scan(plant["S1"], done_service="yes")


@rule("MOULD-ON-HOLD")
def damaged_while_it_was_loaded(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = filled(plant, at)
    define(plant, "mould", "T430-01", **{**invented.MOULDS["T430-01"], "cavities": ["1"], "state": "on hold"})
    yield lambda: screen.press("close", counted="12")
    define(plant, "mould", "T430-01", **{**invented.MOULDS["T430-01"], "cavities": ["1"], "state": "in service"})
    yield lambda: screen.press("close", counted="12")


@rule("MOULD-OTHER-PRODUCT")
def other_product(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = at("load")
    scans(screen, plant["T430-01"], plant["WO-1042"])
    yield lambda: screen.scan(plant["S1"])
    yield lambda: scans(screen, plant["WO-1041"], plant["S1"])


@rule("MOULD-OTHER-ARM")
def other_arm(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = unready(at, plant)
    yield lambda: screen.scan(plant["A1"])
    yield lambda: screen.scan(plant["S1"])


@rule("FIRST-OFF-DUE")
def first_off(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "mould", "T430-01", state="first-off due")
    screen = unready(at, plant)
    yield lambda: screen.scan(plant["S1"])
    yield lambda: scans(screen, plant["WO-1044"], plant["S1"])


@rule("MOULD-HAS-CHARGE")
def has_charge(plant: Plant, at: Opens) -> Iterator[Scan]:
    load(plant)
    screen = at("load")
    scans(screen, plant["T430-01"], plant["WO-1041"])
    yield lambda: screen.scan(plant["S1"])
    yield lambda: scans(screen, plant["T430-02"], plant["WO-1041"], plant["S1"])


@rule("ORDER-ENDED")
def order_ended(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "works_order", "WO-1041", ended=True)
    screen = unready(at, plant)
    yield lambda: screen.scan(plant["S1"])
    define(plant, "works_order", "WO-1041")
    yield lambda: screen.scan(plant["S1"])


@rule("VENT-DUE", "warned")
def vent_due(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "mould", "T430-01", vent_every=0)
    screen = unready(at, plant)
    yield lambda: screen.scan(plant["S1"])
    yield lambda: screen.scan(plant["m8"])


@rule("RELEASE-COAT-DUE", "warned")
def coat_due(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "mould", "T430-01", release_every=0)
    screen = unready(at, plant)
    yield lambda: screen.scan(plant["S1"])
    yield lambda: screen.scan(plant["m8"])


@rule("ARM-POSITION-TAKEN")
def two_moulds_on_one_position(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "mould", "T430-02", arms=["S1"], mounted={"S1": "1"})
    screen = unready(at, plant)
    screen.scan(plant["S1"])
    screen.open("load")
    scans(screen, plant["T430-02"], plant["WO-1041"])
    yield lambda: screen.scan(plant["S1"])
    define(plant, "mould", "T430-02", arms=["S1"], mounted={"S1": "2"})
    yield lambda: screen.scan(plant["S1"])


@rule("ARM-FULL")
def no_room_on_the_arm(plant: Plant, at: Opens) -> Iterator[Scan]:
    define(plant, "machine", "S1", positions=1)
    define(plant, "mould", "T430-02", arms=["S1"])
    screen = unready(at, plant)
    screen.scan(plant["S1"])
    screen.open("load")
    scans(screen, plant["T430-02"], plant["WO-1041"])
    yield lambda: screen.scan(plant["S1"])
    define(plant, "machine", "S1", positions=2)
    yield lambda: screen.scan(plant["S1"])


@rule("AGENT-OTHER-MATERIAL")
def inserts_as_release_agent(plant: Plant, at: Opens) -> Iterator[Scan]:
    coat = plant.shift.stock("TOLBY", "TR-4", "R-55", ("5",))[0]
    screen = unready(at, plant)
    screen.scan(plant["m8"])
    yield lambda: screen.scan(plant["S1"])
    yield lambda: scans(screen, coat, plant["S1"])


@rule("AGENT-UNFIT")
def agent_in_quarantine(plant: Plant, at: Opens) -> Iterator[Scan]:
    coat = plant.shift.receive("TOLBY", "TR-4", "R-56", ("5",))[0]
    screen = unready(at, plant)
    screen.scan(coat)
    yield lambda: screen.scan(plant["S1"])
    plant.shift.certify_and_release(coat, "R-56", material="TR-4")
    yield lambda: screen.scan(plant["S1"])


@rule("INSERT-WRONG-PART")
def wrong_part(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = opened(at, plant)
    yield lambda: screen.scan(plant["m6"], positions="S1 S2")
    yield lambda: screen.scan(plant["m6"], positions="")


@rule("INSERT-NO-POSITION")
def no_position(plant: Plant, at: Opens) -> Iterator[Scan]:
    [eyes] = plant.shift.stock("MARROW", "EYE-12", "E-1", ("50",))
    screen = opened(at, plant)
    yield lambda: screen.scan(eyes)
    yield lambda: screen.scan(plant["m8"])


@rule("INSERT-TAKEN")
def position_taken(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = opened(at, plant)
    screen.scan(plant["m8"], positions="S1")
    yield lambda: screen.scan(plant["m8"], positions="S1 S2")
    yield lambda: screen.scan(plant["m8"], positions="S2")


@rule("GRAPHIC-NOT-FOR-ORDER")
def other_artwork(plant: Plant, at: Opens) -> Iterator[Scan]:
    [rescue] = plant.shift.stock("PELLAM", "RESCUE A", "G-90", ("20",), expires=LATER)
    screen = opened(at, plant)
    yield lambda: screen.scan(rescue)
    yield lambda: screen.scan(plant["side"])


@rule("GRAPHIC-SUPERSEDED")
def old_artwork(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = opened(at, plant)
    yield lambda: screen.scan(plant["side_b"])
    yield lambda: screen.scan(plant["side"])


@rule("GRAPHIC-TAKEN")
def zone_taken(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = opened(at, plant)
    screen.scan(plant["side"], positions="PORT")
    yield lambda: screen.scan(plant["side"], positions="PORT")
    yield lambda: screen.scan(plant["side"], positions="STARBOARD")


@rule("GRAPHIC-TAKEN")
def only_zone_taken(plant: Plant, at: Opens) -> Iterator[Scan]:
    """No zone is named: the one that this artwork is for has its graphic, which is no other order's."""
    screen = opened(at, plant)
    screen.scan(plant["capacity"])
    yield lambda: screen.scan(plant["capacity"])
    yield lambda: screen.scan(plant["side"])


@rule("TUB-NOT-WEIGHED")
def tub_not_weighed(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = opened(at, plant)
    [tub, *_] = weigh_all(plant)
    yield lambda: screen.scan(plant["tubs"][3])
    yield lambda: screen.scan(tub)


@rule("TUB-TIPPED")
def tub_scanned_twice(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = opened(at, plant)
    [tub, foam, _inner] = weigh_all(plant)
    screen.scan(tub)
    yield lambda: screen.scan(tub)
    yield lambda: screen.scan(foam)


@rule("TUB-OTHER-ORDER")
def tub_of_another_order(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = opened(at, plant)
    [tub, *_] = weigh_all(plant)
    define(plant, "works_order", "WO-1050", product="T430", colour="red", quantity=4, purpose="production")
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][2])
    plant.shift.scan(other_order(plant))
    yield lambda: screen.scan(plant["tubs"][3])
    yield lambda: screen.scan(tub)


def other_order(plant: Plant) -> Weigh:
    return Weigh(order="WO-1050", layer="skin", box=plant["red"], tub=plant["tubs"][3], scale="W-3", gross="12.20")


@rule("TUB-PART-WEIGHED")
def part_weighed(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = opened(at, plant)
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0], gross="5.00", part=True)
    yield lambda: screen.scan(plant["tubs"][0])
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][0], gross="7.20")
    yield lambda: screen.scan(plant["tubs"][0])


@rule("TUB-OTHER-LAYER")
def other_layer(plant: Plant, at: Opens) -> Iterator[Scan]:
    [tub, _foam, inner] = weigh_all(plant)
    define(plant, "product", "T430", layers=invented.products()["T430"]["layers"][:2])
    screen = opened(at, plant)
    yield lambda: screen.scan(inner)
    yield lambda: screen.scan(tub)


@rule("TUB-OTHER-MATERIAL")
def other_material(plant: Plant, at: Opens) -> Iterator[Scan]:
    """The recipe was changed after the foam was weighed, and the mould opened for the new one."""
    [tub, foam, _inner] = weigh_all(plant)
    skin, old, inner = invented.products()["T430"]["layers"]
    define(plant, "product", "T430", layers=[skin, {**old, "material": "MD-80"}, inner])
    screen = opened(at, plant)
    yield lambda: screen.scan(foam)
    yield lambda: screen.scan(tub)


@rule("LAYER-IN-ALREADY")
def layer_in(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = opened(at, plant)
    [tub, foam, _inner] = weigh_all(plant)
    screen.scan(tub)
    plant.shift.weigh("WO-1041", "skin", plant["red"], plant["tubs"][1])
    yield lambda: screen.scan(plant["tubs"][1])
    yield lambda: screen.scan(foam)


@rule("TUB-HELD")
def tub_held(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = opened(at, plant)
    [tub, foam, _inner] = weigh_all(plant)
    plant.shift.scan(Hold(code=tub, reason="spilt into"), person=QUALITY)
    yield lambda: screen.scan(tub)
    yield lambda: screen.scan(foam)


@rule("LOAD-LAYER-MISSING")
def layer_missing(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = filled(plant, at, without="inner")
    yield lambda: screen.press("close")
    yield lambda: tip(screen, plant)


def tip(screen: Screen, plant: Plant) -> Page:
    screen.scan(plant["drops"][1])
    return screen.press("close", counted="12")


@rule("LOAD-INSERTS-MISSING")
def inserts_missing(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = filled(plant, at, without="m6")
    yield lambda: screen.press("close")
    yield lambda: [screen.scan(plant["m6"]), screen.press("close", counted="12")][-1]


@rule("LOAD-GRAPHICS-MISSING")
def graphics_missing(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = filled(plant, at, without="capacity")
    yield lambda: screen.press("close")
    yield lambda: [screen.scan(plant["capacity"]), screen.press("close", counted="12")][-1]


@rule("COUNT-MISSING")
def not_counted(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = filled(plant, at)
    yield lambda: screen.press("close")
    yield lambda: screen.press("close", counted="12")


@rule("COUNT-DIFFERS")
def counted_as_many_as_placed(plant: Plant, at: Opens) -> Iterator[Scan]:
    """One is missing and the shift lead lets it pass: the eleven that were placed are counted, not twelve."""
    screen = opened(at, plant, LEAD)
    for code in (plant["m8"], plant["side"], plant["side"], plant["capacity"], *weigh_all(plant)):
        screen.scan(code)
    screen.scan(plant["m6"], positions="H1 H2 H3")
    assert "rule LOAD-INSERTS-MISSING" in screen.press("close", counted="12").verdict
    yield screen.override
    assert "rule LOAD-INSERTS-MISSING" in screen.press("close", counted="11").verdict
    yield screen.override


@rule("COUNT-DIFFERS")
def count_differs(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = filled(plant, at)
    yield lambda: screen.press("close", counted="11")
    yield lambda: screen.press("close", counted="12")


@rule("LOAD-HELD")
def held_since(plant: Plant, at: Opens) -> Iterator[Scan]:
    screen = filled(plant, at)
    plant.shift.scan(Hold(code=plant["m8"], reason="finish in doubt"), person=QUALITY)
    yield lambda: screen.press("close", counted="12")
    yield lambda: scans(screen, plant["T430-02"], plant["WO-1041"], plant["S1"])
