"""From the mould to the rack: demoulded, its plate bound, weighed, inspected; and what quality decides on the way."""

from collections.abc import Generator
from random import Random

from trace.demo.season.crossed import cross, stays_held, to_wait
from trace.demo.season.habits import MG, displayed, minutes
from trace.demo.season.incidents import CROSSED_FROM
from trace.demo.season.plant import PLACES, PRODUCTS
from trace.demo.season.schedule import Cook
from trace.demo.season.truth import Made
from trace.demo.season.writer import InPlant, Writer
from trace.demo.season.year import NIGHT
from trace.recording.acts.cook import CookStage, EndCook, EndCooling
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.finishing import Inspect, Scrap
from trace.recording.acts.holds import ReleaseHold
from trace.recording.acts.oven import StartCook
from trace.recording.acts.packing import Rack
from trace.recording.acts.plates import CheckOutPlates, MakePlates

RACKS = [key for key, _, body in PLACES if body["kind"] == "rack"]
BATCH = {"T430": 6, "T370": 6, "H320": 4, "B60": 12, "LID": 4}
HULL_SCALE = "0.05"
# How thick the wall is about, and how far one zone is from another, in mm.
WALL_MM = {"T430": 4.15, "T370": 4.1, "H320": 4.85}
INSPECTORS = ("P-06", "P-10", "P-15")
# Why a hold of this name ends, and after how many days.
LIFTED = {
    "log missing": (2, "the panel's own trace shows the whole cook"),
    "peak outside": (1, "cut-out looked at: few bubbles, near the inner face"),
    "stopped": (1, "wall measured in all zones, within its limits"),
    "told from paper": (3, "graphics lie flat at every edge; concession, look at them again before they leave"),
}
FAILS, FAULTS = 0.014, ("pinholes at the keel", "warped in its cradle", "surface pitted")


def take_out(w: Writer, c: Cook, mould: str, made: list[Made], person: str) -> Generator[float, None, None]:
    """Demoulded, and each moulding's plate bound at once."""
    yield minutes(w.rng, 4)
    if c.purpose != "production":
        w.script.scan(Demould(mould=mould), person, "demould", unit=w.name("moulding"))
        return
    w.script.scan(Demould(mould=mould), person, "demould")
    for one in made:
        one.demoulded_by, one.demoulded_at = person, w.now.isoformat()
        one.serial = plate(w, c.product)
        one.mass_kg = _mass(w, one) if len(made) == 1 else ""
        cavity = one.cavity if len(made) > 1 else ""
        w.script.scan(Bind(mould=mould, plate=one.serial, cavity=cavity, mass=one.mass_kg), person, "demould")
        cross(w, one)
        w.script.begin(w.now, _finish(w, c, one))


def _mass(w: Writer, one: Made) -> str:
    """As moulded: what was really charged, less what stuck, flashed or spilt, with its inserts and graphics."""
    charged = sum(part.true_mg for layer in one.layers for part in layer.parts) / MG
    pieces = sum(len(placed.positions) for placed in one.inserts)
    lost = w.rng.gammavariate(2.4, 0.0022) * charged
    return displayed(w.rng, charged - lost + 0.017 * pieces + 0.006 * len(one.graphics), HULL_SCALE, 0.012)


def plate(w: Writer, product: str) -> str:
    """The next plate of this month; where none is out a batch is made and handed out first."""
    return have_out(w, product, f"{w.year.date_of(w.day):%Y-%m}", 1).pop(0)


def have_out(w: Writer, product: str, month: str, least: int) -> list[str]:
    """The plates of that month that are out on the floor, at least so many."""
    ready = w.plates.setdefault((product, month), [])
    while len(ready) < least:
        first = w.serials[product]
        w.serials[product] += BATCH[product]
        batch = tuple(f"GHM-{product}-{n:06d}" for n in range(first, first + BATCH[product]))
        w.script.scan(MakePlates(product=product, serials=batch, month=month), w.lead(), "plates")
        w.script.scan(CheckOutPlates(plates=batch), w.lead(), "plates")
        ready += batch
    return ready


def _by_day(w: Writer) -> Generator[float, None, None]:
    while w.year.shift_at(w.now) == NIGHT or w.script.on_paper or not w.year.is_worked(w.day):
        yield 55.0


