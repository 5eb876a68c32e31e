"""Mistakes and lies at the oven, the cooling and the demould floor."""

from decimal import Decimal

from trace.measure.mistakes.floor import USUAL_MINUTES, Floor
from trace.measure.mistakes.kind import FIVE, PAIR, Kinds, baked, five_loaded, loaded, pair_loaded
from trace.recording.acts.cook import CookStage, EndCook, EndCooling
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.finishing import Inspect, Scrap
from trace.recording.acts.oven import StartCook

OVEN = Kinds()


def _start(mould: str = "T430-01", **more: object) -> StartCook:
    said = {"oven": "OVEN-2", "arm": "S1", "moulds": (mould,), "loggers": ("LG-1",), "set_c": "290", **more}
    return StartCook(**said)  # type: ignore[arg-type]


@OVEN.of("started with another mould's logger", loaded)
def other_logger(f: Floor, n: int) -> None:
    f.wrong(_start(loggers=(f"LG-{2 + n % 3}",)), station="oven")


@OVEN.of("logger not scanned")
def no_logger(f: Floor, n: int) -> None:
    mould, arm = (("T430-01", "S1"), ("T430-02", "S2"))[n % 2]
    f.load_whole(mould, arm=arm)
    f.wrong(_start(mould, arm=arm, loggers=()), station="oven")


@OVEN.of("arm or oven of another cook scanned", loaded)
def other_arm(f: Floor, n: int) -> None:
    f.wrong(_start(**({"arm": "S2"}, {"oven": "OVEN-1"}, {"arm": "A1", "oven": "OVEN-1"})[n % 3]), station="oven")


@OVEN.of("oven set for another product", loaded)
def wrong_setting(f: Floor, n: int) -> None:
    f.wrong(_start(set_c=("260", "320", "29", "310")[n % 4]), station="oven")


@OVEN.of("cook started before the mould was closed")
def not_closed(f: Floor, n: int) -> None:
    f.fill() if n % 2 else f.ready()
    f.wrong(_start(), station="oven")


@OVEN.of("second cook on an arm that is in one", loaded)
def second_cook(f: Floor, n: int) -> None:
    f.start(["T430-01"])
    if n % 2:
        f.wrong(_start(), station="oven")
    f.load_whole("T430-02", arm="S1", n=1)
    f.wrong(_start("T430-02", loggers=("LG-2",)), station="oven")


@OVEN.of("one of two moulds on the arm not scanned", pair_loaded)
def left_out(f: Floor, n: int) -> None:
    """It shows when it comes out."""
    here, other = PAIR[:: 1 if n % 2 else -1]
    f.wrong(_start(here, loggers=(f"LG-{here[-1]}",)), station="oven")
    f.stages([here])
    f.end(here)
    f.end(other)


@OVEN.of("arm stopped and not said", loaded)
def silent_stop(f: Floor, n: int) -> None:
    f.unsaid()
    stage = ("heat", "drop foam", "drop inner", "out")[n % 4]
    f.bake(["T430-01"], minutes={**USUAL_MINUTES, stage: USUAL_MINUTES[stage] + 8 + 3 * (n % 3)})
    plate = f.take_out("T430-01")
    f.inspect_hull(plate, f.mass("T430-01"))
    f.next_day()
    f.send([f.pack_hull(plate)])


@OVEN.of("stages ticked off together at the end", loaded)
def stages_at_once(f: Floor, n: int) -> None:
    """Nobody was there when they were due."""
    f.start(["T430-01"])
    f.unsaid()
    f.rest(32 + n % 4)
    f.stages(["T430-01"], dict.fromkeys(USUAL_MINUTES, 0))
    f.end("T430-01")
    f.rest(24)
    f.cooled("T430-01")
    plate = f.take_out("T430-01")
    f.inspect_hull(plate, f.mass("T430-01"))
    f.next_day()
    f.send([f.pack_hull(plate)])


@OVEN.of("cook ended too early", loaded)
def short_cook(f: Floor, n: int) -> None:
    f.unsaid()
    f.bake(["T430-01"], minutes={**USUAL_MINUTES, "heat": 4 + n % 3, "out": 2})
    plate = f.take_out("T430-01")
    f.inspect_hull(plate, f.mass("T430-01"))
    f.next_day()
    f.send([f.pack_hull(plate)])


