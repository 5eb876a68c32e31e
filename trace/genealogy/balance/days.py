"""The balance of a plant over some plant days, by material: stock at the start, received, used, found otherwise, left.

    stock at the start + received + differences = used + stock at the end

Stock is what is in containers and vessels; what goes from one to the other stays stock. By when things happened, as far
as was known at the moment asked for.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from typing import Literal

from trace.genealogy.answer import one_picture, what_was_known
from trace.genealogy.balance.drawn import Asked, Line, Measure, ends_of, lines_out, measure_of, powder_first
from trace.genealogy.balance.figures import Balance, Record, Uncertainty
from trace.genealogy.balance.records import Said, differences_of, edges_into, made_by, said_by
from trace.genealogy.balance.weighed import of_draws, of_labels
from trace.genealogy.find import fillings_by_carrier
from trace.genealogy.graph import Edge, Node
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.plant_days import plant_days
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.scope import is_part
from trace.genealogy.walk import nodes

KEPT = ("container", "vessel", "roll", "returnable")
OUT_OF = f"""
SELECT e.id, e.child, e.parent, e.event, e.role, e.layer, e.position, e.amount, e.uom FROM edge e
WHERE e.parent = ANY (%(ids)s::bigint[]) AND NOT e.aside AND {LIVE} ORDER BY e.id
"""
# What was swept up is of no lot and no material: it stands in a balance of its own, by where that was.
SWEEPINGS = "sweepings"
SWEPT_UP = """
SELECT u.id FROM event e JOIN unit u ON u.event = e.id AND u.kind = 'scrap'
WHERE e.kind = 'swept' AND e.recorded <= %(known)s::timestamptz ORDER BY u.id
"""
# What is looked through while somebody waits.
MOST_EVENTS = 400_000


class ManyRecordsError(Exception):
    """The plant has more records than are gone through while somebody waits."""


What = Literal["came", "within", "mixed", "out", "found"]


@dataclass(frozen=True, slots=True)
class Moved:
    """Something that changed the stock of one container at a time, by `amount` (below zero: out of it).

    What: it came into the stock, stayed in it and changed the container (mixed: with another material), was taken out
    of it, or was found otherwise.
    """

    what: What
    when: datetime
    unit: Node
    amount: int
    way: str
    said: Said
    edge: Edge | None = None


def balances_of_days(
    first: date | None, last: date | None, as_known_on: datetime | None = None, *, most: int | None = None
) -> list[Balance]:
    """One for each material that was in stock or moved on these plant days, both counted; None: no bound on that side.

    Raises UnknownCodeError where nothing was recorded by then, ManyRecordsError for more than `most` records.
    """
    with one_picture():
        known, size = what_was_known(as_known_on)
        if most is not None and size > most:
            raise ManyRecordsError
        begins, ends = plant_days(known).span(first, last)
        moves: dict[Measure, list[Moved]] = {}
        for moved in _moves(known):
            if ends is None or moved.when < ends:
                moves.setdefault(measure_of(moved.unit, moved.unit.uom), []).append(moved)
        name = f"{first or ''}..{last or ''}"
        asked = Asked("days", name, known, size)
        found = [_balance(asked, measure, some, begins) for measure, some in sorted(moves.items(), key=powder_first)]
        found += _swept_up(asked, begins, ends)
        return [balance for balance in found if balance.came or balance.ends]


def _swept_up(asked: Asked, begins: datetime | None, ends: datetime | None) -> list[Balance]:
    """Kilograms of no lot, by the place or machine where they were swept up: they came of nobody knows what, and are
    scrap. In no other balance: of which containers they were spilt nobody recorded."""
    units = [unit for (unit,) in fetch_rows(SWEPT_UP, {"known": known_by(asked.known)})]
    there = nodes(units, asked.known)
    made = made_by({node.event for node in there.values()})
    lines, places = [], dict[str, Node]()
    for node in there.values():
        when, where = made[node.event], str(node.about.get("where") or "?")
        if (begins is None or when.happened >= begins) and (ends is None or when.happened < ends):
            place = places.setdefault(where, node._replace(lot_no=where, amount=None))
            record = Record(when.event, when.happened, "swept up", where, node.uid, node.kind, node.amount)
            lines.append(Line("swept up", place, Fraction(node.amount or 0), record))
    if not lines:
        return []
    return [asked.balance((SWEEPINGS, "mg"), lines, [replace(line, way="scrap") for line in lines], [], 0)]


def _balance(asked: Asked, measure: Measure, moves: list[Moved], begins: datetime | None) -> Balance:
    before = [m for m in moves if begins is not None and m.when < begins]
    during = [m for m in moves if begins is None or m.when >= begins]
    left = _stock("stock", moves)
    mixed = [_said("mixed", m.unit, m.amount, m.said) for m in during if m.what == "mixed"]
    came = [*_stock("at the start", before), *(_line(m) for m in during if m.what == "came")]
    came += [line for line in mixed if line.amount > 0]
    ways = [*_used(during, asked.known), *(replace(line, amount=-line.amount) for line in mixed if line.amount < 0)]
    found = [_line(m) for m in during if m.what == "found"]
    total = int(sum((line.amount for line in left), Fraction(0)))
    return asked.balance(measure, came, [*ways, *left], found, total, uncertainty=_by_weighing(moves, during, asked))


def _by_weighing(moves: Iterable[Moved], during: Iterable[Moved], asked: Asked) -> Uncertainty:
    """Of what was found otherwise on these days: by all that was drawn until then out of the containers in which it
    was, also on days before, and by what their labels say."""
    last = _last_finds(during)
    if not last:
        return Uncertainty()
    until = [m for m in moves if m.unit.id in last and m.when <= last[m.unit.id]]
    draws = [(m.edge, Fraction(1)) for m in until if m.edge is not None and m.amount < 0]
    delivered = {m.unit.id: m.unit for m in until if m.way == "received"}
    weighed = of_draws(draws, nodes({edge.child for edge, _whole in draws}, asked.known), asked.known)
    labels = of_labels(list(delivered.values()), asked.known)
    # Each find was a count, which names no scale.
    finds = sum(1 for m in until if m.what == "found")
    return Uncertainty((*weighed.sources, *labels), weighed.unmeasured + finds)


def _last_finds(during: Iterable[Moved]) -> dict[int, datetime]:
    """When powder in each container was last found otherwise than the book said, by the container's id."""
    found = [one for one in during if one.what == "found" and one.unit.uom == "mg"]
    return {one.unit.id: one.when for one in sorted(found, key=lambda one: one.when)}


