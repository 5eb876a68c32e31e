"""Mistakes and lies with deliveries, vessels, part boxes, counts; with people, badges and times."""

from datetime import timedelta

from trace.measure.mistakes.floor import Floor
from trace.measure.mistakes.kind import Kinds
from trace.recording.acts.counting import Count
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.goods_in import Certify, Receive, Release
from trace.recording.acts.loading import PlaceInserts, ReadyMould
from trace.recording.acts.opening import OpeningStock
from trace.recording.acts.packing import Rack
from trace.recording.acts.sampling import TakeSample
from trace.recording.acts.scrapping import ScrapStock
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import ProveEmpty, TopUp

STORES = Kinds()
BY_STORES = {"person": "P-05", "station": "goods-in"}


def _receive(n: int, **more: object) -> Receive:
    said = {
        "supplier": "VERRIN", "material": "LL-35 red", "lot_no": f"V-{3000 + n}", "amounts": ("500.00",),
        "note_no": f"DN-{3000 + n}", "note_amount": "500.00", **more,
    }  # fmt: skip
    return Receive(**said)  # type: ignore[arg-type]


@STORES.of("bags counted wrong at the dock")
def miscounted(f: Floor, n: int) -> None:
    bags = ("25.00",) * (18 + n % 2 * 3)
    f.wrong(_receive(n, amounts=bags), **BY_STORES)


@STORES.of("delivery booked twice")
def booked_twice(f: Floor, n: int) -> None:
    f.scan(_receive(n), **BY_STORES)
    f.wrong(_receive(n), **BY_STORES)


@STORES.of("supplier not approved for the material")
def unapproved(f: Floor, n: int) -> None:
    supplier, material = (("VERRIN", "FM-22"), ("DUNSAY", "LL-35 red"), ("MARROW", "LL-35"), ("TOLBY", "M8-N"))[n % 4]
    f.wrong(_receive(n, supplier=supplier, material=material, note_amount=""), **BY_STORES)


@STORES.of("tanker's seal is another")
def other_seal(f: Floor, n: int) -> None:
    f.wrong(_receive(n, seal_paper=f"SL-88{n}", seal_seen=f"SL-89{n}"), **BY_STORES)


@STORES.of("expired on arrival")
def old_on_arrival(f: Floor, n: int) -> None:
    gone = f"{f.now() - timedelta(days=1 + n):%Y-%m-%d}"
    f.wrong(_receive(n, supplier="DUNSAY", material="FM-22", expires=gone), **BY_STORES)


@STORES.of("certificate of another lot, or lot number mistyped")
def other_certificate(f: Floor, n: int) -> None:
    code = f.scan(_receive(n), **BY_STORES).made["codes"][0]
    names = (f"V-{3001 + n}", f"V-{str(3000 + n)[::-1]}", f"V{3000 + n}9")[n % 3]
    f.wrong(Certify(container=code, lot_on_certificate=names, values={"mfi": "3.5", "density": "0.938"}), person="P-03",
            station="certificate")  # fmt: skip


@STORES.of("released without certificate, or outside its limits")
def unfit_release(f: Floor, n: int) -> None:
    code = f.scan(_receive(n), **BY_STORES).made["codes"][0]
    if n % 2:
        f.wrong(
            Certify(container=code, lot_on_certificate=f"V-{3000 + n}", values={"mfi": "4.4", "density": "0.938"}),
            person="P-03", station="certificate",
        )  # fmt: skip
    f.wrong(Release(container=code, reason="needed"), person="P-06", station="release")


@STORES.of("plating not stated, released")
def no_finish(f: Floor, n: int) -> None:
    made = f.scan(
        Receive(supplier="MARROW", material="M8-N", lot_no=f"N-{900 + n}", amounts=("500",), note_no=f"DN-N{n}"),
        **BY_STORES,
    ).made["codes"]
    finish = ("", "zinc")[n % 2]
    f.scan(Certify(container=made[0], lot_on_certificate=f"N-{900 + n}", values={}, finish=finish), person="P-03",
           station="certificate")  # fmt: skip
    f.wrong(Release(container=made[0], reason="as always"), person="P-06", station="release")


