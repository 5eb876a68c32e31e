"""Out of the records of many hulls: which hull has which cause, for certain, by mixing, or for want of a record.

Read in bulk: so many hulls at a time are walked back together, and each sort of record is one query for all of them.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from itertools import product

import numpy as np

from trace.codes.plant_day import Calendar
from trace.genealogy.built import Built
from trace.genealogy.cause_words import COOKED, WORDS, Thing
from trace.genealogy.flows import flows
from trace.genealogy.graph import Graph, Node
from trace.genealogy.missing import Gap, candidates, open_gaps, plant_data
from trace.genealogy.walk import REGRIND, walk
from trace.quality import acts
from trace.quality.exact import Floats, Ints
from trace.quality.factors import SPANS, STOCK, Factor
from trace.quality.held import Held, held
from trace.quality.incidence import CERTAIN, MIXED, OPEN, Incidence, incidence
from trace.quality.thresholds import Values, cut

# So many hulls are walked back at once: what is in memory is bounded by this, not by how many are compared.
AT_ONCE = 2_000
# The layer of what a repair takes.
REPAIR = "repair"
# A thing in an act -> the sort of cause; a machine is also known by what it was there.
SORT_OF = {
    ("mould", "mould"): "mould", ("machine", "arm"): "arm", ("machine", "oven"): "oven",
    ("instrument", "scale"): "scale", ("instrument", "logger"): "logger", ("works_order", "order"): "works-order",
    ("sales_order", "order"): "sales-order", ("consignee", "consignee"): "consignee",
}  # fmt: skip
# A missing record leaves these open as it does in a scope; of people any record could tell.
OPEN_BY: Mapping[str, frozenset[str] | None] = {
    **{name: word.missing for name, word in WORDS.items() if isinstance(word, Thing)},
    "reading": COOKED, "on arm": COOKED,
}
ABOUT = {"colour": "colour", "recipe": "recipe", "cavity": "cavity", "coat": "coat", "product": "model"}
NOBODY: tuple[Ints, Ints] = np.zeros(0, np.int64), np.zeros(0, np.int64)
# A time of making that may be off by more than this says no shift.
SHARP = timedelta(hours=1)


@dataclass
class Compared:
    """Pairs as they are found: of each cause the hulls (numbers from 0) by grade, and how much of a lot each holds."""

    rows: dict[Factor, list[tuple[Ints, int]]] = field(default_factory=lambda: defaultdict(list))
    much: dict[Factor, list[tuple[Ints, Floats]]] = field(default_factory=lambda: defaultdict(list))
    units: dict[int, Node] = field(default_factory=dict)
    values: Values = field(default_factory=dict)
    certificates: dict[tuple[str, str], dict[int, float]] = field(default_factory=lambda: defaultdict(dict))
    open_for: dict[tuple[str, str], list[Ints]] = field(default_factory=lambda: defaultdict(list))
    left_out: int = 0

    def add(self, factor: Factor, hulls: Ints | Sequence[int], grade: int = CERTAIN) -> None:
        self.rows[factor].append((np.asarray(hulls, np.int64), grade))

    def holding(self, factor: Factor) -> tuple[Ints, Floats]:
        """The hulls that hold some of a lot, and how much when well mixed (nan: nobody can say)."""
        found = self.much.get(factor, [])
        if not found:
            return np.zeros(0, np.int64), np.zeros(0)
        return np.concatenate([h for h, _m in found]), np.concatenate([m for _h, m in found])


def compared(hulls: Sequence[int], built: Mapping[int, Built], known: datetime, calendar: Calendar) -> Compared:
    """What the records known by then hold of these hulls (ids), numbered in this order."""
    found = Compared()
    for first in range(0, len(hulls), AT_ONCE):
        _some(found, first, hulls[first : first + AT_ONCE], known)
    _when_made(found, [built[hull] for hull in hulls], calendar)
    _readings(found, len(hulls))
    _doses(found)
    _without_a_record(found)
    return found


def as_incidence(found: Compared, hulls: int) -> tuple[tuple[Factor, ...], Incidence]:
    """The causes in an order that depends on nothing but themselves, and their pairs."""
    factors = tuple(sorted(factor for factor, rows in found.rows.items() if any(len(h) for h, _grade in rows)))
    cause: list[Ints] = [np.zeros(0, np.int64)]
    hull: list[Ints] = [np.zeros(0, np.int64)]
    grade: list[Ints] = [np.zeros(0, np.int64)]
    for n, factor in enumerate(factors):
        for of, how in found.rows[factor]:
            cause.append(np.full(len(of), n))
            hull.append(of)
            grade.append(np.full(len(of), how))
    return factors, incidence(
        hulls, len(factors), np.concatenate(cause), np.concatenate(hull), np.concatenate(grade)
    )


@dataclass(frozen=True)
class _Part:
    """Some hulls walked back: for each unit behind them the numbers of the hulls it is in, and whether for certain."""

    graph: Graph
    known: datetime
    hulls_of: Mapping[int, tuple[Ints, Ints]]

    def own(self) -> list[int]:
        return [unit for unit, node in self.graph.nodes.items() if node.kind not in STOCK and unit in self.hulls_of]


def _some(found: Compared, first: int, hulls: Sequence[int], known: datetime) -> None:
    """Everything about these hulls, of which the first has the number `first`."""
    since = acts.repaired_since(hulls, known)
    graph = _without_repairs(walk(sorted(hulls), "back", known, stop_roles=REGRIND), since)
    holds = held(graph, flows(graph.nodes, known), np.array(hulls))
    found.left_out += holds.left_out
    found.units |= {unit: node for unit, node in graph.nodes.items() if node.kind in STOCK}
    part = _Part(graph, known, _stock(found, holds, graph, np.array(hulls), first))
    _things(found, part)
    _measured(found, part)
    _made_as(found, part)
    _gaps(found, part, since)


def _without_repairs(graph: Graph, since: Mapping[int, Collection[int]]) -> Graph:
    """Without what was put into a hull because it had failed."""
    if not since:
        return graph
    left = tuple(e for e in graph.edges if e.layer != REPAIR or e.event not in since.get(e.child, ()))
    return replace(graph, edges=left)


def _stock(found: Compared, holds: Held, graph: Graph, hulls: Ints, first: int) -> dict[int, tuple[Ints, Ints]]:
    """Lots, containers, blends and what follows from them; the hulls of every unit, with their grade."""
    order = np.argsort(hulls, kind="stable")
    pairs = holds.pairs
    number = first + order[np.searchsorted(hulls[order], holds.units[pairs.unit])]
    grade = np.where(pairs.certain, CERTAIN, MIXED)
    by = np.lexsort((pairs.part, pairs.source))
    source, part = pairs.source[by], pairs.part[by]
    starts = np.flatnonzero(np.concatenate([[True], np.diff(source) != 0])) if len(by) else np.zeros(0, np.int64)
    every: dict[int, tuple[Ints, Ints]] = {}
    for start, end in zip(starts, [*starts[1:], len(by)], strict=True):
        here = by[start:end]
        unit = int(holds.units[source[start]])
        every[unit] = number[here], grade[here]
        node = graph.nodes[unit]
        if node.kind in STOCK:
            _one_stock(found, node, number[here], grade[here], pairs.best[here])
            if node.kind == "lot":
                _by_part(found, node, number[here], grade[here], [holds.parts[p] for p in part[start:end]])
    return every


def _one_stock(found: Compared, node: Node, hulls: Ints, grade: Ints, best: Floats) -> None:
    names = [Factor(STOCK[node.kind], str(node.id))]
    if node.kind == "lot":
        names += [Factor(sort, str(node.about[sort])) for sort in ("supplier", "material") if node.about.get(sort)]
    for factor in names:
        found.add(factor, hulls[grade == CERTAIN])
        found.add(factor, hulls[grade == MIXED], MIXED)
    each, back = np.unique(hulls, return_inverse=True)
    found.much[names[0]].append((each, np.bincount(back, best, len(each)).astype(np.float64)))


def _by_part(found: Compared, node: Node, hulls: Ints, grade: Ints, parts: list[str]) -> None:
    named = np.array(parts)
    for name in sorted(set(parts) - {""}):
        here = named == name
        for how in (CERTAIN, MIXED):
            found.add(Factor("lot", str(node.id), name), hulls[here & (grade == how)], how)


def _each(part: _Part, unit: int) -> Iterable[tuple[Ints, int]]:
    hulls, grade = part.hulls_of.get(unit, NOBODY)
    return ((hulls[grade == how], how) for how in (CERTAIN, MIXED))


def _things(found: Compared, part: _Part) -> None:
    """Things and people of every act, the rules that spoke, and where on the arm each stood."""
    for thing in acts.things_of(part.graph.nodes, part.known, STOCK):
        for factor in _named(thing):
            for hulls, grade in _each(part, thing.unit):
                found.add(factor, hulls, grade)
    for unit, code, act in acts.rules_of(part.graph.nodes, part.known, STOCK):
        for hulls, grade in _each(part, unit):
            found.add(Factor("rule", code, act), hulls, grade)
    for unit, place in acts.places_on_arm(part.own(), part.known):
        for hulls, grade in _each(part, unit):
            found.add(Factor("on arm", place), hulls, grade)


def _named(thing: acts.Thing) -> list[Factor]:
    if thing.kind == "person":
        return [Factor("person", thing.key), Factor("person", thing.key, thing.act)]
    sort = SORT_OF.get((thing.kind, thing.role)) or (thing.kind if thing.kind in ("machine", "instrument") else "")
    return [Factor(sort, thing.key)] if sort else []


def _made_as(found: Compared, part: _Part) -> None:
    """What each hull is by its own record: model, colour, recipe revision, cavity."""
    for unit in part.own():
        node = part.graph.nodes[unit]
        if node.kind != "hull":
            continue
        for name, sort in ABOUT.items():
            if node.about.get(name) not in (None, ""):
                found.add(Factor(sort, str(node.about[name])), part.hulls_of[unit][0])


def _measured(found: Compared, part: _Part) -> None:
    """The last value of each quantity in each hull, and what certificates say of lots."""
    for one in acts.readings_of(part.graph.nodes, part.known):
        node = part.graph.nodes[one.unit]
        if node.kind == "lot":
            found.certificates[str(node.about.get("material")), one.quantity][one.unit] = one.value
            continue
        layer = str(node.about.get("layer") or "") if node.kind == "charge" else one.zone
        quantity = f"{one.quantity} {layer}".strip(), one.uom
        for hull in part.hulls_of.get(one.unit, NOBODY)[0]:
            found.values.setdefault(quantity, {})[int(hull)] = one.value
    _took(found, part)


def _took(found: Compared, part: _Part) -> None:
    """How many minutes each stage of the work took."""
    kinds = {kind for span in SPANS.values() for kind in span}
    when: dict[int, dict[str, datetime]] = defaultdict(dict)
    for unit, kind, at in acts.times_of(part.own(), part.known, STOCK, kinds):
        for hull in part.hulls_of[unit][0]:
            when[int(hull)][kind] = at
    for (name, (begin, end)), (hull, seen) in product(SPANS.items(), when.items()):
        if begin in seen and end in seen and seen[end] >= seen[begin]:
            minutes = (seen[end] - seen[begin]).total_seconds() / 60
            found.values.setdefault((name, "min"), {})[hull] = round(minutes, 1)


def _gaps(found: Compared, part: _Part, since: Collection[int]) -> None:
    """A missing record is a cause of its own, and leaves open what it could have named; one of a repair since the hull
    failed is neither."""
    gaps = [gap for gap in open_gaps(part.known, part.graph.nodes) if gap.what != REPAIR or gap.unit not in since]
    for gap in gaps:
        for hulls, grade in _each(part, gap.unit):
            found.add(Factor("gap", gap.what, gap.which), hulls, grade)
            if len(hulls):
                found.open_for[gap.what, part.graph.nodes[gap.unit].kind].append(hulls)
    _could_be_filled(found, part, gaps)


def _could_be_filled(found: Compared, part: _Part, gaps: Collection[Gap]) -> None:
    if not gaps:
        return
    plant = plant_data(part.known, [part.graph.nodes[gap.unit] for gap in gaps])
    for lot, (node, fills) in candidates(gaps, part.graph, plant, part.known).items():
        for gap in fills:
            for hulls, _grade in _each(part, gap.unit):
                found.add(Factor("lot", str(lot)), hulls, OPEN)
                if node.about.get("supplier"):
                    found.add(Factor("supplier", str(node.about["supplier"])), hulls, OPEN)
        found.units.setdefault(lot, node)


def _without_a_record(found: Compared) -> None:
    """Every cause of a sort is open for the hulls without the record that would have named it."""
    for factor in list(found.rows):
        if factor.sort not in OPEN_BY:
            continue
        wanted = OPEN_BY[factor.sort]
        for (what, kind), hulls in found.open_for.items():
            if wanted is None or (what in wanted and kind not in STOCK):
                found.add(factor, np.concatenate(hulls), OPEN)


def _when_made(found: Compared, built: Sequence[Built], calendar: Calendar) -> None:
    """Shift and weekday of the plant's own day."""
    unsure = [n for n, one in enumerate(built) if one.last - one.first > SHARP]
    by: dict[Factor, list[int]] = defaultdict(list)
    for n, one in enumerate(built):
        if one.last - one.first > SHARP:
            continue
        shift = calendar.shift(one.last)
        if shift:
            by[Factor("shift", shift.name)].append(n)
        by[Factor("weekday", f"{calendar.day(one.last):%A}")].append(n)
    for factor, hulls in by.items():
        found.add(factor, hulls)
        found.add(factor, unsure, OPEN)


