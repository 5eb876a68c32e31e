"""Mistakes and lies where moulds are made ready, filled and closed."""

from decimal import Decimal

from trace.measure.mistakes.floor import LAYERS, Floor
from trace.measure.mistakes.kind import Kinds, filled, load_weighed, two_loads_weighed
from trace.recording.acts.loading import CloseMould, PlaceGraphic, PlaceInserts, ReadyMould
from trace.recording.acts.tipping import TipTub

MOULD = Kinds()
MOULDS = (("T430-01", "S1"), ("T430-02", "S2"))


@MOULD.of("tub scanned at one mould and tipped into another", two_loads_weighed)
def other_mould(f: Floor, n: int) -> None:
    """Both are loaded for one order, side by side: one gets a layer twice, the other none."""
    k, layer = n % 3, LAYERS[n % 3]
    first, second = f.tubs(0), f.tubs(1)
    for mould, arm in MOULDS:
        f.ready(mould, arm=arm)
        f.furnish(mould)
    f.wrong(TipTub(mould="T430-01", tub=first[k]))
    f.pour("T430-02", first[k], layer)
    for mould, tubs in (("T430-01", first), ("T430-02", second)):
        for at, tub in zip(LAYERS, tubs, strict=True):
            if tub != first[k]:
                f.tip(mould, tub, at)
        f.close(mould)
    f.to_the_end(["T430-01"], "S1")
    f.to_the_end(["T430-02"], "S2")
    f.next_day()


@MOULD.of("tub of another order tipped")
def other_orders_tub(f: Floor, n: int) -> None:
    layer = LAYERS[n % 3]
    order = ("WO-2051", "WO-1042")[n % 2]
    tub = f.tubs()[n % 3]
    f.weigh_layer(order, layer, tub, box=f["lime"] if layer == "skin" else f.box_of(order, layer))
    f.ready()
    f.wrong(TipTub(mould="T430-01", tub=tub))


@MOULD.of("tubs of two layers exchanged", two_loads_weighed)
def exchanged_layers(f: Floor, n: int) -> None:
    """Of two loads side by side somebody takes the same layer's box twice."""
    k = 1 + n % 2
    first, second = f.tubs(0), f.tubs(1)
    f.ready()
    f.tip("T430-01", first[k], LAYERS[k])
    f.wrong(TipTub(mould="T430-01", tub=second[k]))


@MOULD.of("one tub tipped twice by the scans", load_weighed)
def tipped_twice(f: Floor, n: int) -> None:
    tubs = f.tubs()
    f.ready()
    f.tip("T430-01", tubs[n % 3], LAYERS[n % 3])
    f.wrong(TipTub(mould="T430-01", tub=tubs[n % 3]))


@MOULD.of("layer tipped and not scanned", load_weighed)
def unscanned_layer(f: Floor, n: int) -> None:
    tubs = f.tubs()
    f.ready()
    f.furnish("T430-01")
    for k, (layer, tub) in enumerate(zip(LAYERS, tubs, strict=True)):
        if k != n % 3:
            f.tip("T430-01", tub, layer)
    f.wrong(CloseMould(mould="T430-01", counted="12"))


@MOULD.of("layer scanned and not tipped", load_weighed)
def untipped_layer(f: Floor, n: int) -> None:
    tubs = f.tubs()
    f.ready()
    f.furnish("T430-01")
    for k, (layer, tub) in enumerate(zip(LAYERS, tubs, strict=True)):
        if k == n % 3:
            f.wrong(TipTub(mould="T430-01", tub=tub))
        else:
            f.tip("T430-01", tub, layer)
    f.close()
    f.to_the_end(["T430-01"])
    f.next_day()


@MOULD.of("part of a charge spilt and not said", load_weighed)
def spilt(f: Floor, n: int) -> None:
    tubs = f.tubs()
    f.unsaid()
    f.inside[tubs[n % 3]] -= Decimal("0.9") + Decimal(n % 4) / 2
    f.ready()
    f.furnish("T430-01")
    for layer, tub in zip(LAYERS, tubs, strict=True):
        f.tip("T430-01", tub, layer)
    f.close()
    f.to_the_end(["T430-01"])
    f.next_day()


@MOULD.of("unweighed tub tipped")
def unweighed(f: Floor, n: int) -> None:
    f.ready()
    f.wrong(TipTub(mould="T430-01", tub=f["drops" if n % 2 else "tubs"][n % 5]))


@MOULD.of("tub tipped that is weighed in part")
def part_weighed(f: Floor, n: int) -> None:
    layer = LAYERS[n % 3]
    tub = f.tubs()[n % 3]
    f.weigh_layer("WO-1041", layer, tub, Decimal("4.00"), part=True)
    f.ready()
    f.wrong(TipTub(mould="T430-01", tub=tub))


@MOULD.of("insert box ran out, the next one not scanned")
def inserts_ran_out(f: Floor, n: int) -> None:
    for k in range(2):
        mould, arm = MOULDS[k]
        f.ready(mould, arm=arm)
        f.scan(PlaceInserts(mould=mould, box=f["m8 few"]))
    f.ready("T430-03" if n % 2 else "T430-04", arm="S1" if n % 2 else "S2")
    f.wrong(PlaceInserts(mould="T430-03" if n % 2 else "T430-04", box=f["m8 few"]))


@MOULD.of("insert box exchanged before it was empty, not scanned")
def inserts_exchanged(f: Floor, n: int) -> None:
    """Another lot is in the hull than the record says; from then on the other box stands at the arm and is scanned by
    its label: at the next load, at the first of the next day, or never, where it was only lent."""
    f.unsaid()
    f.load_whole()
    f.to_the_end(["T430-01"])
    first = f["m8"]
    f.codes["m8"] = f["m8b"]
    if n % 4 < 2:
        f.load_whole("T430-03", n=1)
        f.to_the_end(["T430-03"])
    elif n % 4 == 3:
        f.codes["m8"] = first
    f.next_day()
    f.load_whole("T430-05", n=2)
    f.to_the_end(["T430-05"])