@STORES.of("released by who made its certificate")
def own_release(f: Floor, n: int) -> None:
    code = f.scan(_receive(n), **BY_STORES).made["codes"][0]
    who = ("P-06", "P-10")[n % 2]
    values = {"mfi": "3.5", "density": "0.938"}
    paper = Certify(container=code, lot_on_certificate=f"V-{3000 + n}", values=values)
    f.scan(paper, person=who, station="certificate")
    f.wrong(Release(container=code, reason="in order"), person=who, station="release")


@STORES.of("silo topped up onto another grade")
def other_grade(f: Floor, n: int) -> None:
    source = f[("hard", "foam", "lime", "red")[n % 4]]
    f.wrong(TopUp(source=source, into=f["natural"], amount=str(100 + n)), person="P-05", station="top-up")


@STORES.of("two lots tipped together and not said")
def tipped_together(f: Floor, n: int) -> None:
    f.wrong(TopUp(source=f["natural2"], into=f[("red", "foam")[n % 2]] if n % 3 else f["silo source"], amount="20"),
            person="P-05", station="top-up")  # fmt: skip


@STORES.of("more topped up than the box held")
def over_top(f: Floor, n: int) -> None:
    f.wrong(TopUp(source=f["natural2"], into=f["natural"], amount=str(560 + 100 * n)), person="P-05", station="top-up")


@STORES.of("silo said to be empty, and is not")
def not_empty(f: Floor, n: int) -> None:
    f.wrong(ProveEmpty(vessel=f[("natural", "red", "foam")[n % 3]]), person="P-05", station="top-up")


@STORES.of("silo is empty and nobody said so")
def silent_empty(f: Floor, n: int) -> None:
    """What is drawn from it goes on in the records until its book is used up; a count shows it sooner."""
    f.unsaid()
    f.weigh_layer("WO-1041", "inner", f["drops"][0])
    f.look("shift")
    f.scan(Count(box=f["natural"], amount=str(n % 3), reason="weekly count"), person="P-05", station="count")


@STORES.of("stock counted wrong")
def wrong_count(f: Floor, n: int) -> None:
    box, amount = (("red", "42"), ("foam", "8000"), ("m8", "96"), ("lime", "5"))[n % 4]
    f.wrong(Count(box=f[box], amount=amount, reason="stock count"), person="P-05", station="count")


