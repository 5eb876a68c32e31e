"""What is under a hold whose reach is still being written: asked by walking back, whenever something is used."""

from collections.abc import Collection, Iterable

from trace.genealogy.live import LIVE_NOW, id_array
from trace.genealogy.prepared import fetch_rows
from trace.readmodels.holds import WAITING

# So many units are looked at behind what is used (a tenth of a second); with more behind it, it counts as held until
# the job is done.
MOST_BEHIND = 30_000

UP = f"""
WITH RECURSIVE up(unit) AS (
  SELECT unnest(%(units)s::bigint[])
  UNION
  SELECT p.parent FROM up, LATERAL (SELECT e.parent FROM edge e WHERE e.child = up.unit AND {LIVE_NOW} OFFSET 0) p),
behind AS MATERIALIZED (SELECT unit FROM up LIMIT %(most)s::int + 1)
"""
# The waiting holds laid on something behind these units; all waiting holds where too much is behind them.
MET = f"""{UP}
SELECT h.id, h.unit, (SELECT count(*) FROM behind) > %(most)s::int FROM hold h WHERE h.id IN ({WAITING})
   AND (h.unit IN (SELECT unit FROM behind) OR (SELECT count(*) FROM behind) > %(most)s::int)
   AND NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = h.id AND (x.unit IS NULL OR x.unit = h.unit))
 ORDER BY h.id
"""
EDGES = f"""{UP}
SELECT e.parent, e.child FROM edge e WHERE e.child = ANY (ARRAY(SELECT unit FROM behind)) AND {LIVE_NOW}
"""
RELEASED = "SELECT x.hold, x.unit FROM hold_release x WHERE x.hold = ANY (%(holds)s::bigint[])"


def under_unspread(units: Collection[int]) -> dict[int, list[int]]:
    """unit -> holds on it whose reach still waits for the job. Two statements where there are none."""
    values = {"units": id_array(units), "most": MOST_BEHIND}
    met = fetch_rows(MET, values)
    if not met:
        return {}
    if met[0][2]:
        return {unit: [hold for hold, _, _ in met] for unit in units}
    into: dict[int, list[int]] = {}
    for parent, child in fetch_rows(EDGES, values):
        into.setdefault(parent, []).append(child)
    free = set(fetch_rows(RELEASED, {"holds": id_array(hold for hold, _, _ in met)}))
    found: dict[int, list[int]] = {}
    for hold, start, _ in met:
        below = _below(start, into, {unit for h, unit in free if h == hold})
        for unit in below.intersection(units):
            found.setdefault(unit, []).append(hold)
    return found


def _below(start: int, into: dict[int, list[int]], free: Iterable[int]) -> set[int]:
    """All that came of `start` along these edges, past nothing that was released."""
    seen, waiting = {start, *free}, [start]
    reached = {start}
    while waiting:
        new = [child for child in into.get(waiting.pop(), ()) if child not in seen]
        seen.update(new)
        reached.update(new)
        waiting += new
    return reached
