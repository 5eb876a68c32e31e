"""How far something went, without a look at each unit: for what was made into more than a page can reckon at once.

One query that stops at a number of units, whatever more there is, and brings back numbers and the hulls' ids alone.
How much of it a few hulls hold is reckoned from these back, as the sheet of each hull does.
"""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.genealogy.amounts import NOTHING
from trace.genealogy.flows import flows
from trace.genealogy.graph import Node
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.missing import BULK_KINDS, Gap, Suspect, as_doubts, could_fill, open_gaps, plant_data
from trace.genealogy.mixes import materials_of
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.scope import Share, one_layer, prepare, sweep
from trace.genealogy.walk import among, nodes, reached_ids

MOST = 150_000
# So many units behind some hulls are reckoned with while somebody waits.
MOST_BEHIND = 15_000

# Of the hulls of one page also the units on the way to them. What was made may be wanted under another name than the
# suspect's own: a pigment is part of a blend. IS TRUE: as a plain condition what was met would be made into a join, and
# sorted out anew for each unit on the way.
HOW_FAR = f"""
WITH RECURSIVE met AS MATERIALIZED ({reached_ids("forward")} LIMIT %(most)s::int + 1),
made AS MATERIALIZED (
  SELECT u.id, u.kind,
    jsonb_build_object('material', u.about->'material', 'materials', u.about->'materials')::text AS names
  FROM unit u WHERE u.id = ANY (ARRAY(SELECT id FROM met)) AND u.kind = ANY (%(kinds)s::text[])),
between(id) AS (
  SELECT id FROM (SELECT id FROM made WHERE kind = 'hull' ORDER BY id OFFSET %(skip)s::int LIMIT %(take)s::int) AS page
  UNION
  SELECT n.far FROM between b, LATERAL (
    SELECT e.parent AS far FROM edge e
    WHERE e.child = b.id AND NOT e.aside AND {LIVE} AND (e.parent IN (SELECT id FROM met)) IS TRUE OFFSET 0) n)
SELECT (SELECT count(*) FROM met), ARRAY(SELECT id FROM made WHERE kind = 'hull' ORDER BY id),
  ARRAY(SELECT DISTINCT names FROM made WHERE kind <> 'hull'), ARRAY(SELECT id FROM between)
"""
BEHIND = f"SELECT id FROM ({reached_ids('back')} LIMIT %(most)s::int + 1) AS met"


@dataclass(frozen=True, slots=True)
class HowFar:
    """Units reached, those asked about too, and the hulls among them by id. `more`: it went further than was looked.

    `names` are what the materials made of it are called; `between` the units on the way to the hulls of the page asked
    for, these too.
    """

    units: int
    hulls: tuple[int, ...]
    more: bool
    names: frozenset[str] = frozenset()
    between: tuple[int, ...] = ()


def how_far(
    roots: Collection[int], as_known_on: datetime | None = None, most: int = MOST, page: slice = slice(0, 0)
) -> HowFar:
    """How many units came of `roots`, as known then, looked at up to `most` of them; `page` is that of its hulls."""
    values = {**_values(roots, as_known_on, most), "kinds": ["hull", *BULK_KINDS]}
    values |= {"skip": page.start, "take": page.stop - page.start}
    count, hulls, names, between = fetch_rows(HOW_FAR, values)[0]
    called = frozenset(name for text in names for name in materials_of(json.loads(text)))
    return HowFar(min(count, most), tuple(hulls), count > most, called, tuple(between))


def known_as(root: Node, far: HowFar) -> Suspect:
    """`root` with the materials that it is known as, itself and in what was blended or filled with it."""
    if root.about.get("material") is None:
        return Suspect(root, None)
    return Suspect(root, far.names | set(materials_of(root.about)))


def doubtful(suspect: Suspect, as_known_on: datetime | None = None) -> list[int]:
    """The units with a gap that the suspect could fill: they, and what was made of them, may hold some of it."""
    gaps = open_gaps(as_known_on)
    units = nodes({gap.unit for gap in gaps}, as_known_on)
    return sorted({gap.unit for gap in _filled(suspect, gaps, units, as_known_on)})


def shares_of(
    suspect: Suspect, hulls: Collection[int], far: HowFar, as_known_on: datetime | None = None
) -> tuple[Mapping[int, Share], str | None] | None:
    """How much of the suspect is in each of these hulls, the page for which `far` was asked, and its unit of measure.

    None where too many units stand behind them to be reckoned with.
    """
    units = far.between
    if far.more:
        # Not all that lies between was looked at.
        units = tuple(n for (n,) in fetch_rows(BEHIND, _values(hulls, as_known_on, MOST_BEHIND)))
    if not hulls or len(units) > MOST_BEHIND:
        return None
    graph = among({suspect.node.id, *units}, as_known_on)
    plan = prepare(graph, flows(graph.nodes, as_known_on))
    gaps = _filled(suspect, open_gaps(as_known_on, graph.nodes.keys()), graph.nodes, as_known_on)
    scope = sweep(plan, suspect.node.id, doubts=as_doubts(gaps), only=set(hulls))
    return {hull: scope.shares.get(hull, one_layer(NOTHING)) for hull in hulls}, scope.uom


def _filled(
    suspect: Suspect, gaps: Collection[Gap], units: Mapping[int, Node], as_known_on: datetime | None
) -> list[Gap]:
    """Those of the gaps that the suspect could fill."""
    plant = plant_data(as_known_on, [units[gap.unit] for gap in gaps], suspect.materials or ())
    return [gap for gap in gaps if could_fill(suspect, gap, units[gap.unit], plant)]


def _values(roots: Collection[int], as_known_on: datetime | None, most: int) -> dict[str, Any]:
    return {"roots": id_array(sorted(roots)), "known": known_by(as_known_on), "most": most}
