"""Mistakes and lies at the weighing station."""

from datetime import timedelta
from decimal import Decimal

from trace.measure.mistakes.floor import LAYERS, Floor
from trace.measure.mistakes.kind import Kinds
from trace.measure.mistakes.plant import TARE
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.holds import Hold
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.tubs import TipBack
from trace.recording.acts.weighing import CheckWeight

SCALE = Kinds()
ORDER = "WO-1041"


def _tub(f: Floor, layer: str, n: int = 0) -> str:
    return f.tubs(n)[LAYERS.index(layer)]


def _layer(n: int) -> str:
    return LAYERS[n % 3]


@SCALE.of("wrong box for the layer")
def wrong_box(f: Floor, n: int) -> None:
    layer = _layer(n)
    right = {"skin": "red", "foam": "foam", "inner": "natural2"}[layer]
    other = f.rng.choice([box for box in ("red", "lime", "hard", "foam", "natural2", "m8") if box != right])
    f.wrong(f.weighing(ORDER, layer, _tub(f, layer), box=f[other]), station="weighing")


@SCALE.of("gross written as net")
def gross_as_net(f: Floor, n: int) -> None:
    layer = _layer(n)
    f.wrong(f.weighing(ORDER, layer, _tub(f, layer), tare="0"), station="weighing")


@SCALE.of("filled until the scale showed the target with the tub on it")
def target_with_tub(f: Floor, n: int) -> None:
    """So much too little is in it; the tare is typed, or left out."""
    layer = _layer(n)
    tub, tare = _tub(f, layer), Decimal(TARE["tub" if layer == "skin" else "drop_box"])
    command = f.weighing(ORDER, layer, tub, gross=str(f.target(ORDER, layer)), tare=str(tare) if n % 2 else "0")
    f.inside[tub] = f.target(ORDER, layer) - tare
    f.wrong(command, station="weighing")


@SCALE.of("tare taken off twice")
def tare_twice(f: Floor, n: int) -> None:
    """The scale was zeroed with the tub on it, and its tare is typed too."""
    layer = _layer(n)
    net = f.amount(ORDER, layer)
    f.wrong(f.weighing(ORDER, layer, _tub(f, layer), gross=str(net)), station="weighing")


@SCALE.of("tare of another kind of tub")
def other_tare(f: Floor, n: int) -> None:
    layer = _layer(n)
    other = TARE["drop_box" if layer == "skin" else "tub"]
    tub, net = _tub(f, layer), f.amount(ORDER, layer)
    own = Decimal(TARE["tub" if layer == "skin" else "drop_box"])
    f.wrong(f.weighing(ORDER, layer, tub, gross=str(net + own), tare=other), station="weighing")


@SCALE.of("digits exchanged or point lost")
def exchanged_digits(f: Floor, n: int) -> None:
    layer = _layer(n)
    gross = str(f.amount(ORDER, layer) + Decimal(TARE["tub" if layer == "skin" else "drop_box"]))
    whole, _point, part = gross.partition(".")
    mistyped = (f"{whole}{part}", f"{whole[::-1]}.{part}", f"{whole}.9{part}", f"{whole[0]}.{part}")
    found = next(text for text in mistyped[n % 4 :] + mistyped if abs(Decimal(text) - Decimal(gross)) > Decimal("0.15"))
    f.wrong(f.weighing(ORDER, layer, _tub(f, layer), gross=found), station="weighing")


