"""What happens to the plant beside its mouldings: plant data, opening stock, the scale, the mould, the day on paper."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

from trace.demo.season import incidents
from trace.demo.season.finishing import have_out
from trace.demo.season.goods_in import until
from trace.demo.season.habits import minutes
from trace.demo.season.incidents import SCALE_BACK, SCALE_FOUND, SCALE_LOW, SCALE_READS
from trace.demo.season.plant import PRODUCTS, mould_body, things
from trace.demo.season.schedule import Cook
from trace.demo.season.script import Step, Work
from trace.demo.season.weighing import CHECK_MASS, K1
from trace.demo.season.writer import Writer
from trace.recording.acts.calibration import Calibrate, FollowUpCalibration
from trace.recording.acts.holds import ReleaseHold
from trace.recording.acts.opening import EmptyCarrier, OldHull, OpeningStock
from trace.recording.acts.setup import Define
from trace.recording.acts.weighing import CheckWeight

PLANNER, STORES = "P-09", "P-05"
TUBS, DROPS = 18, 34


def set_up(w: Writer) -> Work:
    """Plant data, carriers, and what stood in the plant when the records began."""
    for kind, key, name, body in things():
        w.script.scan(Define(kind=kind, key=key, name=name, body=body), PLANNER, "plant data")
    for kind, names in (("vessel", [K1]), ("tub", [f"@tub {n}" for n in range(TUBS)]),
                        ("drop_box", [f"@drop {n}" for n in range(DROPS)])):  # fmt: skip
        w.script.scan(EmptyCarrier(carrier=kind, count=len(names)), STORES, "goods-in", codes=tuple(names))
        if kind != "vessel":
            (w.tubs if kind == "tub" else w.drops).extend(names)
    yield 30.0
    w.script.scan(OpeningStock(material="LL-35 teal", amount="83.50"), STORES, "goods-in", helper="P-03")
    for number, colour in ((3980, "teal"), (3981, "red"), (3984, "red")):
        made = f"{w.year.first - timedelta(days=130):%Y-%m}"
        command = OldHull(serial=f"GHM-T430-{number:06d}", product="T430", colour=colour, made=made)
        w.script.scan(command, STORES, "old hulls")


def works_orders(w: Writer, cooks: Iterable[Cook]) -> Work:
    """The planner enters each works order some days before its first cook."""
    orders: dict[str, list[Cook]] = {}
    for cook in cooks:
        orders.setdefault(cook.order, []).append(cook)
    for order, its in sorted(orders.items(), key=lambda one: (one[1][0].day, one[0])):
        yield until(w, w.year.at(max(1, its[0].day - 2), 8.1))
        quantity = sum(len(c.moulds) for c in its) * len(PRODUCTS[its[0].product]["cavities"])
        body = {"product": its[0].product, "colour": its[0].colour, "quantity": quantity, "purpose": its[0].purpose}
        w.script.scan(Define(kind="works_order", key=order, body=body), PLANNER, "plant data")


def scale_reads_low(w: Writer) -> Work:
    """A load cell slips, and nobody checks the scale until it is found; quality looks at what was weighed on it."""
    yield until(w, w.year.at(w.on(SCALE_LOW), 5.5))
    scale = w.scales["W-3"]
    w.scales["W-3"] = replace(scale, reads=type(scale.reads)(SCALE_READS))
    yield until(w, w.year.at(w.on(SCALE_FOUND), 6.05))
    w.out_of_use.add("W-3")
    w.low_is_held = True
    shown = CHECK_MASS * w.scales["W-3"].reads
    w.script.scan(CheckWeight(scale="W-3", shown=f"{shown:.2f}"), "P-01", "weighing", holds="@W-3 low")
    w.truth.wrong.append(
        {"what": "W-3 read 1.8 % low, unchecked", "scale": "W-3", "reads": SCALE_READS, "to": w.now.isoformat()}
    )
    yield until(w, w.year.at(w.on(SCALE_FOUND + 4), 9.6))
    reason = "wall measured in every zone of every hull, none is thin; concession"
    w.script.scan(ReleaseHold(hold="@W-3 low", reason=reason), "P-06", "end a hold", each="@W-3 low")
    w.low_is_held = False
    w.since_check.clear()
    yield until(w, w.year.at(w.on(SCALE_BACK), 7.4))
    w.script.scan(_calibrated(w), "P-05", "plant data", event="@calibration of W-3")
    reason = "out of use since it was found; what it weighed before was held then, and let go by concession"
    command = FollowUpCalibration(instrument="W-3", calibration="@calibration of W-3", reason=reason)
    # Beside the story: no random number is drawn for it, so the season stays the one it was.
    w.script.steps.append(Step(at=w.now + timedelta(seconds=1), command=command, person="P-06", station="hold"))
    w.scales["W-3"] = scale
    w.out_of_use.discard("W-3")


def _calibrated(w: Writer) -> Calibrate:
    """The scale comes back: found 1.8 % low at every mass, adjusted, left right."""
    reads, step = w.scales["W-3"].reads, w.scales["W-3"].step
    masses = [mass * CHECK_MASS for mass in (Decimal("0.5"), Decimal(1), Decimal(2))]
    points = tuple((f"{mass:.3f}", f"{(mass * reads).quantize(step)}", f"{mass.quantize(step)}") for mass in masses)
    return Calibrate(
        instrument="W-3", points=points, uncertainty="0.003", k="2", reference="masses M-14, class F1",
        certificate="GH-CAL-0311", due=f"{w.year.date_of(SCALE_BACK) + timedelta(days=730)}",
    )  # fmt: skip


def refurbishment(w: Writer) -> Work:
    """T430-02 goes away, comes back, and may be used once its first-off has been looked at."""
    away, back = w.on(incidents.REFURBISHED.start), w.on(incidents.FIRST_OFF)
    for day, hour, state in ((away, 5.8, "on hold"), (back, 5.7, "first-off due"), (back + 1, 5.7, "in service")):
        yield until(w, w.year.at(day, hour))
        command = Define(kind="mould", key="T430-02", body=mould_body("T430-02", state))
        w.script.scan(command, "P-05", "plant data")


def day_on_paper(w: Writer, products: Iterable[str]) -> Work:
    """The system is down from six to six; what was scanned stands on paper and is told the next morning."""
    day = w.on(incidents.PAPER_DAY)
    yield until(w, w.year.at(day, 5.2))
    for product in sorted(set(products)):
        have_out(w, product, f"{w.year.date_of(day):%Y-%m}", 4)
    yield until(w, w.year.at(day, 5.99))
    w.script.on_paper = True
    yield until(w, w.year.at(day + 1, 5.95))
    w.script.tell_sheets()
    w.truth.wrong.append({"what": "a day on paper, told the next morning", "day": f"{w.year.date_of(day)}"})
    yield minutes(w.rng, 3)
