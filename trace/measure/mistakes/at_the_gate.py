"""Mistakes and lies at inspection, packing, the racks and the truck."""

from trace.measure.mistakes.floor import Floor
from trace.measure.mistakes.kind import Kinds, baked
from trace.measure.mistakes.records import read_before
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.holds import Hold
from trace.recording.acts.packing import Dispatch, Pack, Rack
from trace.recording.acts.repairs import Repair
from trace.recording.acts.returns import Return

GATE = Kinds()


def _hull(f: Floor, n: int) -> str:
    return str(f["hulls"][n % len(f["hulls"])])


def _pass(f: Floor, plate: str, **more: object) -> Inspect:
    said = {"verdict": "pass", "checks": ("surface", "inserts", "plate"), "thickness": f.thickness(), **more}
    return Inspect(hull=plate, **said)  # type: ignore[arg-type]


@GATE.of("passed with something left out", baked)
def left_out(f: Floor, n: int) -> None:
    plate = f.take_out("T430-01")
    zones = f.thickness()
    zones.pop(sorted(zones)[n % len(zones)])
    f.wrong(_pass(f, plate, **({"checks": ("surface", "plate")} if n % 2 else {"thickness": zones})),
            person="P-06", station="inspect")  # fmt: skip


@GATE.of("thickness in another unit, or too thin")
def wrong_thickness(f: Floor, n: int) -> None:
    zones = f.thickness()
    zone = sorted(zones)[n % len(zones)]
    f.wrong(_pass(f, _hull(f, n), thickness={**zones, zone: ("0.41", "3.1", "410", "-4")[n % 4]}),
            person="P-06", station="inspect")  # fmt: skip


@GATE.of("thickness copied from the hull before", baked)
def copied_thickness(f: Floor, n: int) -> None:
    """Every zone to the hundredth of a millimetre."""
    plate = f.take_out("T430-01")
    f.unsaid()
    f.inspect_hull(plate, f.mass("T430-01"), thickness=read_before(_hull(f, n)))
    f.next_day()


@GATE.of("thickness not read, one figure for every zone", baked)
def one_thickness(f: Floor, n: int) -> None:
    plate = f.take_out("T430-01")
    f.unsaid()
    f.inspect_hull(plate, f.mass("T430-01"), thickness=dict.fromkeys(f.thickness(), f"4.{n % 9}"))
    f.next_day()


@GATE.of("seen in another colour than it was made")
def other_colour(f: Floor, n: int) -> None:
    f.wrong(_pass(f, _hull(f, n), colour=("lime", "teal")[n % 2]), person="P-06", station="inspect")


@GATE.of("held hull passed")
def held_passed(f: Floor, n: int) -> None:
    f.scan(Hold(code=_hull(f, n), reason="look at the keel"), person="P-06", station="hold")
    f.wrong(_pass(f, _hull(f, n)), person="P-06", station="inspect")


@GATE.of("packed on the wrong order")
def wrong_order(f: Floor, n: int) -> None:
    """Of another model or colour; or one that asks for the same: then it shows at the truck."""
    order = ("SO-222", "SO-223", "SO-221")[n % 3]
    plate = _hull(f, n)
    answer = f.wrong(Pack(order=order, hulls=(plate,)), person="P-07", station="pack")
    f.next_day()
    f.send([answer.made["codes"][0]], "SO-220")


@GATE.of("more packed than was ordered")
def too_many(f: Floor, n: int) -> None:
    f.pack_hull(_hull(f, n), "SO-224")
    f.wrong(Pack(order="SO-224", hulls=(_hull(f, n + 1),)), person="P-07", station="pack")


@GATE.of("packed twice")
def packed_twice(f: Floor, n: int) -> None:
    f.pack_hull(_hull(f, n))
    f.wrong(Pack(order=("SO-220", "SO-221")[n % 2], hulls=(_hull(f, n),)), person="P-07", station="pack")


@GATE.of("packed without inspection", baked)
def not_inspected(f: Floor, n: int) -> None:
    plate = f.take_out("T430-01")
    if n % 2:
        f._said(_pass(f, plate, verdict="fail"), person="P-06", station="inspect")
    f.wrong(Pack(order="SO-220", hulls=(plate,)), person="P-07", station="pack")


