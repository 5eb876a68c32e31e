"""Honest days at the same plant: loads by day and night, part boxes, bag and box changes, top-ups, rework, trucks."""

from collections.abc import Iterator
from decimal import Decimal

from trace.demo.floor import WorkingClock
from trace.measure.mistakes.floor import LAYERS, Floor
from trace.recording.acts.counting import Count
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.packing import Rack
from trace.recording.acts.repairs import Repair
from trace.recording.acts.tubs import TipBack
from trace.recording.acts.vessels import TopUp

MOULDS = (("T430-01", "S1"), ("T430-02", "S2"), ("T430-03", "S1"), ("T430-04", "S2"))
A_DAY = 8


def days(f: Floor, loads: int) -> Iterator[int]:
    """So many loads from weighing to the truck; the number of each as it is done."""
    assert isinstance(f.clock, WorkingClock)  # noqa: S101
    waiting: list[str] = []
    f.made["labels before"] = len(f["hulls"])
    for n in range(loads):
        if n % A_DAY == 0:
            _morning(f, n // A_DAY)
        if n % A_DAY == A_DAY // 2:
            # The night shift goes on; after midnight it is the plant's same day.
            f.clock.rest(60 * 5)
            f.person = ("P-01", "P-03")[n // A_DAY % 2]
        waiting += [_load(f, n)]
        if n % A_DAY == A_DAY - 1:
            waiting = _truck(f, waiting)
        yield n + 1


def _morning(f: Floor, day: int) -> None:
    f.clock.morning()  # type: ignore[union-attr]
    f.person = "P-01"
    for scale in ("W-3", "W-4"):
        f.rest(1)
        f.check_scale(scale, f"10.0{f.rng.choice((0, 0, 0, 1))}0")
    if day % 2 == 0:
        made = f.scan(
            Receive(supplier="VERRIN", material="LL-35", lot_no=f"V-{4000 + day}", amounts=("250.00",),
                    note_no=f"DN-{4000 + day}", note_amount="250.00"),
            person="P-05", station="goods-in",
        ).made["codes"]  # fmt: skip
        f.certify_and_release(made[0], f"V-{4000 + day}", material="LL-35")
        f.scan(TopUp(source=made[0], into=f["natural"], amount="200"), person="P-05", station="top-up")
        # The part box goes back to its bay, with its label.
        f.scan(Rack(place="BAY-C3", units=(made[0],)), person="P-05", station="rack")
    if day % 3 == 1:
        # Another box of the part is taken, and the one before goes back to its bay.
        f.scan(Rack(place="BAY-C3", units=(f["m8"],)), person="P-05", station="rack")
        f.codes["m8"], f.codes["m8b"] = f["m8b"], f["m8"]
    if day % 3 == 2:
        used = f.made.get("labels", 0) + f.made.get("labels before", 0)
        f.scan(Count(box=f["capacity"], amount=str(400 - used), reason="stock count"), person="P-05", station="count")


def _load(f: Floor, n: int) -> str:
    """One hull; every fifth has two bags in its foam, every seventh is weighed anew, every sixth repaired, every fourth
    weighed and tipped tub by tub, to and fro between two screens."""
    mould, arm = MOULDS[n % 2]
    order = ("WO-1041", "WO-1041", "WO-2051")[n % 3]
    tubs = f.tubs(n % 3)
    by_tub = n % 4 == 3
    if by_tub:
        _made_ready(f, mould, order, arm)
    for layer, tub in zip(LAYERS, tubs, strict=True):
        _weighed(f, n, order, layer, tub)
        if by_tub:
            f.tip(mould, tub, layer)
    if not by_tub:
        _made_ready(f, mould, order, arm)
        for layer, tub in zip(LAYERS, tubs, strict=True):
            f.tip(mould, tub, layer)
    f.close(mould)
    f.bake([mould], arm)
    plate = f.take_out(mould)
    colour = "lime" if order == "WO-2051" else "red"
    f.inspect_hull(plate, f.mass(mould), colour)
    if n % 6 == 5:
        spot = sorted(f.thickness())[0]
        f.rest(30)
        weld = Repair(hull=plate, source=f["rod"], work="welded", spot=spot, amount="0.02")
        f.scan(weld, person="P-06", station="repairs")
        f.inspect_hull(plate, "", colour)
    f.rack(plate, ("R4-2", "R5-1")[n % 2])
    return plate + "|" + ("SO-223" if colour == "lime" else "SO-220")


def _weighed(f: Floor, n: int, order: str, layer: str, tub: str) -> None:
    if layer == "foam" and n % 5 == 4:
        _two_bags(f, order, tub, n // 5)
    else:
        f.weigh_layer(order, layer, tub)
    if layer == "skin" and n % 7 == 6:
        f.rest(2)
        f.scan(TipBack(tub=tub, into=f.box_of(order, layer)), station="weighing")
        f.weigh_layer(order, layer, tub)


def _made_ready(f: Floor, mould: str, order: str, arm: str) -> None:
    f.ready(mould, order, arm)
    f.furnish(mould)
    f.made["labels"] = f.made.get("labels", 0) + 1


def _two_bags(f: Floor, order: str, tub: str, k: int) -> None:
    """One bag gives what it has left, the next the rest."""
    first, second = f["foam bags"][k % 4], f["foam bags"][(k + 1) % 4]
    net = f.amount(order, "foam")
    left = f.made.get(f"left {first}", Decimal(25))
    part = min(left, Decimal("4.00"))
    f.weigh_layer(order, "foam", tub, part, box=first, part=True)
    f.rest(1)
    f.weigh_layer(order, "foam", tub, net - part, box=second)
    f.inside[tub] = net
    f.made[f"left {first}"] = left - part
    f.made[f"left {second}"] = f.made.get(f"left {second}", Decimal(25)) - (net - part)


def _truck(f: Floor, waiting: list[str]) -> list[str]:
    """What waits is packed and racked; a truck for each order takes all but one of them."""
    for order, consignee in (("SO-220", "WHARFE"), ("SO-223", "LOCKGATE")):
        packs = []
        for said in [one for one in waiting if one.endswith(order)]:
            packs.append(f.pack_hull(said.partition("|")[0], order))
            f.rest(2)
            f.rack(packs[-1], "DOCK")
        if packs:
            f.send(packs, order, consignee)
    return []
