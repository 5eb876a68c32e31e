"""A charge is weighed: who, on which scale, from which boxes, what was shown and what was really there."""

from collections.abc import Generator
from decimal import Decimal
from typing import Any

from trace.demo.season.habits import MG, checked, minutes, pieces, really, stop
from trace.demo.season.incidents import OTHER_PALLET, PROVED_EMPTY, SCALE_FOUND, SCALE_LOW
from trace.demo.season.leaving import sample
from trace.demo.season.plant import PRODUCTS
from trace.demo.season.schedule import Cook
from trace.demo.season.script import Work
from trace.demo.season.stores import Box, Lot
from trace.demo.season.truth import Layer, Made, Part
from trace.demo.season.writer import Writer
from trace.demo.season.year import EARLY
from trace.recording.acts.corrections import Correct
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.acts.weighing import CheckWeight, Weigh, layer_of

CHECK_MASS = Decimal("10.000")
DUST = 120_000  # mg that stay in a bag when somebody calls it empty
UNCHECKED = {"SCALE-UNCHECKED": "the check mass is at the calibration house, the scale was right last week"}
Taken = tuple[Box, Decimal, int]  # the box, what the scale showed of it in kg, what there was of it in mg
K1, FOAM = "@K1", "FM-22"
NOT_BEFORE = 76  # days: what goes wrong once goes wrong in the middle of the year
# A vessel is topped up before less than this is in it, in mg; sooner where a part octabin stands beside it.
LOW, LOW_FOR_PART = 46 * MG, 110 * MG


def weigh(w: Writer, c: Cook, layer: str, made: list[Made]) -> Generator[float, None, str]:
    """The tub or drop box with the charge; `made`: the mouldings of the load, all of which have it in them."""
    recipe = layer_of(PRODUCTS[c.product], layer, c.colour)
    person, scale = w.weigher(), _scale(w, layer)
    if unchecked := _is_unchecked(w, scale):
        person = w.lead()
    else:
        yield from _check(w, scale, person)
    shown, really_there = _stopped(w, person, scale, layer, recipe, c.product)
    carriers = w.tubs if recipe["arrives"] == "tub" else w.drops
    tub = carriers.popleft()
    said: dict[str, Any] = {"order": c.order, "layer": layer, "tub": tub, "scale": scale}
    said["how"] = "read" if scale == "W-3" or w.rng.random() < 0.7 else "typed"
    overrides = UNCHECKED if unchecked else {}
    told = Layer(layer, scale, person, [], [])
    if recipe["material"] == "LL-35":
        yield from _keep_filled(w)
        w.script.scan(Weigh(box=K1, gross=str(shown), **said), person, "weighing", overrides=overrides)
        told.parts = _out_of_vessel(w, int(shown * MG), really_there)
        told.shown_kg.append(str(shown))
    else:
        taken = _take(w, recipe["material"], shown, really_there, scale)
        yield from _out_of_boxes(w, c, told, taken, said, overrides)
    for one in made:
        one.layers.append(told)
    if scale == "W-3":
        w.since_check |= {id(one) for one in made}
    yield minutes(w.rng, 3.4, w.worker(person).haste)
    return tub


def _out_of_boxes(
    w: Writer, c: Cook, told: Layer, taken: list[Taken], said: dict[str, Any], overrides: dict[str, str]
) -> Generator[float, None, None]:
    """A charge out of a box, or out of the end of one and the beginning of the next."""
    meant, fetching = _mistaken(w, taken), 0.0
    for n, (box, gross, there) in enumerate(taken):
        command = Weigh(box=(meant or box).name, gross=str(gross), part=n + 1 < len(taken), **said)
        event = _put_right_later(w, c, told.name, meant, box) if meant else ""
        w.script.scan(command, told.person, "weighing", overrides=overrides, event=event)
        told.parts.append(_part(box.lot, int(gross * MG), there, box.name))
        told.shown_kg.append(str(gross))
        box.opened = box.opened or w.now
        box.book -= int(gross * MG)
        box.true -= there
        if n + 1 == len(taken):
            sample(w, box)
        if n + 1 < len(taken):
            _shake_out(w, box)
            fetching += minutes(w.rng, 2.5)
    # All of these stand at the scale before the first is weighed: whoever weighs beside takes of others.
    if fetching:
        yield fetching


