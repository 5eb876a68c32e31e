"""Hulls that are moulded anew for one that was given up, and the one plate of the year that is replaced."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from random import Random

from trace.demo.season.incidents import SUSPECT_LOT, WRONG_LOT
from trace.demo.season.script import Step
from trace.demo.season.truth import Made, Relabelled, Remoulded, is_of
from trace.demo.season.writer import Writer
from trace.demo.season.year import DAYS
from trace.recording.acts.finishing import Scrap
from trace.recording.acts.new_plates import ReplacePlate
from trace.recording.acts.plates import CheckOutPlates, MakePlates
from trace.recording.acts.remoulds import Remould

LEAD, SECOND = "P-03", "P-05"
# Of the hulls that were given up so many get another in their place: those of a customer mostly, others now and then.
FOR_A_CUSTOMER, FOR_STOCK = 0.85, 0.3
CAUSES = ("burnt", "painted")


def renew(w: Writer, rng: Random) -> None:
    """Adds both to the truth and to the script."""
    w.script.steps += [*_anew(w, rng), *_relabelled(w, rng)]


def _anew(w: Writer, rng: Random) -> Iterator[Step]:
    back = {one.hull for one in w.truth.returns}
    for old, new in _pairs(w, rng, back):
        told = _later(rng, datetime.fromisoformat(new.demoulded_at))
        if told < w.year.at(DAYS - 3, 0):
            w.truth.remoulded.append(Remoulded(old, new.serial, told.isoformat()))
            command = Remould(hull=new.serial, old=old, reason="cracked beyond mending" if old in back else "")
            yield Step(at=told, command=command, person=LEAD, station="plates")


def _pairs(w: Writer, rng: Random, back: set[str]) -> Iterator[tuple[str, Made]]:
    """Each that was given up, in the order in which they were, with the hull that is made for it, where one is."""
    given_up = sorted((s.at, s.command.unit) for s in w.script.steps if isinstance(s.command, Scrap))
    by_serial = {made.serial: made for made in w.truth.hulls()}
    taken: set[str] = set()
    for at, old in given_up:
        if rng.random() < (FOR_A_CUSTOMER if old in back else FOR_STOCK):
            new = next((m for m in _after(w, at, by_serial[old]) if m.serial not in taken), None)
            if new is not None:
                taken.add(new.serial)
                yield old, new


def _after(w: Writer, at: datetime, old: Made) -> Iterator[Made]:
    """Hulls of that model that were demoulded since, of its colour first."""
    since = [
        made for made in w.truth.hulls()
        if made.product == old.product and made.demoulded_at > at.isoformat() and made.fate != "scrapped"
        and not made.plate_bound
    ]  # fmt: skip
    yield from sorted(since, key=lambda made: (made.colour != old.colour, made.demoulded_at))


def _later(rng: Random, at: datetime) -> datetime:
    """The next morning, at a time that no other scan has."""
    return (at + timedelta(days=1)).replace(hour=7, minute=rng.randrange(60), microsecond=rng.randrange(10**6))


def _relabelled(w: Writer, rng: Random) -> Iterator[Step]:
    """A torch came too near to the plate of a hull in the racks that nothing else is told of."""
    truth = w.truth
    told_of = {one.hull for one in truth.returns} | {one.hull for one in truth.complaints}
    told_of |= {one.hull for one in truth.owners} | {one.hull for one in truth.tests}
    told_of |= {serial for one in w.truth.remoulded for serial in (one.old, one.new)}
    told_of |= {w.truth.call.hull} if w.truth.call else set()
    there = [
        made for made in w.truth.hulls()
        if made.fate.startswith("in rack") and made.serial not in told_of and not made.plate_bound
        and not made.oddities and made.cook not in w.crossed
        and not is_of(made, SUSPECT_LOT) and not is_of(made, WRONG_LOT)
    ]  # fmt: skip
    if not there:
        return
    made = rng.choice(there)
    number = w.serials[made.product]
    w.serials[made.product] += 1
    before, now, cause = made.serial, f"GHM-{made.product}-{number:06d}", rng.choice(CAUSES)
    at = w.year.at(DAYS - 2, 9.5) + timedelta(milliseconds=rng.randrange(10**6))
    for n, command in enumerate((
        MakePlates(product=made.product, serials=(now,), month=made.demoulded_at[:7]), CheckOutPlates(plates=(now,)),
        ReplacePlate(hull=before, plate=now, cause=cause),
    )):  # fmt: skip
        yield Step(
            at=at + timedelta(minutes=4 * n), command=command, person=LEAD, station="plates",
            helper=SECOND if n == 2 else "",
        )  # fmt: skip
    w.truth.relabelled.append(Relabelled(before, now, cause, (at + timedelta(minutes=8)).isoformat()))
    made.serial = now
