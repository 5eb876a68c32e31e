"""What comes back after a complaint: looked at, welded, flamed or given up, and inspected again."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from random import Random
from typing import Any

from trace.demo.season.complaints import CRACK, LIFTS, SPLIT
from trace.demo.season.finishing import RACKS
from trace.demo.season.habits import MG
from trace.demo.season.plant import PRODUCTS
from trace.demo.season.script import Step
from trace.demo.season.truth import Complaint, Made, Returned
from trace.demo.season.writer import Writer
from trace.demo.season.year import DAYS
from trace.recording.acts.finishing import Inspect, Scrap
from trace.recording.acts.goods_in import Certify, Receive, Release
from trace.recording.acts.holds import ReleaseHold
from trace.recording.acts.packing import Rack
from trace.recording.acts.repairs import Repair, places_of
from trace.recording.acts.returns import Return

ROD, ROD_LOT, BOX, ROD_DAY = "ROD-35", "RW-31", "@rods", 40
# So many of the hulls complained of come back, some days after somebody said so: the dealer's next truck.
SHARE, FIRST_DAYS, MOST_DAYS = 0.5, 4, 16
WORK = {CRACK: "welded", SPLIT: "welded", "leak at fitting": "welded", LIFTS: "flamed"}
PACKER, QUALITY, STORES, INSPECTOR = "P-07", "P-06", "P-05", "P-15"
LOOKED = "looked at: damage as it was told"
LET_PASS = dict.fromkeys(("INSPECT-RECORD-MISSING", "INSPECT-QUESTION"), "looked at when it was inspected first")


def come_back(w: Writer, rng: Random) -> None:
    """Adds the returns, with what was done to each hull, to the truth and to the script."""
    by_serial = {made.serial: made for made in w.truth.hulls()}
    w.script.steps += list(_rods(w))
    for number, complaint in enumerate(w.truth.complaints, 1):
        if rng.random() < SHARE:
            w.script.steps += list(_back(w, rng, number, complaint, by_serial[complaint.hull]))


def _rods(w: Writer) -> Iterator[Step]:
    """The one box of weld rod of the year."""
    at = w.year.at(w.on(ROD_DAY), 10.6)
    booked = Receive(supplier="VERRIN", material=ROD, lot_no=ROD_LOT, amounts=("5.000",), note_no="DN-9911")
    for n, (command, person, station) in enumerate((
        (booked, STORES, "goods-in"),
        (Certify(container=BOX, lot_on_certificate=ROD_LOT, values={}), QUALITY, "certificate"),
        (Release(container=BOX), QUALITY, "release"),
    )):  # fmt: skip
        yield Step(
            at=at + timedelta(minutes=11 * n), command=command, person=person, station=station,
            codes=() if n else (BOX,),
        )  # fmt: skip


def _office(w: Writer, rng: Random, at: datetime) -> datetime:
    """That day or the next on which anybody works, by day."""
    while not w.year.is_worked(w.year.day_of(at.replace(hour=12))):
        at += timedelta(days=1)
    return at.replace(hour=8 + rng.randrange(8), minute=rng.randrange(60), microsecond=rng.randrange(10**6))


def _back(w: Writer, rng: Random, number: int, complaint: Complaint, made: Made) -> Iterator[Step]:
    end, name = w.year.at(DAYS - 4, 16), f"@return {number}"
    said = datetime.fromisoformat(complaint.reported_at)
    at = _office(w, rng, said + timedelta(days=rng.uniform(FIRST_DAYS, MOST_DAYS)))
    if at >= end:
        return
    told = Returned(made.serial, number, made.consignee, at.isoformat())
    w.truth.returns.append(told)
    command = Return(
        hull=made.serial, place=rng.choice(RACKS), consignee=made.consignee, complaint=number,
        remark=rng.choice(("came with the empty truck", "", "")),
    )  # fmt: skip
    yield Step(at=at, command=command, person=PACKER, station="returns", holds=name)
    looked = _office(w, rng, at + timedelta(days=rng.uniform(1, 4)))
    if looked < end:
        ends = ReleaseHold(hold=name, reason=LOOKED)
        yield Step(at=looked, command=ends, person=QUALITY, station="end a hold", each=name)
        yield from _decided(rng, looked, complaint, made, told)


def _wall(product: Mapping[str, Any]) -> list[str]:
    """Where a wall can be welded or flamed, by the names of the model's drawing."""
    return list(product["zones"]) or places_of(product) or ["KEEL"]


def _decided(rng: Random, looked: datetime, complaint: Complaint, made: Made, told: Returned) -> Iterator[Step]:
    """Mended and inspected again, or given up."""

    def step(minutes: float, command: Repair | Inspect | Scrap | Rack, person: str, station: str) -> Step:
        at = looked + timedelta(minutes=minutes, milliseconds=rng.randrange(900))
        return Step(at=at, command=command, person=person, station=station,
                    overrides=LET_PASS if isinstance(command, Inspect) else {})  # fmt: skip

    work = WORK.get(complaint.symptom)
    if work is None and rng.random() < 0.6:
        told.end = "scrapped"
        given_up = Scrap(unit=made.serial, plate_destroyed=True, reason="not worth mending")
        yield step(9, given_up, QUALITY, "scrap")
        return
    product = PRODUCTS[made.product]
    if work:
        told.work, told.spot = work, rng.choice(_wall(product))
        grams = rng.randrange(18, 90) if work == "welded" else 0
        told.rod_mg = grams * MG // 1000
        mended = Repair(
            hull=made.serial, work=work, spot=told.spot, tool=f"WELDER {rng.randrange(1, 3)}",
            source=BOX if grams else "", amount=f"{grams / 1000:.3f}" if grams else "",
        )  # fmt: skip
        yield step(70, mended, QUALITY, "repairs")
    if "impact" in product:
        # Of a model that is tested in the cold a hull may be on hold for its bracket, which nobody ends: it waits.
        return
    zones = {zone: f"{float(limits['least_mm']) + rng.uniform(0.3, 0.9):.2f}"
             for zone, limits in product["zones"].items()}  # fmt: skip
    inspected = Inspect(
        hull=made.serial, verdict="pass", checks=("surface", "inserts", "plate"), thickness=zones, colour=made.colour
    )
    yield step(130, inspected, QUALITY, "inspect")
    place = rng.choice(RACKS)
    told.end = f"in rack {place}"
    yield step(160, Rack(place=place, units=(made.serial,)), PACKER, "rack")