def _mistaken(w: Writer, taken: list[Taken]) -> Box | None:
    """Once in the year the box beside the one that is used is scanned: another lot of the same."""
    if "wrong box" in w.seen or w.day < NOT_BEFORE or len(taken) > 1 or w.script.on_paper:
        return None
    box = taken[0][0]
    beside = [b for b in w.stores.usable(box.lot.material, w.now) if b.lot != box.lot and b.book > 60 * MG]
    if not beside or box.book < 60 * MG:
        return None
    w.seen.add("wrong box")
    return beside[0]


def _put_right_later(w: Writer, c: Cook, layer: str, scanned: Box, box: Box) -> str:
    """Begin what finds it out some days later; the name of the weighing that is put right then."""
    event = w.name("weighing")
    w.truth.wrong.append(
        {"what": "the wrong box was scanned, and put right", "cook": c.number, "layer": layer, "at": w.now.isoformat(),
         "really": box.lot.number, "recorded": scanned.lot.number}
    )  # fmt: skip

    def later() -> Work:
        yield 2.2 * 24 * 60
        while w.year.shift_at(w.now) != EARLY or w.script.on_paper:
            yield 60.0
        reason = "the box beside it was scanned: its foot still had the scoop in it"
        command = Correct(event=event, was=scanned.name, now=box.name, reason=reason)
        w.script.scan(command, "P-03", "correct")

    w.script.begin(w.now, later())
    return event


def _scale(w: Writer, layer: str) -> str:
    usual, other = ("W-3", "W-4") if layer == "skin" else ("W-4", "W-3")
    found = usual if w.rng.random() < 0.85 else other
    return "W-4" if found in w.out_of_use else found


def _is_unchecked(w: Writer, scale: str) -> bool:
    return scale == "W-3" and w.on(SCALE_LOW) <= w.day < w.on(SCALE_FOUND)


def _check(w: Writer, scale: str, person: str) -> Generator[float, None, None]:
    """The first weighing of the plant day on a scale comes after its check-weight."""
    if w.checked.get(scale) == w.day:
        return
    w.checked[scale] = w.day
    if scale == "W-3":
        w.since_check.clear()
    shown = checked(w.rng, CHECK_MASS, w.scales[scale])
    w.script.scan(CheckWeight(scale=scale, shown=shown), person, "weighing")
    yield minutes(w.rng, 2)


def _stopped(
    w: Writer, person: str, scale: str, layer: str, recipe: dict[str, Any], product: str
) -> tuple[Decimal, int]:
    """(what the scale shows in kg, what is there in mg)."""
    target, tolerance = Decimal(recipe["target_kg"]), Decimal(recipe["tolerance_kg"])
    before = w.last_shown.get((product, layer), Decimal(0))
    shown = stop(w.rng, w.worker(person), target, tolerance, w.scales[scale].step, before)
    w.last_shown[product, layer] = shown
    return shown, really(w.rng, shown, w.scales[scale])


