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
from trace.genealogy.live import id_array, known_by
from trace.genealogy.missing import BULK_KINDS, Gap, Suspect, as_doubts, could_fill, open_gaps, plant_data
from trace.genealogy.mixes import materials_of
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.scope import Share, one_layer, prepare, sweep
from trace.genealogy.walk import nodes, reached_ids, walk

MOST = 150_000
# So many units behind some hulls are reckoned with while somebody waits.
MOST_BEHIND = 15_000

HOW_FAR = f"""
WITH met AS MATERIALIZED ({reached_ids("forward")} LIMIT %(most)s::int + 1)
SELECT (SELECT count(*) FROM met),
  ARRAY(SELECT u.id FROM unit u WHERE u.id = ANY (ARRAY(SELECT id FROM met)) AND u.kind = 'hull' ORDER BY u.id)
"""
# What was made of it may be wanted under another name than its own: a pigment is part of a blend.
NAMES = f"""
WITH met AS MATERIALIZED ({reached_ids("forward")} LIMIT %(most)s::int + 1)
SELECT DISTINCT jsonb_build_object('material', u.about->'material', 'materials', u.about->'materials')::text
FROM unit u WHERE u.id = ANY (ARRAY(SELECT id FROM met)) AND u.kind = ANY (%(kinds)s::text[])
"""
BEHIND = f"SELECT count(*) FROM ({reached_ids('back')} LIMIT %(most)s::int + 1) AS met"


@dataclass(frozen=True, slots=True)
class HowFar:
    """Units reached, those asked about too, and the hulls among them by id. `more`: it went further than was looked."""

    units: int
    hulls: tuple[int, ...]
    more: bool


def how_far(roots: Collection[int], as_known_on: datetime | None = None, most: int = MOST) -> HowFar:
    """How many units came of `roots`, as known then, looked at up to `most` of them."""
    count, hulls = fetch_rows(HOW_FAR, _values(roots, as_known_on, most))[0]
    return HowFar(min(count, most), tuple(hulls), count > most)


def known_as(root: Node, as_known_on: datetime | None = None, most: int = MOST) -> Suspect:
    """`root` with the materials that it is known as, itself and in what was blended or filled with it."""
    if root.about.get("material") is None:
        return Suspect(root, None)
    values = {**_values([root.id], as_known_on, most), "kinds": list(BULK_KINDS)}
    abouts = [root.about, *(json.loads(text) for (text,) in fetch_rows(NAMES, values))]
    return Suspect(root, frozenset(name for about in abouts for name in materials_of(about)))


def doubtful(suspect: Suspect, as_known_on: datetime | None = None) -> list[int]:
    """The units with a gap that the suspect could fill: they, and what was made of them, may hold some of it."""
    gaps = open_gaps(as_known_on)
    units = nodes({gap.unit for gap in gaps}, as_known_on)
    return sorted({gap.unit for gap in _filled(suspect, gaps, units, as_known_on)})


def shares_of(
    suspect: Suspect, hulls: Collection[int], as_known_on: datetime | None = None, most: int = MOST_BEHIND
) -> tuple[Mapping[int, Share], str | None] | None:
    """How much of the suspect is in each of these hulls, and its unit of measure; None where more than `most` units
    stand behind them.
    """
    root = suspect.node
    if not hulls or fetch_rows(BEHIND, _values(hulls, as_known_on, most))[0][0] > most:
        return None
    graph = walk(sorted({root.id, *hulls}), "back", as_known_on)
    plan = prepare(graph, flows(graph.nodes, as_known_on))
    gaps = _filled(suspect, open_gaps(as_known_on, graph.nodes.keys()), graph.nodes, as_known_on)
    scope = sweep(plan, root.id, doubts=as_doubts(gaps), only=set(hulls))
    return {hull: scope.shares.get(hull, one_layer(NOTHING)) for hull in hulls}, scope.uom


def _filled(
    suspect: Suspect, gaps: Collection[Gap], units: Mapping[int, Node], as_known_on: datetime | None
) -> list[Gap]:
    """Those of the gaps that the suspect could fill."""
    plant = plant_data(as_known_on, [units[gap.unit] for gap in gaps], suspect.materials or ())
    return [gap for gap in gaps if could_fill(suspect, gap, units[gap.unit], plant)]


def _values(roots: Collection[int], as_known_on: datetime | None, most: int) -> dict[str, Any]:
    return {"roots": id_array(sorted(roots)), "known": known_by(as_known_on), "most": most}