def _doses(found: Compared) -> None:
    """Of what vessels mixed: at least so much of it, by the well mixed share. What went round in a vessel never
    emptied is in hundreds of hulls, and only those with much of it can show what it does."""
    for factor in list(found.much):
        if not any(grade == MIXED and len(hulls) for hulls, grade in found.rows[factor]):
            continue
        hulls, much = found.holding(factor)
        told = ~np.isnan(much)
        kilograms = (much[told] / 1_000_000).tolist()
        amounts = dict(zip(hulls[told].tolist(), kilograms, strict=True))
        for cut_at, has, _missing in cut("", {("", "kg"): amounts}, 0):
            if cut_at.part.startswith("≥"):
                found.add(Factor(f"much {factor.sort}", factor.key, cut_at.part), has, MIXED)


def families(factors: Sequence[Factor]) -> Ints:
    """The same number for causes that are cuts of one quantity: of a reading, of a certificate's value, of how much of
    one lot is in a hull (any at all is one of its cuts)."""
    numbers: dict[tuple[str, ...], int] = {}
    return np.array([numbers.setdefault(_family(factor), len(numbers)) for factor in factors], np.int64)


def _family(factor: Factor) -> tuple[str, ...]:
    if factor.sort in ("reading", "certificate"):
        return factor.sort, factor.key
    if factor.sort.startswith("much "):
        return factor.sort.removeprefix("much "), factor.key, ""
    return tuple(factor)


def _readings(found: Compared, hulls: int) -> None:
    """Readings as thresholds; of lots, what their certificates say, as thresholds over the lots."""
    for factor, has, missing in cut("reading", found.values, hulls):
        found.add(factor, has)
        found.add(factor, missing, OPEN)
    for (material, quantity), values in found.certificates.items():
        for factor, lots, _missing in cut("certificate", {(f"{material} {quantity}", ""): values}, 0):
            for lot in lots:
                for rows, grade in list(found.rows.get(Factor("lot", str(lot)), ())):
                    found.add(factor, rows, grade)