@OVEN.of("drop box did not open, said that it did", loaded)
def no_drop(f: Floor, n: int) -> None:
    f.unsaid()
    f.loaded["T430-01"][("foam", "inner")[n % 2]] = Decimal(0)
    f.to_the_end(["T430-01"])
    f.next_day()


@OVEN.of("stage passed over, or said in another order", loaded)
def skipped(f: Floor, n: int) -> None:
    f.start(["T430-01"])
    stages = list(USUAL_MINUTES)
    if n % 2:
        left = [stage for stage in stages if stage != stages[n % 4]]
        f.when = "scan"
        f.stages(["T430-01"], dict.fromkeys(left, 7))
        f.wrong(EndCook(mould="T430-01", piat="208", log="attached", stages=tuple(left)), station="oven")
    f.stages(["T430-01"], {"heat": 14})
    f.wrong(CookStage(mould="T430-01", stage="drop inner", temperature="160"), station="oven")
    f.scan(CookStage(mould="T430-01", stage="drop foam", temperature="160"), station="oven")


@OVEN.of("end said of the mould on the other arm")
def other_end(f: Floor, n: int) -> None:
    """That is still cooking."""
    f.load_whole("T430-01", arm="S1")
    f.load_whole("T430-02", arm="S2", n=1)
    f.start(["T430-01"], "S1")
    f.start(["T430-02"], "S2")
    f.stages(["T430-01"])
    f.wrong(EndCook(mould="T430-02", piat="208", log="attached", stages=tuple(USUAL_MINUTES)[: n % 4]), station="oven")


@OVEN.of("no oven log", loaded)
def no_log(f: Floor, n: int) -> None:
    f.start(["T430-01"])
    f.stages(["T430-01"])
    end = EndCook(mould="T430-01", piat="208" if n % 2 else "", log="missing", stages=tuple(USUAL_MINUTES))
    f.wrong(end, station="oven")


@OVEN.of("peak outside its window", loaded)
def outside(f: Floor, n: int) -> None:
    f.start(["T430-01"])
    f.stages(["T430-01"])
    f.wrong(
        EndCook(mould="T430-01", piat=("196.4", "224", "20.8", "")[n % 4], log="attached", stages=tuple(USUAL_MINUTES)),
        station="oven",
    )  # fmt: skip


@OVEN.of("peak copied from the cycles before", five_loaded)
def copied_peak(f: Floor, n: int) -> None:
    """Cycle after cycle the same, to the tenth of a degree."""
    f.unsaid()
    for mould, arm in FIVE:
        f.start([mould], arm)
        f.stages([mould])
        f.end(mould, piat=f"20{7 + n % 3}.4")
        f.rest(24)
        f.cooled(mould)
    f.next_day()


@OVEN.of("demould temperature not read, always the same written", five_loaded)
def copied_demould(f: Floor, n: int) -> None:
    f.unsaid()
    for mould, arm in FIVE:
        f.start([mould], arm)
        f.stages([mould])
        f.end(mould)
        f.rest(24)
        f.cooled(mould, str(45 + n % 4))
    f.next_day()


@OVEN.of("demoulded hot", loaded)
def hot(f: Floor, n: int) -> None:
    f.start(["T430-01"])
    f.stages(["T430-01"])
    f.end("T430-01")
    f.wrong(EndCooling(mould="T430-01", demould_c=("61", "75", "68.5", "")[n % 4]), station="oven")


# The demould floor.


@OVEN.of("demoulded against the wrong mould")
def wrong_mould(f: Floor, n: int) -> None:
    """It is empty, in the oven, or waits as well: then the next one is refused."""
    if n % 3 == 0:
        f.load_whole()
        f.bake(["T430-01"])
        f.wrong(Demould(mould="T430-02"), station="demould")
    elif n % 3 == 1:
        f.load_whole("T430-02", arm="S2")
        f.start(["T430-02"], "S2")
        f.wrong(Demould(mould="T430-02"), station="demould")
    else:
        f.load_whole("T430-01", arm="S1")
        f.load_whole("T430-02", arm="S1", n=1)
        f.bake(list(PAIR))
        f.wrong(Demould(mould="T430-02"), station="demould")
        f.scan(Bind(mould="T430-02", plate=f.plate()), station="demould")
        f.scan(Demould(mould="T430-02"), station="demould")