def _finish(w: Writer, c: Cook, one: Made) -> Generator[float, None, None]:
    """Inspected some hours later, by day; racked where it passed."""
    yield 60 + w.rng.gammavariate(2, 70)
    while to_wait(w, one):
        yield 60.0
    yield from _by_day(w)
    person = w.rng.choices(INSPECTORS, (0.3, 0.2, 0.5))[0]
    let_pass = {}
    while w.low_is_held and id(one) in w.since_check:
        yield 300.0
    if w.held.get(id(one)):
        yield from _lift(w, one)
        if w.odd.get(c.number) == "cooked again":
            yield from _cook_again(w, c, one)
        let_pass["INSPECT-RECORD-MISSING"] = "the panel's own trace shows the whole cook"
        let_pass["INSPECT-QUESTION"] = "looked at when its hold was ended"
    if "inserts without a record" in one.oddities:
        let_pass["INSPECT-RECORD-MISSING"] = "inserts looked at and pulled, the part fits its drawing"
        person = "P-06"
    one.inspected_by = person
    fails = w.rng.random() < FAILS
    command = Inspect(
        hull=one.serial, verdict="fail" if fails else "pass", checks=("surface", "inserts", "plate"),
        thickness=_wall(w, c, one), remark=w.rng.choice(FAULTS) if fails else "",
        **_noted(w, one),
    )  # fmt: skip
    w.script.scan(command, person, "inspect", overrides=let_pass)
    yield minutes(w.rng, 12)
    if stays_held(w, one):
        one.fate = "on hold for its colour"
        return
    if fails:
        yield 60 * 24 + w.rng.random() * 900
        yield from _by_day(w)
        w.script.scan(Scrap(unit=one.serial, plate_destroyed=True, reason="cut up"), "P-06", "scrap")
        one.fate = "scrapped"
        return
    place = w.rng.choice(RACKS)
    w.script.scan(Rack(place=place, units=(one.serial,)), "P-07", "rack")
    one.fate = f"in rack {place}"
    w.hulls.append(InPlant(one, w.now))


def _noted(w: Writer, one: Made) -> dict[str, str]:
    """Since inspections note it: the colour, and of most long hulls the mass."""
    if w.day < CROSSED_FROM:
        return {}
    colour = one.colour if one.cook in w.crossed or w.looks.random() < 0.96 else ""
    unweighed = w.looks.random() > 0.8 or (one.cook in w.crossed and not stays_held(w, one))
    if not one.mass_kg or one.product == "B60" or unweighed:
        return {"colour": colour}
    return {"colour": colour, "mass": displayed(w.looks, float(one.mass_kg), HULL_SCALE, 0.02)}


def _wall(w: Writer, c: Cook, one: Made) -> dict[str, str]:
    """Thickness by zone: each mould has its own thick and thin places, and more powder makes a thicker wall."""
    zones = PRODUCTS[c.product]["zones"]
    if not zones:
        return {}
    layers = PRODUCTS[c.product]["layers"]
    solid = [n for n, layer in enumerate(layers) if layer["name"] != "foam"]
    charged = sum(part.true_mg for n in solid for part in one.layers[n].parts)
    more = charged / MG / sum(float(layers[n]["target_kg"]) for n in solid)
    found = {}
    for zone, limits in zones.items():
        usual = WALL_MM[c.product] * more * (1 + _place(one.mould, zone))
        found[zone] = f"{max(w.rng.gauss(usual, 0.055), float(limits['least_mm']) + 0.06):.2f}"
    return found


def _place(mould: str, zone: str) -> float:
    """How much thicker than elsewhere this mould makes this zone; always the same."""
    return Random(f"{mould} {zone}").uniform(-0.09, 0.09)  # noqa: S311 - nothing secret


def _lift(w: Writer, one: Made) -> Generator[float, None, None]:
    """Quality looks at it, and ends the holds that lie on it, one after the other."""
    for name in sorted(w.held.get(id(one), ())):
        days, reason = next(said for what, said in LIFTED.items() if what in name)
        yield days * 24 * 60 + w.rng.random() * 240
        yield from _by_day(w)
        if name not in w.lifted:
            w.lifted.add(name)
            w.script.scan(ReleaseHold(hold=name, reason=reason), "P-06", "end a hold", each=name)
    w.held.pop(id(one), None)


def _cook_again(w: Writer, c: Cook, one: Made) -> Generator[float, None, None]:
    """Cooked too short: once more into the oven, the same moulding and another cycle."""
    while c.arm in w.busy:
        yield 17.0
    w.busy.add(c.arm)
    one.oddities.append("cooked again")
    person, stages = w.loader(), PRODUCTS[c.product]["cook"]["stages"]
    start = StartCook(oven=c.oven, arm=c.arm, units=(one.serial,), loggers=("LG-1",), set_c="285")
    w.script.scan(start, person, "oven")
    for stage in stages:
        yield w.rng.uniform(3, 6)
        w.script.scan(CookStage(mould=one.serial, stage=stage), person, "oven")
    peak = f"{w.rng.gauss(207, 1):.1f}"
    w.script.scan(EndCook(mould=one.serial, piat=peak, log="attached", stages=tuple(stages)), person, "oven")
    yield w.rng.uniform(20, 28)
    w.script.scan(EndCooling(mould=one.serial, demould_c=f"{w.rng.gauss(46, 2):.0f}"), person, "oven")
    w.busy.discard(c.arm)
    one.peak_c = peak
