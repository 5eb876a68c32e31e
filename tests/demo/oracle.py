"""Holds what the product answers against the planted truth of a season: every hull by lot and layer, to the mg."""

from collections import defaultdict
from collections.abc import Iterator

from tests.cast import rows_of
from trace.demo.season.returns import ROD_LOT
from trace.demo.season.truth import Made, Truth, is_of
from trace.demo.season.weighing import K1
from trace.genealogy.answer import Answer, genealogy
from trace.genealogy.balance.days import SWEEPINGS, balances_of_days
from trace.genealogy.balance.subjects import balance_of
from trace.genealogy.causes import Holds
from trace.genealogy.find import find_unit
from trace.genealogy.places import GONE, places
from trace.genealogy.remoulds import linked_among
from trace.genealogy.scope import Share
from trace.genealogy.sharing import shared_by
from trace.genealogy.walk import nodes

# Ways out of the stores, with what stands at the end of each; a hull that was given up is scrap too.
WAYS = {"samples": "sample", "scrap": "scrap", "returned": "return"}


def wrong_hulls(truth: Truth) -> Iterator[str]:
    """A sentence for every hull of which the genealogy says something else than what is in it."""
    for made in truth.hulls():
        yield from wrong_of(made, made.known_as)


def wrong_of(made: Made, plate: str) -> Iterator[str]:
    """A sentence for whatever the genealogy of this plate says otherwise than it is in this moulding."""
    told = lots(genealogy(plate, "back"))
    for sentence in [*_layers(made, told), *_pieces(made, told)]:
        yield f"{plate}: {sentence}"


def lots(answer: Answer) -> dict[str, Share]:
    """What the answer says of each lot."""
    return {str(line.node.lot_no): line.share for line in answer.lines if line.node.kind == "lot"}


def _layers(made: Made, told: dict[str, Share]) -> Iterator[str]:
    """A twin has one half of its moulding, and nobody weighed which; every other hull has all of it."""
    twin = made.product == "LID"
    for layer in made.layers:
        really: dict[str, int] = defaultdict(int)
        for part in layer.parts:
            really[part.lot] += part.book_mg
        mixed = any(part.box == K1 for part in layer.parts)
        for lot, much in really.items():
            bounds = told[lot].layers.get(layer.name) if lot in told else None
            if bounds is None:
                yield f"{much} mg of {lot} in the {layer.name} are not told"
            elif not bounds.least <= much <= (much if bounds.most is None else bounds.most):
                yield f"{lot} in the {layer.name}: {bounds}, really {much}"
            elif not mixed and not twin and (bounds.least, bounds.most) != (much, much):
                yield f"{lot} in the {layer.name} was weighed at {much} mg and is told as {bounds}"
        for lot, share in told.items():
            others = share.layers.get(layer.name)
            if others is not None and lot not in really and (others.certain or others.least):
                yield f"{lot} is told as certain in the {layer.name}: {others}"


def _pieces(made: Made, told: dict[str, Share]) -> Iterator[str]:
    for placed in [*made.inserts, *made.graphics]:
        for position in placed.positions:
            share = told.get(placed.lot)
            bounds = share.layers.get(position) if share else None
            if placed.told and (bounds is None or not bounds.certain):
                yield f"{placed.lot} in {position} is told as {bounds}"
            if not placed.told and placed.material == "M8-N" and (share is None or share.verdict == "cannot"):
                yield f"{placed.lot} may be in {position} and is told not to be"


def wrong_scopes(truth: Truth, asked: list[str]) -> Iterator[str]:
    """A sentence for every hull that is wrongly said to share a lot, or not to."""
    by_serial = {made.known_as: made for made in truth.hulls()}
    misread = {wrong["cook"] for wrong in truth.wrong if wrong["what"] == "the wrong roll was scanned"}
    for lot in asked:
        for line in shared_by(Holds(lot)).lines:
            made = by_serial.get(str(line.node.code))
            if made is None or made.cook in misread:
                continue
            if line.verdict == "certain" and not is_of(made, lot):
                yield f"{made.serial} is said to hold {lot}: {line.why}"
            if line.verdict == "cannot" and is_of(made, lot):
                yield f"{made.serial} is said not to hold {lot}: {line.why}"


def wrong_balances(truth: Truth) -> Iterator[str]:
    """A sentence for every lot of which the balance says otherwise what left the stores, or does not add up."""
    really: dict[tuple[str, str], int] = defaultdict(int)
    for one in truth.left:
        really[one.lot, one.way] += one.much
    for lot, said in truth.lots.items():
        balance = balance_of(lot)
        if balance.received != sum(box["book"] for box in said["boxes"]):
            yield f"{lot}: {said['boxes']} came, told are {balance.received}"
        for way, kind in WAYS.items():
            records = [x for figure in balance.ends if figure.way == way for x in figure.records if x.kind == kind]
            told = sum(x.amount or 0 for x in records)
            if told != really[lot, way]:
                yield f"{lot}: {really[lot, way]} are {way}, told are {told}"
        found = sum(figure.bounds.best or 0 for figure in balance.differences)
        if balance.received is not None and balance.accounted != balance.received + found:
            yield f"{lot}: {balance.received} came, {found} were found, {balance.accounted} are somewhere"


def wrong_sweepings(truth: Truth) -> Iterator[str]:
    """A sentence where the balance of all days says otherwise of a place what was swept up there."""
    really: dict[str, int] = defaultdict(int)
    for one in truth.swept:
        really[one.where] += one.much
    found = [balance for balance in balances_of_days(None, None) if balance.material == SWEEPINGS]
    told = {part.code: part.bounds.best for balance in found for figure in balance.came for part in figure.parts}
    if told != really:
        yield f"{dict(really)} were swept up, told are {told}"


def wrong_names(truth: Truth) -> Iterator[str]:
    """A sentence for each hull that does not lead to the one it stands for, or whose plate before finds another."""
    by_plate = {plate: find_unit(plate) for one in truth.remoulded for plate in (one.old, one.new)}
    links = {(link.new, link.old) for link in linked_among(by_plate.values())}
    really = {(by_plate[one.new], by_plate[one.old]) for one in truth.remoulded}
    if links != really:
        yield f"{truth.remoulded} were moulded anew, told are {links}"
    for one in truth.relabelled:
        if find_unit(one.before) != find_unit(one.now) or nodes([find_unit(one.before)]).popitem()[1].serial != one.now:
            yield f"{one.before} is {one.now} now, and is told otherwise"


def wrong_returns(truth: Truth) -> Iterator[str]:
    """A sentence for every hull that came back and is said to be elsewhere, or of which the rod in it is not told."""
    by_plate = dict(rows_of("SELECT text, hull FROM serial_state WHERE hull IS NOT NULL"))
    at = places(by_plate.values())
    for one in truth.returns:
        place = at.get(by_plate[one.hull], "")
        if place.startswith(GONE) or (one.end.startswith("in rack") and place != one.end.removeprefix("in rack ")):
            yield f"{one.hull} came back, is {one.end}, and is said to be in {place}"
        share = lots(genealogy(one.hull, "back")).get(ROD_LOT)
        bounds = share.layers.get("repair") if share else None
        if (bounds.least if bounds else 0) != one.rod_mg or (bounds and bounds.most != one.rod_mg):
            yield f"{one.rod_mg} mg of rod are in {one.hull}, told are {bounds}"
    mended = {one.hull for one in truth.returns if one.rod_mg}
    told = {line.node.code for line in shared_by(Holds(ROD_LOT)).lines if line.verdict == "certain"}
    if told != mended:
        yield f"the rod is in {sorted(mended)}, told are {sorted(told)}"