@STORES.of("part box comes back without its label")
def unlabelled(f: Floor, n: int) -> None:
    """Booked anew as opening stock, or taken into use under the label of another box."""
    if n % 2:
        f.wrong(OpeningStock(material="LL-35 red", lot_no=("", "V-2288")[n // 2 % 2], amount="31.00"), person="P-05")
        return
    f.unsaid()
    for k in range(4):
        f.weigh_layer("WO-1041", "skin", f["tubs"][k], box=f["small red"][0])
    f.weigh_layer("WO-1041", "skin", f["tubs"][4], box=f["small red"][0])


@STORES.of("a label copied: one code on two boxes")
def copied_label(f: Floor, n: int) -> None:
    """Drawn from at two scales side by side, each in its own time; or more than one box can hold."""
    f.unsaid()
    box = f["red"] if n % 2 else f["small red"][1]
    tubs = f.carriers("tub", 10)
    for k in range(5):
        f.rest_for(f.rng.uniform(0.3, 2.5))
        f.scan(f.weighing("WO-1041", "skin", tubs[2 * k], box=box), station="weighing")
        f.rest_for(f.rng.uniform(-0.5, 2))
        f.scan(f.weighing("WO-1041", "skin", tubs[2 * k + 1], box=box, scale="W-4"), station="weighing",
               person="P-02", device="floor 2")  # fmt: skip
    f.next_day()


@STORES.of("scrapped or sampled from a box that is empty, or more than is in it")
def empty_out(f: Floor, n: int) -> None:
    if n % 2:
        f.wrong(ScrapStock(box=f["spare"][0], everything=True, cause="spilt"), person="P-05", station="scrap-stock")
    f.wrong(TakeSample(box=f["small red"][0], amount=str(60 + n)), person="P-06", station="sample")


# People, badges, times.


@STORES.of("no training for the work")
def untrained(f: Floor, n: int) -> None:
    if n % 2:
        f.wrong(f.weighing("WO-1041", "skin", f["tubs"][0]), person=("P-04", "P-05")[n // 2 % 2], station="weighing")
    f.wrong(ReadyMould(mould="T430-01", order="WO-1041", arm="S1"), person=("P-05", "P-07")[n // 2 % 2])


@STORES.of("the witness is the same person")
def own_witness(f: Floor, n: int) -> None:
    if n % 2:
        f.wrong(OpeningStock(material="LL-35 teal", lot_no="", amount="31.00"), person="P-05", helper="P-05")
    f.wrong(f.weighing("WO-1041", "skin", f["tubs"][0]), person="P-04", helper="P-04", station="weighing")


@STORES.of("somebody else's badge")
def other_badge(f: Floor, n: int) -> None:
    """Whose owner is scanning at another post in the same minute: a few steps away, or in another part of the plant."""
    f.unsaid()
    f.ready()
    for k in range(3 + n % 2):
        f.rest(1)
        f.scan(f.weighing("WO-1041", "skin", f["tubs"][k]), person="P-03", station="weighing", device="scale post")
        f.clock.now -= timedelta(seconds=25)  # type: ignore[union-attr]
        if n % 2:
            f.rack(f["hulls"][k], person="P-03", device="rack tablet")
        elif k < 2:
            box = f[("m8", "m6")[k]]
            f.scan(PlaceInserts(mould="T430-01", box=box), person="P-03", station="loading", device="arm post")
    f.next_day()


@STORES.of("told for a time that has not come")
def future(f: Floor, n: int) -> None:
    now = f.now() + timedelta(minutes=2)
    f.wrong(f.weighing("WO-1041", "skin", f["tubs"][0]), station="weighing", mode=("asks", "tells")[n % 2],
            happened=now + timedelta(minutes=20, hours=8 * n), recorded=now)  # fmt: skip


@STORES.of("late paper with the wrong day")
def wrong_day(f: Floor, n: int) -> None:
    """Before the box was there; before the hull was made; a day on which the mould was not open."""
    now = f.now() + timedelta(minutes=2)
    told = {"mode": "tells", "recorded": now}
    if n % 4 == 0:
        then = now - timedelta(days=9)
        f.wrong(f.weighing("WO-1041", "skin", f["tubs"][0]), station="weighing", happened=then, **told)
    elif n % 4 == 1:
        f.wrong(
            Inspect(hull=f["hulls"][1], verdict="pass", checks=("surface", "inserts", "plate"),
                    thickness=f.thickness()),
            person="P-06", station="inspect", happened=now - timedelta(days=5), **told,
        )  # fmt: skip
    elif n % 4 == 2:
        f.wrong(PlaceInserts(mould="T430-01", box=f["m8"]), happened=now - timedelta(hours=3), **told)
    else:
        f.wrong(Rack(place="R4-2", units=(f["hulls"][0],)), person="P-07", station="rack",
                happened=now - timedelta(days=6), **told)  # fmt: skip
    f.next_day()


@STORES.of("weighed after it was used, by the times told")
def out_of_order(f: Floor, n: int) -> None:
    """The tub was tipped an hour before it was weighed."""
    now = f.now() + timedelta(minutes=2)
    f.ready()
    f.weigh_layer("WO-1041", "skin", f["tubs"][0])
    then = now - timedelta(minutes=50 + n)
    f.wrong(TipTub(mould="T430-01", tub=f["tubs"][0]), mode="tells", happened=then, recorded=now)
    f.next_day()
