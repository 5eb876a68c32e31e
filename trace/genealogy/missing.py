"""What the records do not say: gaps as they stood on a day, and what a suspect's material could fill.

"Cannot" needs evidence. A hull without a record of its foam may hold any foam that was there; one made before
records began may hold any lot that was there before it.
"""

import json
from calendar import monthrange
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db import connection
from django.utils import timezone

from trace.genealogy.amounts import OPEN
from trace.genealogy.graph import Graph, Node
from trace.genealogy.live import id_array, known_by
from trace.genealogy.mixes import materials_of
from trace.genealogy.scope import Share
from trace.genealogy.walk import nodes

BEFORE_RECORDS = "before records"
# What is missing from these says nothing about what was in the mould.
NOT_OF_MATERIAL = frozenset(
    {"oven log", "stop length", "consignee", "photo", "amount", "number of containers", "date made", "use-by date"}
)
# What kind of material a repair takes, where its record does not say which.
WELDED_IN = ("rod", "part", "insert")
BULK_KINDS = ("lot", "content", "blend", "charge", "regrind")
OLD_KINDS = ("hull", "moulding", "part", "load")
STOCK_KINDS = ("content", "blend", "charge", "regrind")

# A late fact may show that the source of something later is not known: that is as late as the act it is missing from.
FOUND = """GREATEST({event}.happened, (
  SELECT max((said->>'at')::timestamptz) FROM jsonb_array_elements(
         COALESCE({event}.body::jsonb->'rows'->'missed', '[]')) AS x(said)
   WHERE said->>'child' = u.uid::text AND COALESCE(said->>'layer', said->>'position', said->>'role') = {which}))"""
# The last word on each gap counts, in the order of recording: a gap closed and found again is open.
GAPS = """
SELECT u.id, g->>'what', g->>'which', x.role = 'gap', {found}
FROM event_unit x JOIN event e ON e.id = x.event AND e.recorded <= %(known)s::timestamptz
JOIN unit u ON u.id = x.unit
CROSS JOIN LATERAL jsonb_array_elements(COALESCE(
  e.body::jsonb->'rows'->CASE x.role WHEN 'gap' THEN 'gaps' ELSE 'gaps_closed' END, '[]')) AS g
WHERE x.role IN ('gap', 'gap closed') AND g->>'unit' = u.uid::text {these}
ORDER BY e.id
"""
OLD = """
SELECT u.id, e.happened FROM unit u JOIN event e ON e.id = u.event AND e.recorded <= %(known)s::timestamptz
WHERE u.about->>'origin' = 'before records' {these} ORDER BY u.id
"""
# What stood in the plant data then, by version; the newest where a unit does not say which.
RECIPES = """
SELECT r.kind, r.key, v.version, v.body FROM revision v JOIN resource r ON r.id = v.thing
JOIN event e ON e.id = v.event AND e.recorded <= %(known)s::timestamptz
WHERE (r.kind = 'product' AND r.key = ANY (%(products)s))
  OR (r.kind = 'material' AND r.key = ANY (%(materials)s))
ORDER BY v.version
"""
LOTS = """
SELECT u.id FROM unit u JOIN event e ON e.id = u.event AND e.recorded <= %(known)s::timestamptz
WHERE u.kind IN ('lot', 'blend') AND (u.about->>'material' = ANY (%(materials)s)
  OR NOT u.about ? 'material' OR %(any)s) ORDER BY u.id
"""


@dataclass(frozen=True, slots=True)
class Gap:
    """A record that unit `unit` should have and has not: `what` (layer, insert, cycle …) and `which` of them.

    `found` is when that was noticed: what came later cannot have filled it.
    """

    unit: int
    what: str
    which: str
    found: datetime


@dataclass(frozen=True, slots=True)
class PlantData:
    """Bodies of products by (key, version) and of materials by key; version None is the newest."""

    products: Mapping[tuple[str, int | None], Mapping[str, Any]] = field(default_factory=dict)
    materials: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def recipe(self, node: Node) -> Mapping[str, Any] | None:
        key = node.about.get("product")
        return self.products.get((str(key), node.about.get("recipe"))) or self.products.get((str(key), None))


