"""Sold, packed and sent: what stands in the racks goes to dealers and rescue services, some of it sooner than other."""

from dataclasses import dataclass
from random import Random

from trace.demo.season.goods_in import until
from trace.demo.season.habits import minutes
from trace.demo.season.happenings import PLANNER
from trace.demo.season.incidents import LEFT_FROM, SUSPECT_LOT
from trace.demo.season.plant import CONSIGNEES, RESCUE
from trace.demo.season.script import Work
from trace.demo.season.writer import InPlant, Writer
from trace.demo.season.year import DAYS
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.setup import Define

PACKER = "P-07"
DEALERS = tuple(key for key in CONSIGNEES if key not in RESCUE)
# What each week's truck takes of what is there, and what is left for another time.
TAKES = 0.62
BUOYS_A_PACK = 4
VEHICLES = ("GH24 KAY", "PA23 WLD", "LK22 OUT", "BC25 SLD", "hired van, blue")


@dataclass(frozen=True)
class Load:
    order: str
    consignee: str
    hulls: tuple[InPlant, ...]


def trucks(w: Writer) -> Work:
    """Every week two or three trucks, from the fourth week on."""
    number = 3001
    for week in range(3, DAYS // 7):
        yield until(w, w.year.at(w.on(7 * week + 2), 8.3 + w.rng.random()))
        if w.script.on_paper:
            continue
        for consignee in w.rng.sample(sorted(CONSIGNEES), k=w.rng.choice((2, 2, 3))):
            load = _chosen(w, f"SO-{number}", consignee)
            if load.hulls:
                number += 1
                yield from _send(w, load)


def _chosen(w: Writer, order: str, consignee: str) -> Load:
    wanted = ("H320", "H320", "B60") if consignee in RESCUE else ("T430", "T370", "B60", "LID")
    # What was weighed on a scale since it was last checked is not sent yet.
    free = [h for h in w.hulls if not h.packed and id(h.made) not in w.since_check]
    there = sorted((h for h in free if h.made.product in wanted), key=lambda h: (h.passed, h.made.serial))
    hulls = [h for h in there if w.rng.random() < TAKES and _is_moved(w.rng, h)][: w.rng.randrange(5, 15)]
    return Load(order, consignee, tuple(h for h in hulls if h not in _left(w, hulls)))


def _left(w: Writer, hulls: list[InPlant]) -> list[InPlant]:
    """Where all hulls with the suspect inserts that are in the racks would go, the newest stays: one can be found."""
    suspect = [h for h in w.hulls if not h.packed and SUSPECT_LOT in {one.lot for one in h.made.inserts if one.told}]
    return suspect[-1:] if w.day >= LEFT_FROM and all(h in hulls for h in suspect) else []


def _is_moved(rng: Random, h: InPlant) -> bool:
    """One in eleven lies behind the others and is always taken another time."""
    return int(h.made.serial[-3:]) % 11 != 5 or rng.random() < 0.06


def _send(w: Writer, load: Load) -> Work:
    lines: dict[tuple[str, str], int] = {}
    for h in load.hulls:
        h.packed = True
        lines[h.made.product, h.made.colour] = lines.get((h.made.product, h.made.colour), 0) + 1
    body = {
        "consignee": load.consignee,
        "lines": [{"product": p, "colour": colour, "quantity": n} for (p, colour), n in lines.items()],
    }
    w.script.scan(Define(kind="sales_order", key=load.order, body=body), PLANNER, "plant data")
    yield minutes(w.rng, 60)
    packs = []
    for some in _packed_together(load.hulls):
        packs.append(w.name("pack"))
        serials = tuple(h.made.serial for h in some)
        w.script.scan(Pack(order=load.order, hulls=serials), PACKER, "pack", codes=(packs[-1],))
        yield minutes(w.rng, 7)
    yield minutes(w.rng, 150)
    vehicle = w.rng.choice(VEHICLES)
    command = Dispatch(order=load.order, packs=tuple(packs), consignee=load.consignee, vehicle=vehicle)
    w.script.scan(command, PACKER, "dispatch")
    for h in load.hulls:
        h.made.fate, h.made.consignee, h.made.dispatched_at = "dispatched", load.consignee, w.now.isoformat()


def _packed_together(hulls: tuple[InPlant, ...]) -> list[list[InPlant]]:
    buoys = [h for h in hulls if h.made.product == "B60"]
    singles = [[h] for h in hulls if h.made.product != "B60"]
    return singles + [buoys[n : n + BUOYS_A_PACK] for n in range(0, len(buoys), BUOYS_A_PACK)]