@MOULD.of("wrong part for the position")
def wrong_insert(f: Floor, n: int) -> None:
    f.ready()
    box = ("eyes", "m6", "m8")[n % 3]
    positions = {"eyes": ("S1",), "m6": (f"S{1 + n % 8}",), "m8": (f"H{1 + n % 4}",)}[box]
    f.wrong(PlaceInserts(mould="T430-01", box=f[box], positions=positions))


@MOULD.of("count one short")
def one_short(f: Floor, n: int) -> None:
    """Seen in the count, or left out of the record as well."""
    if n % 2:
        f.fill()
        f.wrong(CloseMould(mould="T430-01", counted=str(11 - n % 3)))
        return
    tubs = f.weigh_all()
    f.ready()
    f.scan(PlaceInserts(mould="T430-01", box=f["m8"], positions=tuple(f"S{k}" for k in range(1, 8))))
    f.scan(PlaceInserts(mould="T430-01", box=f["m6"]))
    for pack in (f["side"], f["side"], f["capacity"]):
        f.scan(PlaceGraphic(mould="T430-01", pack=pack))
    for layer, tub in zip(LAYERS, tubs, strict=True):
        f.tip("T430-01", tub, layer)
    f.wrong(CloseMould(mould="T430-01", counted="12"))


@MOULD.of("inserts not counted, the plan's number typed", filled)
def uncounted(f: Floor, n: int) -> None:
    """One position is empty. The checklist at inspection asks for the inserts."""
    f.wrong(CloseMould(mould="T430-01", counted="12"))
    f.bake(["T430-01"])
    plate = f.take_out("T430-01")
    f.inspect_hull(plate, f.mass("T430-01"), checks=("surface", "plate"))
    del n


@MOULD.of("artwork of an older revision")
def old_artwork(f: Floor, n: int) -> None:
    f.ready(*(("T430-01", "WO-1041", "S1"), ("T430-02", "WO-2051", "S2"))[n % 2])
    mould, zone = ("T430-01", "T430-02")[n % 2], ("PORT", "STARBOARD")[n // 2 % 2]
    f.wrong(PlaceGraphic(mould=mould, pack=f["side old"], zone=zone))


@MOULD.of("artwork of another model")
def other_artwork(f: Floor, n: int) -> None:
    f.ready()
    f.wrong(PlaceGraphic(mould="T430-01", pack=f["rescue"], zone=("PORT", "STARBOARD", "CAPACITY")[n % 3]))


@MOULD.of("artwork past its date")
def expired_artwork(f: Floor, n: int) -> None:
    f.clock.rest(60 * 24 * 900)  # type: ignore[union-attr]
    f.clock.morning()  # type: ignore[union-attr]
    f.ready()
    f.wrong(PlaceGraphic(mould="T430-01", pack=f[("side", "capacity")[n % 2]]))


@MOULD.of("graphic forgotten", load_weighed)
def no_graphic(f: Floor, n: int) -> None:
    tubs = f.tubs()
    f.ready()
    for box in (f["m8"], f["m6"]):
        f.scan(PlaceInserts(mould="T430-01", box=box))
    for pack in [f["side"], f["side"], f["capacity"]][n % 2 : 2 + n % 2]:
        f.scan(PlaceGraphic(mould="T430-01", pack=pack))
    for layer, tub in zip(LAYERS, tubs, strict=True):
        f.tip("T430-01", tub, layer)
    f.wrong(CloseMould(mould="T430-01", counted="12"))


@MOULD.of("mould of another model")
def other_models_mould(f: Floor, n: int) -> None:
    mould, order, arm = (("H320-01", "WO-1041", "S1"), ("T430-01", "WO-1042", "S1"), ("B60-01", "WO-1041", "A1"))[n % 3]
    f.wrong(ReadyMould(mould=mould, order=order, arm=arm))


@MOULD.of("mould on an arm it is not approved for, or on a place that is taken")
def wrong_arm(f: Floor, n: int) -> None:
    if n % 2:
        f.wrong(ReadyMould(mould="T430-03", order="WO-1041", arm="S2"))
    f.scan(ReadyMould(mould="T430-01", order="WO-1041", arm="S1", position="1"))
    f.wrong(ReadyMould(mould="T430-02", order="WO-1041", arm="S1", position="1"))


@MOULD.of("mould loaded a second time")
def loaded_again(f: Floor, n: int) -> None:
    f.ready()
    if n % 2:
        f.furnish("T430-01")
    else:
        f.tip("T430-01", f.weigh_all()[0], "skin")
    f.wrong(ReadyMould(mould="T430-01", order=("WO-1041", "WO-2051")[n // 2 % 2], arm="S1"))


@MOULD.of("mould that is on hold")
def held_mould(f: Floor, n: int) -> None:
    f.wrong(ReadyMould(mould="T430-09", order=("WO-1041", "WO-2051")[n % 2], arm=("S1", "S2")[n // 2 % 2]))


@MOULD.of("works order that has ended")
def ended_order(f: Floor, n: int) -> None:
    mould, arm = MOULDS[n % 2]
    f.wrong(ReadyMould(mould=mould, order="WO-2052", arm=arm))


@MOULD.of("something else coated on as release agent")
def wrong_agent(f: Floor, n: int) -> None:
    mould, arm = MOULDS[n % 2]
    box = f[("red", "foam", "rod", "natural2")[n % 4]]
    f.wrong(ReadyMould(mould=mould, order="WO-1041", arm=arm, agent=box))