@dataclass(frozen=True, slots=True)
class Suspect:
    """What is asked about, in the terms in which a gap can be filled by it.

    `materials` are the materials it is or became part of (a pigment: also of the blends made with it);
    None when one of the records does not say, so that anything is possible.
    """

    node: Node
    materials: frozenset[str] | None

    @property
    def old(self) -> bool:
        return self.node.about.get("origin") == BEFORE_RECORDS


def open_gaps(as_known_on: datetime | None = None, units: Collection[int] | None = None) -> list[Gap]:
    """The gaps open then, by unit, of these units (None: of all); being made before records is one."""
    values: dict[str, Any] = {"known": known_by(as_known_on), "units": id_array(units or ())}
    standing: dict[tuple[int, str, str], Gap] = {}
    with connection.cursor() as cursor:
        these = "" if units is None else "AND x.unit = ANY (%(units)s::bigint[])"
        cursor.execute(GAPS.format(these=these, found=FOUND.format(event="e", which="g->>'which'")), values)
        for unit, what, which, opened, happened in cursor.fetchall():
            standing.pop((unit, what, which), None)
            if opened:
                standing[unit, what, which] = Gap(unit, what, which, happened)
        cursor.execute(OLD.format(these="" if units is None else "AND u.id = ANY (%(units)s::bigint[])"), values)
        for unit, happened in cursor.fetchall():
            standing.setdefault((unit, BEFORE_RECORDS, ""), Gap(unit, BEFORE_RECORDS, "", happened))
    return sorted(standing.values(), key=lambda g: (g.unit, g.what, g.which))


def plant_data(as_known_on: datetime | None, units: Iterable[Node], materials: Collection[str] = ()) -> PlantData:
    """The recipes behind these units and the bodies of these materials, as recorded by then."""
    products = sorted({str(n.about["product"]) for n in units if n.about.get("product")})
    if not products and not materials:
        return PlantData()
    found: dict[tuple[str, int | None], Mapping[str, Any]] = {}
    bodies: dict[str, Mapping[str, Any]] = {}
    with connection.cursor() as cursor:
        cursor.execute(
            RECIPES,
            {"known": known_by(as_known_on), "products": products, "materials": sorted(materials)},
        )
        for kind, key, version, text in cursor.fetchall():
            body = json.loads(text)
            if kind == "material":
                bodies[key] = body
            else:
                found[key, version] = found[key, None] = body
    return PlantData(found, bodies)


def suspect_of(node: Node, reached: Graph) -> Suspect:
    """The suspect with the materials it is known as, itself and in what was blended or filled with it."""
    own = node.about.get("material")
    if own is None:
        return Suspect(node, None)
    bulk = (m for n in reached.nodes.values() if n.kind in BULK_KINDS for m in materials_of(n.about))
    return Suspect(node, frozenset({*materials_of(node.about), *bulk}))


def could_fill(suspect: Suspect, gap: Gap, unit: Node, plant: PlantData) -> bool:
    """Could material of the suspect be what this gap does not tell? Only evidence makes it False."""
    node = suspect.node
    if node.kind not in BULK_KINDS or gap.what in NOT_OF_MATERIAL or node.id == unit.id:
        return False
    made = max(gap.found, unit.happened)
    if gap.what == BEFORE_RECORDS:
        if unit.kind in STOCK_KINDS:
            # Opening stock of a known lot holds that lot; of an unknown one, any older lot of its material. Its own
            # lot, which has no number, is no other one.
            other = node.kind == "lot" and suspect.old and node.uid != unit.about.get("lot")
            return other and not unit.lot_no and _is(suspect, unit.about.get("material"))
        if unit.kind not in OLD_KINDS or (not suspect.old and _day(node) > (_made(unit) or _day(unit))):
            return False
    elif node.kind == "lot" and node.happened > made:
        return False
    wanted = _wanted(gap, unit, plant)
    return wanted is None or any(_fills(suspect, w, plant) for w in wanted)


def _day(node: Node) -> date:
    return timezone.localdate(node.happened)


def _made(unit: Node) -> date | None:
    """The last day on which an old hull can have been made: its record may say a day, a month or only a year."""
    year, month, day = (*str(unit.about.get("made")).split("-"), "", "")[:3]
    try:
        if day:
            return date(int(year), int(month), int(day))
        month = month or "12"
        return date(int(year), int(month), monthrange(int(year), int(month))[1])
    except ValueError:
        return None


