"""A mould is made ready, its inserts and graphics are placed, its tubs tipped, and it is closed."""

from collections.abc import Generator

from trace.demo.season.habits import minutes
from trace.demo.season.incidents import (
    EXPIRED_ROLL,
    MOST_UNLABELLED,
    OTHER_BOX,
    OTHER_LOT,
    SUSPECT_INSERTS,
    SUSPECT_LOT,
    UNLABELLED,
)
from trace.demo.season.plant import PRODUCTS
from trace.demo.season.schedule import Cook
from trace.demo.season.stores import Box
from trace.demo.season.truth import Made, Placed
from trace.demo.season.writer import Writer
from trace.recording.acts.loading import CloseMould, PlaceGraphic, PlaceInserts, ReadyMould
from trace.recording.acts.tipping import TipTub

COAT_AFTER, VENT_AFTER = (24, 52), (85, 116)
NO_LABEL = "part box without its label; M8-N by the look of them, counted in"
SIDES = "TAMSIN-SIDE C"
NOT_BEFORE = 76


def load(
    w: Writer, c: Cook, mould: str, tubs: list[str], made: list[Made], person: str
) -> Generator[float, None, None]:
    """From the empty mould to the closed one. `made`: the mouldings that will come of it."""
    _make_ready(w, c, mould, person)
    yield minutes(w.rng, 3, w.worker(person).haste)
    placed = _inserts(w, c, mould, person)
    if placed:
        yield minutes(w.rng, 6, w.worker(person).haste)
    graphics = _graphics(w, c, mould, made, person)
    for tub in tubs:
        yield minutes(w.rng, 1.6)
        w.script.scan(TipTub(mould=mould, tub=tub), person)
        (w.tubs if tub.startswith("@tub") else w.drops).append(tub)
    told = sum(len(one.positions) for one in placed if one.told)
    if all(one.told for one in placed):
        w.script.scan(CloseMould(mould=mould, counted=str(told) if told else ""), person)
    else:
        let_pass = dict.fromkeys(("LOAD-INSERTS-MISSING", "COUNT-MISSING"), NO_LABEL)
        w.script.scan(CloseMould(mould=mould), w.lead(), overrides=let_pass)
    for one in made:
        one.loaded_by = person
        one.inserts, one.graphics = placed, graphics
        if not all(p.told for p in placed):
            one.oddities.append("inserts without a record")


def _make_ready(w: Writer, c: Cook, mould: str, person: str) -> None:
    done, agent = [], ""
    for work, (least, most) in (("release coat", COAT_AFTER), ("vent", VENT_AFTER)):
        key = f"{work} of {mould}"
        w.shots[key] = w.shots.get(key, 0) + 1
        if w.shots[key] >= w.rng.randrange(least, most):
            w.shots[key] = 0
            done.append(work)
    if "release coat" in done:
        agent = w.stores.usable("TR-4", w.now)[0].name
    w.script.scan(ReadyMould(mould=mould, order=c.order, arm=c.arm, done=tuple(done), agent=agent), person)


def _inserts(w: Writer, c: Cook, mould: str, person: str) -> list[Placed]:
    wanted: dict[str, list[str]] = {}
    for position, part in PRODUCTS[c.product]["inserts"].items():
        wanted.setdefault(part, []).append(position)
    found = []
    for part, positions in wanted.items():
        if part == "M8-N" and _takes_unlabelled(w, c):
            found.append(_unlabelled(w, part, positions))
            continue
        for box, some in _from_boxes(w, part, positions):
            all_of_them = len(some) == len(positions)
            w.script.scan(PlaceInserts(mould=mould, box=box.name, positions=() if all_of_them else tuple(some)), person)
            found.append(Placed(box.lot.number, part, some, box.name))
    return found


def _takes_unlabelled(w: Writer, c: Cook) -> bool:
    return bool(
        w.day in UNLABELLED and w.set_aside and w.unlabelled < MOST_UNLABELLED and c.product in ("T430", "T370")
    )


def _unlabelled(w: Writer, part: str, positions: list[str]) -> Placed:
    """Out of what was left of a lot and put back without a label: in the hull, and in no record."""
    box = w.set_aside[0]
    box.true -= len(positions)
    w.unlabelled += 1
    return Placed(box.lot.number, part, positions, box.name, told=False)


def _from_boxes(w: Writer, part: str, positions: list[str]) -> list[tuple[Box, list[str]]]:
    """A box that runs out in the middle of a mould is followed by the next."""
    boxes = w.stores.usable(part, w.now)
    if part == "M8-N":
        boxes = _seat_boxes(w, boxes)
    found, left = [], list(positions)
    for box in boxes:
        some, left = left[: box.book], left[box.book :]
        box.book -= len(some)
        box.true -= len(some)
        found.append((box, some))
        if not left:
            return found
    raise LookupError(f"{part} has run out on day {w.day}")


def _seat_boxes(w: Writer, boxes: list[Box]) -> list[Box]:
    """The suspect lot is what is used for some weeks; then what is left of it is put aside."""
    suspect = [box for box in boxes if box.lot.number == SUSPECT_LOT]
    if w.day >= SUSPECT_INSERTS.stop:
        for box in suspect:
            w.stores.end(box)
            w.set_aside.append(box)
        suspect = []
    others = [box for box in boxes if box.lot.number != SUSPECT_LOT]
    if others and w.rng.random() < OTHER_BOX:
        older = others[0].lot
        others = sorted(others, key=lambda box: box.lot is older)
    return [*others, *suspect] if w.rng.random() < OTHER_LOT else [*suspect, *others]


def _graphics(w: Writer, c: Cook, mould: str, made: list[Made], person: str) -> list[Placed]:
    found: list[Placed] = []
    mistaken = _mistaken_roll(w)
    for zone, wanted in PRODUCTS[c.product]["graphics"].items():
        material = f"{wanted['artwork']} {wanted['revision']}"
        roll = said = _roll(w, material)
        if material == SIDES and mistaken is not None:
            said = mistaken
        w.script.scan(PlaceGraphic(mould=mould, pack=said.name, zone=zone), person)
        roll.true -= 1
        said.book -= 1
        found.append(Placed(roll.lot.number, material, [zone], roll.name, told=said is roll))
        if said is not roll:
            w.truth.wrong.append(
                {"what": "the wrong roll was scanned", "mould": mould, "at": w.now.isoformat(), "zone": zone,
                 "really": roll.lot.number, "recorded": said.lot.number, "cook": c.number}
            )  # fmt: skip
    if any(placed.lot == EXPIRED_ROLL and placed.box == w.forgotten[0].name for placed in found if w.forgotten):
        for one in made:
            one.oddities.append("graphics past their shelf life, told late")
    return found


def _mistaken_roll(w: Writer) -> Box | None:
    """Once in the year the roll that hangs beside is scanned, of another lot; nobody ever notices."""
    rolls = w.stores.usable(SIDES, w.now)
    beside = [box for box in rolls[1:] if box.lot != rolls[0].lot and box.book > 20]
    if not beside or "wrong roll" in w.seen or w.day < NOT_BEFORE or w.script.on_paper:
        return None
    w.seen.add("wrong roll")
    return beside[0]


def _roll(w: Writer, material: str) -> Box:
    """The oldest roll that is in date; on the day without the system the one that was forgotten in a drawer."""
    if material == SIDES and w.script.on_paper and w.forgotten:
        return w.forgotten[0]
    return w.stores.usable(material, w.now)[0]