@SCALE.of("box ran out, the next one poured and not scanned")
def next_bag(f: Floor, n: int) -> None:
    if n % 2:
        bag, layer, first = f["foam bags"][n % 4], "foam", 2
    else:
        bag, layer, first = f["small red"][n // 2 % 2], "skin", 4
    for k in range(first):
        f.weigh_layer(ORDER, layer, f["tubs" if layer == "skin" else "drops"][k + 1], box=bag)
    f.wrong(f.weighing(ORDER, layer, _tub(f, layer), box=bag), station="weighing")


@SCALE.of("poured from another box of the same material than was scanned")
def other_box(f: Floor, n: int) -> None:
    """It shows once the scanned one is used up by the book, and by what is left in the other."""
    small = f["small red"][n % 2]
    for k in range(n % 3):
        f.weigh_layer(ORDER, "skin", f["tubs"][k + 1], box=small)
    f.wrong(f.weighing(ORDER, "skin", f["tubs"][0], box=small), station="weighing")
    for k in range(n % 3 + 1, 5):
        f.weigh_layer(ORDER, "skin", f["tubs"][k], box=small)
    f.next_day()


@SCALE.of("scale off, no check-weight")
def scale_off(f: Floor, n: int) -> None:
    """The first weighing of a day, or one of a scale that nobody checked."""
    f.clock.morning()  # type: ignore[union-attr]
    layer = _layer(n)
    f.wrong(f.weighing(ORDER, layer, _tub(f, layer), scale=("W-3", "W-4")[n % 2]), station="weighing")


@SCALE.of("scale drifts after its check-weight")
def scale_drifts(f: Floor, n: int) -> None:
    """It reads a little low; its next check fails, and the hulls weigh more than was charged."""
    reads = Decimal("0.98") - Decimal(n % 3) / 100
    f.unsaid()
    for layer, tub in zip(LAYERS, f.tubs(), strict=True):
        f.weigh_layer(ORDER, layer, tub)
        f.inside[tub] /= reads
    f.ready()
    f.furnish("T430-01")
    for layer, tub in zip(LAYERS, f.tubs(), strict=True):
        f.tip("T430-01", tub, layer)
    f.close()
    f.to_the_end(["T430-01"])
    f.look("shift")
    f.clock.morning()  # type: ignore[union-attr]
    f.when = "gate"
    shown = str((Decimal(10) * reads).quantize(Decimal("0.001")))
    f.scan(CheckWeight(scale="W-3", shown=shown), station="weighing")


@SCALE.of("check-weight failed, weighed on it all the same")
def failed_scale(f: Floor, n: int) -> None:
    f._said(CheckWeight(scale="W-3", shown="9.93"), station="weighing")
    layer = _layer(n)
    f.wrong(f.weighing(ORDER, layer, _tub(f, layer)), station="weighing")


@SCALE.of("check-weight not done and its mass typed")
def copied_check(f: Floor, n: int) -> None:
    """Morning after morning exactly the mass, while the scale is off: the hulls weigh something else."""
    del n
    scale_drifts(f, 2)


@SCALE.of("scale past its calibration")
def overdue_scale(f: Floor, n: int) -> None:
    layer = _layer(n)
    f.wrong(f.weighing(ORDER, layer, _tub(f, layer), scale="W-5"), station="weighing")


@SCALE.of("weight copied from the charges before")
def copied_weight(f: Floor, n: int) -> None:
    """Charge after charge gets the figure of the first: nobody looks at the scale any more."""
    layer = _layer(n)
    net = f.amount(ORDER, layer)
    tubs = f.carriers("tub" if layer == "skin" else "drop_box", 9)
    f.weigh_layer(ORDER, layer, tubs[0], net)
    f.unsaid()
    for tub in tubs[1:]:
        f.weigh_layer(ORDER, layer, tub, net)
    f.next_day()


@SCALE.of("weights made up, in round figures")
def round_weights(f: Floor, n: int) -> None:
    """Many charges, each ending in the digits that come to mind."""
    likes = ("05", "0", "5", "28")[n % 4]
    layer = _layer(n)
    f.unsaid()
    for tub in f.carriers("tub" if layer == "skin" else "drop_box", 26):
        near = [f"{f.target(ORDER, layer) + Decimal(off) / 100:.2f}" for off in range(-8, 9)]
        f.weigh_layer(ORDER, layer, tub, Decimal(f.rng.choice([text for text in near if text[-1] in likes])))
    f.next_day()


@SCALE.of("charges told one after the other, quicker than powder pours")
def quick_charges(f: Floor, n: int) -> None:
    """At the end of the shift, from memory."""
    f.unsaid()
    for tub in f["tubs" if n % 2 else "drops"][: 4 + n % 3]:
        layer = "skin" if n % 2 else "foam"
        f.scan(f.weighing(ORDER, layer, tub), station="weighing")
        f.clock.now -= timedelta(seconds=31 - n % 4)  # type: ignore[union-attr]
    f.next_day()


@SCALE.of("weighed for another works order")
def other_order(f: Floor, n: int) -> None:
    """The powder is right for both: it shows when the tub is tipped."""
    layer = ("foam", "inner")[n % 2]
    tub = _tub(f, layer)
    f.wrong(f.weighing("WO-2051" if n % 3 else "WO-1042", layer, tub, f.target(ORDER, layer)), station="weighing")
    f.ready()
    f.scan(TipTub(mould="T430-01", tub=tub))


@SCALE.of("weighed into a tub that is full")
def full_tub(f: Floor, n: int) -> None:
    layer = _layer(n)
    tub = _tub(f, layer)
    f.weigh_layer(ORDER, layer, tub)
    f.wrong(f.weighing(("WO-1041", "WO-2051")[n % 2], layer, tub), station="weighing")


@SCALE.of("drop box's charge weighed into a tub")
def wrong_tub_kind(f: Floor, n: int) -> None:
    layer = _layer(n)
    f.wrong(f.weighing(ORDER, layer, f["drops"][3] if layer == "skin" else f["tubs"][2]), station="weighing")


@SCALE.of("foam over its open life")
def open_life(f: Floor, n: int) -> None:
    f.weigh_layer(ORDER, "foam", f["drops"][4], box=f["foam bags"][0])
    f.clock.rest(60 * 24 * (31 + n))  # type: ignore[union-attr]
    f.clock.morning()  # type: ignore[union-attr]
    f.check_scale()
    f.wrong(f.weighing(ORDER, "foam", f["drops"][0], box=f["foam bags"][0]), station="weighing")


@SCALE.of("powder past its date")
def expired(f: Floor, n: int) -> None:
    f.clock.rest(60 * 24 * 900)  # type: ignore[union-attr]
    f.clock.morning()  # type: ignore[union-attr]
    f.check_scale()
    f.wrong(f.weighing(ORDER, "foam", f["drops"][0], box=f["foam bags"][1 + n % 3] if n % 2 else f["foam"]),
            station="weighing")  # fmt: skip


@SCALE.of("lot on hold, its code typed by hand")
def held_lot(f: Floor, n: int) -> None:
    box, layer = (("red", "skin"), ("foam", "foam"), ("natural", "inner"))[n % 3]
    f.scan(Hold(code=f[box], reason="density query"), person="P-06", station="hold")
    code = f[box] if n % 2 else f"{f[box][:4]}-{f[box][4:]}".lower()
    f.wrong(f.weighing(ORDER, layer, _tub(f, layer), box=code), station="weighing")


@SCALE.of("code typed with a wrong character")
def mistyped_code(f: Floor, n: int) -> None:
    code = f["red"]
    at = 1 + n % 6
    other = f.rng.choice([c for c in "234679ACDEFGHJKLMNPQRTUVWXY" if c != code[at]])
    f.wrong(f.weighing(ORDER, "skin", f["tubs"][0], box=f"{code[:at]}{other}{code[at + 1:]}"), station="weighing")


@SCALE.of("lot not released yet")
def quarantine(f: Floor, n: int) -> None:
    supplier, material, layer = (
        ("VERRIN", "LL-35 red", "skin"), ("DUNSAY", "FM-22", "foam"), ("VERRIN", "LL-35", "inner"),
    )[n % 3]  # fmt: skip
    answer = f.scan(
        Receive(supplier=supplier, material=material, lot_no=f"Q-{n}", amounts=("100.00",), note_no=f"DN-Q{n}"),
        person="P-05", station="goods-in",
    )  # fmt: skip
    f.wrong(f.weighing(ORDER, layer, _tub(f, layer), box=answer.made["codes"][0]), station="weighing")


@SCALE.of("swept powder tipped back")
def swept_back(f: Floor, n: int) -> None:
    """Told as what came out of an empty tub, into another box, or not at all: then the box gives more than it held."""
    if n % 3 == 0:
        f.wrong(TipBack(tub=f["tubs"][3], into=f["red"]), station="weighing")
    elif n % 3 == 1:
        f.weigh_layer(ORDER, "skin", f["tubs"][3])
        f.wrong(TipBack(tub=f["tubs"][3], into=f["lime"]), station="weighing")
    else:
        f.unsaid()
        box = f["small red"][0]
        for k in range(4):
            f.weigh_layer(ORDER, "skin", f["tubs"][k], box=box)
        # 50 kg were in it, and 4 kg of sweepings: the fifth charge takes the rest and what was swept.
        f.weigh_layer(ORDER, "skin", f["tubs"][4], Decimal("5.20"), box=box, part=True)
    f.next_day()


@SCALE.of("weighed on another scale than was scanned")
def other_scale(f: Floor, n: int) -> None:
    """That shows coarser steps: every figure ends alike; a finer one shows what the scanned one cannot."""
    f.unsaid()
    layer = _layer(n)
    if n % 2:
        net = f.amount(ORDER, layer)
        gross = net + Decimal(TARE["tub" if layer == "skin" else "drop_box"]) + Decimal("0.004")
        f.wrong(f.weighing(ORDER, layer, _tub(f, layer), gross=str(gross)), station="weighing")
        return
    for tub in f.carriers("tub" if layer == "skin" else "drop_box", 24):
        step = Decimal("0.05")
        f.weigh_layer(ORDER, layer, tub, (f.amount(ORDER, layer) / step).to_integral_value() * step)
    f.next_day()