@GATE.of("repaired and packed without a second look")
def repaired(f: Floor, n: int) -> None:
    spot = sorted(f.thickness())[n % 3]
    weld = Repair(hull=_hull(f, n), source=f["rod"], work="welded", spot=spot, amount="0.02")
    f.scan(weld, person="P-06", station="repairs")
    f.wrong(Pack(order="SO-220", hulls=(_hull(f, n),)), person="P-07", station="pack")


@GATE.of("held after it was packed, put on the truck")
def held_sent(f: Floor, n: int) -> None:
    pack = f.pack_hull(_hull(f, n))
    hold = Hold(code=f["red"] if n % 2 else _hull(f, n), reason="crack found on its sister")
    f.scan(hold, person="P-06", station="hold")
    load = Dispatch(order="SO-220", packs=(pack,), consignee="WHARFE", vehicle="GH24 KAY")
    f.wrong(load, person="P-07", station="dispatch")


@GATE.of("pack of another order on the truck, or for another door")
def wrong_truck(f: Floor, n: int) -> None:
    pack = f.pack_hull(_hull(f, n), ("SO-221", "SO-220")[n % 2])
    f.wrong(Dispatch(order="SO-220", packs=(pack,), consignee=("WHARFE", "LOCKGATE")[n % 2], vehicle="GH24 KAY"),
            person="P-07", station="dispatch")  # fmt: skip


@GATE.of("hull on the truck that was never packed, or a truck that nobody names")
def bare_hull(f: Floor, n: int) -> None:
    code = f.pack_hull(_hull(f, n)) if n % 2 else _hull(f, n)
    f.wrong(Dispatch(order="SO-220", packs=(code,), consignee="WHARFE", vehicle="" if n % 2 else "GH24 KAY"),
            person="P-07", station="dispatch")  # fmt: skip


@GATE.of("went on the truck without a scan")
def unscanned_truck(f: Floor, n: int) -> None:
    """By the records it stands in its rack while the rest of its order has gone."""
    packs = [f.pack_hull(_hull(f, n + k)) for k in range(3)]
    for pack in packs:
        f.rack(pack)
    f.send(packs[:2])
    f.unsaid()
    f.next_day()


@GATE.of("racked in two places")
def two_racks(f: Floor, n: int) -> None:
    """A label scanned at one rack, and within minutes at another."""
    pack = f.pack_hull(_hull(f, n))
    f.rack(pack, ("R4-2", "R5-1")[n % 2])
    f.rest(1 + n % 3)
    f.wrong(Rack(place=("R5-1", "R4-2")[n % 2], units=(pack,)), person="P-07", station="rack")
    f.next_day()


@GATE.of("racked after it had left")
def racked_gone(f: Floor, n: int) -> None:
    pack = f.pack_hull(_hull(f, n))
    f.send([pack])
    f.wrong(Rack(place="R5-1", units=(pack if n % 2 else _hull(f, n),)), person="P-07", station="rack")


@GATE.of("came back and packed as new")
def returned(f: Floor, n: int) -> None:
    f.send([f.pack_hull(_hull(f, n))])
    f._said(Return(hull=_hull(f, n), place="DOCK", consignee="WHARFE"), person="P-07", station="returns")
    f.wrong(Pack(order=("SO-220", "SO-221")[n % 2], hulls=(_hull(f, n),)), person="P-07", station="pack")


@GATE.of("trial moulding given a plate")
def trial(f: Floor, n: int) -> None:
    mould, arm = (("T430-01", "S1"), ("T430-02", "S2"))[n % 2]
    f.load_whole(mould, "WO-1044", arm)
    f.bake([mould], arm)
    plate = f.plate()
    f.scan(Demould(mould=mould), station="demould")
    f.wrong(Bind(mould=mould, plate=plate), station="demould")


@GATE.of("one hull scanned twice into a pack")
def same_twice(f: Floor, n: int) -> None:
    f.wrong(Pack(order="SO-220", hulls=(_hull(f, n), _hull(f, n))), person="P-07", station="pack")