def wanted_materials(gap: Gap, unit: Node, plant: PlantData) -> frozenset[str] | None:
    """The materials that could fill the gap by the unit's recipe; None when that is not known."""
    wanted = _wanted(gap, unit, plant)
    if wanted is None or any("material" not in w for w in wanted):
        return None
    return frozenset(str(w["material"]) for w in wanted)


def _wanted(gap: Gap, unit: Node, plant: PlantData) -> list[dict[str, Any]] | None:
    """What the recipe puts there: {"material": …}, {"artwork": …} or, in a repair, {"kind": …}; None when nobody
    knows."""
    if unit.kind in BULK_KINDS:
        return [{"material": m} for m in materials_of(unit.about)] or None
    if "repair" in (gap.what, gap.which):
        return [{"kind": kind} for kind in WELDED_IN]
    recipe = plant.recipe(unit)
    return None if recipe is None else _by_recipe(gap, unit, recipe)


def _by_recipe(gap: Gap, unit: Node, recipe: Mapping[str, Any]) -> list[dict[str, Any]] | None:
    colour = str(unit.about.get("colour", ""))
    layers = {x["name"]: {"material": str(x["material"]).replace("{colour}", colour)} for x in recipe.get("layers", [])}
    inserts = {p: {"material": m} for p, m in recipe.get("inserts", {}).items()}
    graphics: dict[str, dict[str, Any]] = {z: dict(g) for z, g in recipe.get("graphics", {}).items()}
    by_kind = {"layer": layers, "weighing": layers, "insert": inserts, "graphic": graphics}
    named = by_kind.get(gap.what, {**layers, **inserts, **graphics})
    if gap.which in named:
        return [named[gap.which]]
    if gap.what in by_kind:
        return None
    if gap.what == "charge":
        return list(layers.values())
    return [*layers.values(), *inserts.values(), *graphics.values()]


def _fills(suspect: Suspect, wanted: Mapping[str, Any], plant: PlantData) -> bool:
    said = next((name for name in ("artwork", "kind") if name in wanted), "")
    if not said:
        return _is(suspect, wanted.get("material"))
    if suspect.materials is None:
        return True
    bodies = [plant.materials.get(m) for m in suspect.materials]
    return any(b is None or b.get(said) == wanted[said] for b in bodies)


def _is(suspect: Suspect, material: object) -> bool:
    return material is None or suspect.materials is None or material in suspect.materials


def as_doubts(gaps: Iterable[Gap]) -> dict[int, Share]:
    """Shares that gaps leave open: nobody can say how much, in the layer or position without a record."""
    found: dict[int, Share] = {}
    for gap in gaps:
        layers = dict(found[gap.unit].layers) if gap.unit in found else {}
        layers[gap.which] = OPEN
        found[gap.unit] = Share(layers, OPEN)
    return found


def candidates(
    gaps: Collection[Gap], graph: Graph, plant: PlantData, as_known_on: datetime | None = None
) -> dict[int, tuple[Node, list[Gap]]]:
    """Lots and blends known then that could fill these gaps of units of `graph`, each with those gaps."""
    wanted = [wanted_materials(g, graph.nodes[g.unit], plant) for g in gaps if g.what not in NOT_OF_MATERIAL]
    if not wanted:
        return {}
    lots = _lots_of(wanted, as_known_on)
    materials = {str(n.about["material"]) for n in lots.values() if n.about.get("material")}
    known = PlantData(plant.products, plant_data(as_known_on, (), materials).materials)
    found = {}
    for lot in lots.values():
        suspect = suspect_of(lot, Graph((lot.id,), {}, ()))
        fills = [g for g in gaps if could_fill(suspect, g, graph.nodes[g.unit], known)]
        if fills:
            found[lot.id] = lot, fills
    return found


def _lots_of(wanted: list[frozenset[str] | None], as_known_on: datetime | None) -> dict[int, Node]:
    """The lots and blends known then of the materials wanted; all of them, where anything at all may fit."""
    values: dict[str, Any] = {
        "known": known_by(as_known_on),
        "materials": sorted({m for w in wanted if w for m in w}),
        "any": any(w is None for w in wanted),
    }
    with connection.cursor() as cursor:
        cursor.execute(LOTS, values)
        return nodes([row[0] for row in cursor.fetchall()], as_known_on)