def _take(w: Writer, material: str, shown: Decimal, there: int, scale: str) -> list[Taken]:
    """The boxes that it comes from, each with what the scale shows of it and what there is of it."""
    boxes, found, step = _at_hand(w, material), [], w.scales[scale].step
    for box in boxes:
        if box.true >= there and box.book + box.book // 100 >= int(shown * MG):
            found.append((box, shown, there))
            return found
        part = (Decimal(box.true - DUST) * w.scales[scale].reads / MG // step) * step
        part = min(part, Decimal(box.book) / MG // step * step, shown - 20 * step)
        if part < Decimal("0.30"):
            _shake_out(w, box)
            continue
        really_there = there * int(part * MG) // int(shown * MG)
        found.append((box, part, really_there))
        shown, there = shown - part, there - really_there
    raise LookupError(f"{material} has run out on day {w.day}")


def _at_hand(w: Writer, material: str) -> list[Box]:
    """The boxes in the order in which somebody would take from them: of foam two pallets stand in the hall, and often
    the nearer one is the newer."""
    boxes = w.stores.usable(material, w.now)
    if material != FOAM or not boxes or w.rng.random() >= OTHER_PALLET:
        return boxes
    return sorted(boxes, key=lambda box: box.lot.number == boxes[0].lot.number)


def _shake_out(w: Writer, box: Box) -> None:
    """A bag or octabin is empty: whoever leads says so, since a little is always left by the book."""
    w.stores.end(box)
    reason = {"NOT-EMPTY": "shaken out, nothing more comes"}
    w.script.scan(ProveEmpty(vessel=box.name), w.lead(), "top-up", overrides=reason)


def _part(lot: Lot, book: int, true: int, box: str) -> Part:
    return Part(lot.number, lot.supplier, lot.really or lot.material, book, true, box)


def _out_of_vessel(w: Writer, book: int, true: int) -> list[Part]:
    drawn = w.vessel.draw(w.rng, book)
    trues = pieces(true, list(drawn.values()))
    return [
        _part(w.stores.lots[lot], much, there, K1) for (lot, much), there in zip(drawn.items(), trues, strict=True)
    ]


def _keep_filled(w: Writer) -> Generator[float, None, None]:
    if w.part_octabin is not None and w.vessel.amount < LOW_FOR_PART:
        top_up_part(w)
        yield minutes(w.rng, 9)
    if w.vessel.amount < LOW:
        if w.day >= PROVED_EMPTY and not w.proved_empty:
            w.proved_empty = True
            reason = {"NOT-EMPTY": "the rest was tipped into the scrap bin"}
            w.script.scan(ProveEmpty(vessel=K1), w.lead(), "top-up", overrides=reason)
            left = w.vessel.empty()
            w.truth.vessels["K1"].append({"at": w.now.isoformat(), "proved empty": True, "scrap_mg": left})
            yield minutes(w.rng, 35)
        # Somebody else may have filled it while its rest was tipped out; and where the next delivery waits for its
        # release what is left has to do until then.
        for box in w.stores.usable("LL-35", w.now)[:1] if w.vessel.amount < LOW else []:
            top_up(w, box)
            yield minutes(w.rng, 9)


def top_up_part(w: Writer) -> None:
    """The part octabin that nobody looks at twice: it is of another grade."""
    assert w.part_octabin is not None  # noqa: S101 - asked before
    box, w.part_octabin = w.part_octabin, None
    top_up(w, box, ended=True)
    w.truth.wrong.append(
        {"what": "MD-80 went into K1 as LL-35", "lot": box.lot.number, "vessel": "K1", "at": w.now.isoformat()}
    )


def top_up(w: Writer, box: Box, *, ended: bool = False) -> None:
    """All that is in an octabin goes into K1. ended: it is not among the stores' boxes."""
    kilograms = Decimal(box.book) / MG
    person = "P-05" if 6 <= w.now.astimezone(w.year.zone).hour < 16 else w.lead()
    w.script.scan(TopUp(source=box.name, into=K1, amount=str(kilograms)), person, "top-up")
    heel = {lot: left for lot, left in [*w.vessel.heel.items(), *w.vessel.top.items()] if left}
    w.vessel.top_up(w.rng, box.lot.number, box.book)
    w.truth.vessels.setdefault("K1", []).append(
        {"at": w.now.isoformat(), "lot": box.lot.number, "book_mg": box.book, "heel_mg": heel}
    )
    box.book = box.true = 0
    if not ended:
        w.stores.end(box)
