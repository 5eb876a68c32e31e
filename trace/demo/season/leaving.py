"""What leaves the stores without becoming a hull: samples, spilt and old powder, bags that go back to their maker.

Its figures come out of a stream of random numbers of its own.
"""

from datetime import timedelta

from trace.demo.season.habits import MG
from trace.demo.season.script import Step, Work
from trace.demo.season.stores import PIECES, SUPPLIES, Box
from trace.demo.season.truth import Left, Swept
from trace.demo.season.writer import Writer
from trace.demo.season.year import DAYS
from trace.recording.acts.giving_back import GiveBack
from trace.recording.acts.sampling import TakeSample
from trace.recording.acts.scrapping import ScrapStock
from trace.recording.acts.sweeping import SweepUp
from trace.recording.commands import Command

STORES, QUALITY, SPILLERS = "P-05", "P-06", ("P-01", "P-02", "P-05")
# Of each lot of powder so much is kept; of a pallet of bags one in so many deliveries has a torn one that goes back.
SAMPLE, SAMPLE_MG, SAMPLED, TORN = "0.50", MG // 2, ("LL-35", "FM-22"), 0.4
# About so many times a year something is spilt, mostly about a kilogram; no less than this must be in the box.
SPILT, USUAL_KG, LEAST_KG = 9, 1.1, 60
WHY = ("spilt", "spilt", "spilt", "dirty")


def step_aside(w: Writer, command: Command, person: str, station: str, **more: object) -> Step:
    """A scan beside the story, before the next one of it: no random number of the story's is drawn for it."""
    at = w.now + timedelta(milliseconds=w.leaves.randrange(200, 2_000), microseconds=w.leaves.randrange(1_000))
    step = Step(at=at, command=command, person=person, station=station, **more)  # type: ignore[arg-type]
    w.script.steps.append(step)
    w.script.now = at
    return step


def _out(w: Writer, step: Step, way: str, box: Box, much: int, cause: str = "") -> None:
    """It is out of the box, by the record and really."""
    lot = box.lot
    w.truth.left.append(Left(way, lot.number, lot.supplier, lot.material, box.name, much, cause, step.at.isoformat()))
    box.opened = box.opened or w.now
    box.book -= much
    box.true -= much


def sample(w: Writer, box: Box) -> None:
    """Once of each lot: of bags when the first is opened, since one that stands open does not keep."""
    enough = box.book > 4 * SAMPLE_MG and box.true > 4 * SAMPLE_MG
    if w.script.on_paper or box.lot.number in w.sampled or not enough or not box.lot.material.startswith(SAMPLED):
        return
    w.sampled.add(box.lot.number)
    command = TakeSample(box=box.name, amount=SAMPLE, place="STORE")
    taken = step_aside(w, command, QUALITY, "sample", codes=(w.name("sample"),))
    _out(w, taken, "samples", box, SAMPLE_MG)


def on_arrival(w: Writer, boxes: list[Box]) -> None:
    """Of a delivery that was released: a sample of an octabin, and a torn bag that goes back."""
    if w.script.on_paper:
        return
    if SUPPLIES[boxes[0].lot.material].keeps == 0:
        sample(w, boxes[0])
    elif boxes[0].lot.material.startswith(SAMPLED) and w.leaves.random() < TORN:
        torn = boxes[-1]
        back = GiveBack(box=torn.name, everything=True, note_no=f"RN-{w.leaves.randrange(100, 999)}", reason="torn")
        _out(w, step_aside(w, back, STORES, "give-back"), "returned", torn, torn.book)
        w.stores.end(torn)


def spill(w: Writer) -> Work:
    """Somebody spills out of a box that stands open, on a few days of the year."""
    days = list(w.year.working_days())
    for day in sorted(w.leaves.sample(days, min(SPILT, len(days)))):
        at = w.year.at(day, 9 + w.leaves.random() * 7)
        yield max(0.0, (at - w.now).total_seconds() / 60)
        there = [
            box for material, supply in SUPPLIES.items() if supply.uom != PIECES
            for box in w.stores.usable(material, w.now)[:1] if box.book > LEAST_KG * MG
        ]  # fmt: skip
        if w.script.on_paper or not there:
            continue
        box, kilograms = w.leaves.choice(there), w.leaves.lognormvariate(0, 0.7) * USUAL_KG
        amount = f"{min(8.0, max(0.1, kilograms)):.2f}"
        cause = w.leaves.choice(WHY)
        command = ScrapStock(box=box.name, amount=amount, cause=cause)
        spilt = step_aside(w, command, w.leaves.choice(SPILLERS), "scrap")
        _out(w, spilt, "scrap", box, round(float(amount) * MG), cause)


def sweep(w: Writer) -> Work:
    """Every week or so the floor is vacuumed where most is spilt, now and then under an oven."""
    day = 4
    while day < DAYS - 3:
        at = w.year.at(w.on(day), 13 + w.leaves.random() * 2)
        yield max(0.0, (at - w.now).total_seconds() / 60)
        if not w.script.on_paper:
            where = w.leaves.choices(("DEMOULD", "BAY-C3", "OVEN-2"), (0.5, 0.3, 0.2))[0]
            amount = f"{w.leaves.lognormvariate(0.9, 0.5):.2f}"
            swept = step_aside(w, SweepUp(where=where, amount=amount), w.leaves.choice(SPILLERS), "scrap")
            w.truth.swept.append(Swept(where, round(float(amount) * MG), swept.at.isoformat()))
        day += w.leaves.randrange(5, 12)


def throw_away(w: Writer) -> Work:
    """Once a week or so the stores look for what is past its day."""
    day = 6
    while day < DAYS - 3:
        at = w.year.at(w.on(day), 13.5 + w.leaves.random())
        yield max(0.0, (at - w.now).total_seconds() / 60)
        # Past its day since yesterday: nobody has it in hand.
        before = w.now - timedelta(days=1)
        stale = [box for boxes in w.stores.boxes.values() for box in boxes if box.book > 0 and box.is_stale(before)]
        for box in [] if w.script.on_paper else stale:
            old = step_aside(w, ScrapStock(box=box.name, everything=True, cause="old"), STORES, "scrap")
            _out(w, old, "scrap", box, box.book, "old")
            w.stores.end(box)
        day += w.leaves.randrange(5, 10)