def _two(f: Floor, *, second: str = "WO-1041", apart: str = "0") -> None:
    """Two moulds on one arm; by how much the second's charges lie above the first's."""
    for k, (mould, order) in enumerate(zip(PAIR, ("WO-1041", second), strict=True)):
        tubs = f.tubs(k)
        for layer, tub in zip(("skin", "foam", "inner"), tubs, strict=True):
            f.weigh_layer(order, layer, tub, f.target(order, layer) + Decimal(apart) * (1 if k else -1))
        f.ready(mould, order, "S1")
        f.furnish(mould)
        for layer, tub in zip(("skin", "foam", "inner"), tubs, strict=True):
            f.tip(mould, tub, layer)
        f.close(mould)
    f.bake(list(PAIR))


@OVEN.of("plates crossed off an arm of two moulds")
def crossed(f: Floor, n: int) -> None:
    """Of two colours; both lie on the floor and are bound one after the other; riveted crosswise, with charges that
    differ, or alike."""
    second = "WO-2051" if n % 4 == 0 else "WO-1041"
    _two(f, second=second, apart="0.06" if n % 4 == 2 else "0.02")
    one, other = f.plate(), f.plate()
    f.unsaid()
    if n % 4 == 1:
        for mould in PAIR:
            f.scan(Demould(mould=mould), station="demould", person="P-04")
        f.rest(2)
        for mould, plate in zip(PAIR, (one, other), strict=True):
            f.scan(Bind(mould=mould, plate=plate), station="demould", person="P-04")
    else:
        for mould, plate in zip(PAIR, (one, other), strict=True):
            f.take_out(mould, plate)
    f.inspect_hull(one, f.mass(PAIR[1]), "lime" if second == "WO-2051" else "red")
    f.inspect_hull(other, f.mass(PAIR[0]), "red")
    f.next_day()
    f.send([f.pack_hull(one), f.pack_hull(other)])


@OVEN.of("plate used twice", baked)
def used_plate(f: Floor, n: int) -> None:
    f.scan(Demould(mould="T430-01"), station="demould")
    f.wrong(Bind(mould="T430-01", plate=f["hulls"][n % len(f["hulls"])]), station="demould")


@OVEN.of("plate of a scrapped hull put on another")
def scrapped_plate(f: Floor, n: int) -> None:
    old = f["hulls"][n % len(f["hulls"])]
    if n % 2:
        f.wrong(Scrap(unit=old, plate_destroyed=False, reason="crack"), person="P-06", station="scrap")
    f.scan(Scrap(unit=old, plate_destroyed=True, reason="crack"), person="P-06", station="scrap")
    f.load_whole()
    f.bake(["T430-01"])
    f.scan(Demould(mould="T430-01"), station="demould")
    f.wrong(Bind(mould="T430-01", plate=old), station="demould")


@OVEN.of("plate of another model, another month, or never given out", baked)
def strange_plate(f: Floor, n: int) -> None:
    f.scan(Demould(mould="T430-01"), station="demould")
    if n % 3 == 0:
        plate = f.plate("B60")
    elif n % 3 == 1:
        f.plates("T430", ["GHM-T430-009901"], f"{f.now().year - 1}-03")
        plate = "GHM-T430-009901"
    else:
        plate = "GHM-T430-009955"
    f.wrong(Bind(mould="T430-01", plate=plate), station="demould")


@OVEN.of("mouldings left lying, plated hours later", baked)
def bound_late(f: Floor, n: int) -> None:
    f.scan(Demould(mould="T430-01"), station="demould")
    f.rest(45 + 60 * (n % 4))
    f.wrong(Bind(mould="T430-01", plate=f.plate()), station="demould")


@OVEN.of("inspected before it was demoulded")
def inspected_early(f: Floor, n: int) -> None:
    plate = f.plate()
    f.load_whole()
    if n % 2:
        f.bake(["T430-01"])
    f.wrong(Inspect(hull=plate, verdict="pass", checks=("surface", "inserts", "plate"), thickness=f.thickness()),
            person="P-06", station="inspect")  # fmt: skip


@OVEN.of("hull not weighed, a mass made up or copied", five_loaded)
def copied_mass(f: Floor, n: int) -> None:
    """The mass of the one before, five times; or a light hull's, written as it should be."""
    f.unsaid()
    mass = f"28.{90 + n % 9}"
    for mould, arm in FIVE:
        f.bake([mould], arm)
        f.inspect_hull(f.take_out(mould), mass)
    f.next_day()