def _used(during: Iterable[Moved], known: datetime) -> list[Line]:
    """What was taken out of the stock, by where it is now."""
    out = [(m.edge, m.unit) for m in during if m.what == "out" and m.edge is not None]
    edges, units = [edge for edge, _unit in out], {unit.id: unit for _edge, unit in out}
    return lines_out(edges, units, ends_of({edge.child for edge in edges}, known), said_by(edges))


def _line(moved: Moved) -> Line:
    return _said(moved.way, moved.unit, moved.amount, moved.said)


def _said(way: str, unit: Node, amount: int, said: Said) -> Line:
    record = Record(said.event, said.happened, way, unit.said, unit.uid, unit.kind, amount)
    return Line(way, unit, Fraction(amount), record)


def _stock(way: str, moves: Iterable[Moved]) -> list[Line]:
    """What was in each container when all of these had happened, with the record that was its last."""
    held: Counter[int] = Counter()
    last: dict[int, Moved] = {}
    for moved in sorted(moves, key=lambda m: m.when):
        held[moved.unit.id] += moved.amount
        last[moved.unit.id] = moved
    return [_said(way, last[unit].unit, amount, last[unit].said) for unit, amount in held.items() if amount]


def _moves(known: datetime) -> Iterator[Moved]:
    """Everything that changed what a container held, whatever material it is."""
    inside = {unit for held in fillings_by_carrier(KEPT, known).values() for unit in held}
    stock = nodes(inside, known)
    into = edges_into(inside, known)
    out = [Edge(*row) for row in fetch_rows(OUT_OF, {"ids": id_array(sorted(inside)), "known": known_by(known)})]
    said = said_by({e.id: e for e in (*into, *out)}.values())
    yield from _in(stock, into, said)
    for edge in out:
        node, when = stock[edge.parent], said[edge.id]
        if edge.amount is None or edge.uom != node.uom or not is_part(edge, node):
            continue
        if edge.child in inside:
            yield Moved(_within(node, stock[edge.child]), when.happened, node, -edge.amount, edge.role, when, edge)
        else:
            yield Moved("out", when.happened, node, -edge.amount, edge.role, when, edge)
    for one in differences_of(inside, known):
        said_of_it = Said(one.event, one.happened)
        yield Moved("found", one.happened, stock[one.unit], one.amount, one.cause, said_of_it)


def _within(one: Node, other: Node) -> Literal["within", "mixed"]:
    """What goes from one container into another stays stock; as what, where it came to another material?"""
    return "within" if measure_of(one, one.uom) == measure_of(other, other.uom) else "mixed"


def _in(stock: Mapping[int, Node], into: Iterable[Edge], said: Mapping[int, Said]) -> Iterator[Moved]:
    """What came into each container, and what is in its amount without a record of where it came from."""
    told: Counter[int] = Counter()
    for edge in into:
        node, when = stock[edge.child], said[edge.id]
        if edge.amount is not None and edge.uom == node.uom:
            told[node.id] += edge.amount
            inside = edge.parent in stock
            what: What = _within(stock[edge.parent], node) if inside else "came"
            kept = None if inside else edge
            yield Moved(what, when.happened, node, edge.amount, _came_as(edge, node), when, kept)
    made = made_by({node.event for node in stock.values()})
    for node in stock.values():
        more = (node.amount or 0) - told[node.id]
        if more > 0:
            yield Moved("came", made[node.event].happened, node, more, "unknown source", made[node.event])


def _came_as(edge: Edge, node: Node) -> str:
    if edge.role != "receive":
        return "poured back"
    return "at the start" if node.about.get("origin") == "before records" else "received"
