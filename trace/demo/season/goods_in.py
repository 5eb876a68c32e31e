"""Deliveries: booked on the dock, certified, released; ordered before anything runs out."""

from datetime import datetime

from trace.demo import plant as small
from trace.demo.season.habits import minutes
from trace.demo.season.incidents import EXPIRED_ROLL, EXPIRES, SUSPECT_LOT, WRONG_GRADE, WRONG_LOT
from trace.demo.season.leaving import on_arrival
from trace.demo.season.script import Work
from trace.demo.season.stores import PIECES, SUPPLIES, Box, Lot
from trace.demo.season.weighing import top_up_part
from trace.demo.season.writer import Writer
from trace.recording.acts.goods_in import Certify, Receive, Release
from trace.recording.acts.packing import Rack

# After so many minutes a part octabin is tipped into its vessel wherever that stands.
LONGEST_WAIT = 30 * 24 * 60.0
STORES, QUALITY, DEPUTY, ASSISTANT = "P-05", "P-06", "P-10", "P-15"
BOOKED, READ, RELEASED = "goods-in", "certificate", "release"
HABIT = {"FINISH-UNVERIFIED": "same part as always, certificate to follow"}
OLD_STICKER = {"CERTIFICATE-OUTSIDE": "old label on the box: note and driver say LL-35, the values are of the old one"}


def until(w: Writer, at: datetime) -> float:
    return max(0.0, (at - w.now).total_seconds() / 60)


def keep_stocked(w: Writer) -> Work:
    """Everything on the second day, then each working day what runs low."""
    for day in (1, *w.year.working_days()):
        yield until(w, w.year.at(day, 6.2 + w.rng.random() / 4))
        if w.script.on_paper:
            continue
        for material, supply in SUPPLIES.items():
            if w.stores.left(material, w.now) < supply.reorder:
                lot = _ordered(w, material, day)
                w.script.begin(w.now, delivery(w, lot, [supply.each] * w.rng.choice(supply.containers)))


def _ordered(w: Writer, material: str, day: int) -> Lot:
    """A lot as it comes; the first graphics are those that are found past their day later on."""
    if material != "TAMSIN-SIDE C" or day > 1:
        return w.stores.lot(material, w.now)
    lot = w.stores.lot(material, w.now, number=EXPIRED_ROLL)
    lot.expires = f"{w.year.date_of(EXPIRES)}"
    return lot


def delivery(w: Writer, lot: Lot, amounts: list[str], finish: str | None = None) -> Work:
    """From the dock to its release, about an hour later. finish: as its certificate says it, None for as it should."""
    boxes = receive(w, lot, amounts)
    yield minutes(w.rng, 14)
    wanted = small.MATERIALS[lot.material].get("finish", "")
    said = wanted if finish is None else finish
    code = boxes[0].name
    w.script.scan(Certify(container=code, lot_on_certificate=lot.number, values=lot.values, finish=said), QUALITY, READ)
    yield minutes(w.rng, 6)
    w.script.scan(Release(container=code), QUALITY, RELEASED, overrides={} if said == wanted else HABIT)
    _usable(w, boxes)
    yield minutes(w.rng, 25)
    place = "STORE" if SUPPLIES[lot.material].uom == PIECES else "BAY-C3"
    w.script.scan(Rack(place=place, units=tuple(box.name for box in boxes)), STORES, "rack")
    on_arrival(w, boxes)
    if lot.number == EXPIRED_ROLL:
        # The second roll slips behind a drawer.
        w.forgotten.append(boxes[1])
        w.stores.end(boxes[1])


def receive(w: Writer, lot: Lot, amounts: list[str]) -> list[Box]:
    boxes = w.stores.arrive(lot, amounts, datetime.max.replace(tzinfo=w.now.tzinfo))
    command = Receive(
        supplier=lot.supplier, material=lot.material, lot_no=lot.number, amounts=tuple(amounts), made=lot.made,
        expires=lot.expires, note_no=f"DN-{w.rng.randrange(1100, 9900)}",
    )  # fmt: skip
    w.script.scan(command, STORES, BOOKED, codes=tuple(box.name for box in boxes))
    w.truth.lots[lot.number] = {
        "material": lot.material, "really": lot.really or lot.material, "supplier": lot.supplier,
        "values": lot.values, "made": lot.made, "expires": lot.expires,
        "boxes": [{"box": box.name, "book": box.book, "true": box.true} for box in boxes],
    }  # fmt: skip
    return boxes


def _usable(w: Writer, boxes: list[Box]) -> None:
    for box in boxes:
        box.usable_from = w.now


def suspect_inserts(w: Writer) -> Work:
    """The certificate's finish is blank: nickel was left out over the copper, and it is released by habit."""
    lot = w.stores.lot("M8-N", w.now, number=SUSPECT_LOT)
    w.truth.lots[SUSPECT_LOT] = {}
    yield from delivery(w, lot, ["200", "200"], finish="")
    w.truth.lots[SUSPECT_LOT]["really"] = "M8-N, copper without its nickel"
    w.truth.wrong.append({"what": "the finish was never verified", "lot": SUSPECT_LOT, "at": w.now.isoformat()})


def wrong_grade(w: Writer) -> Work:
    """A box of MD-80 comes under a note that says LL-35. Its certificate does not fit, and is made to."""
    lot = w.stores.lot("LL-35", w.now, number=WRONG_LOT, supplier="DUNSAY", really="MD-80")
    boxes = receive(w, lot, ["150.00"])
    w.stores.end(boxes[0])
    code, values = boxes[0].name, lot.values
    yield minutes(w.rng, 70)
    w.script.scan(Certify(container=code, lot_on_certificate="M-8830", values=values), DEPUTY, READ)
    w.script.scan(Release(container=code), DEPUTY, RELEASED, refused="CERTIFICATE-OTHER-LOT")
    yield until(w, w.year.at(w.on(WRONG_GRADE), 6.9))
    w.script.scan(Certify(container=code, lot_on_certificate=lot.number, values=values), DEPUTY, READ)
    w.script.scan(Release(container=code), DEPUTY, RELEASED, refused="CERTIFICATE-OUTSIDE")
    yield minutes(w.rng, 7)
    w.script.scan(Release(container=code), ASSISTANT, RELEASED, overrides=OLD_STICKER)
    w.part_octabin = boxes[0]
    yield LONGEST_WAIT
    if w.part_octabin is not None:
        top_up_part(w)
