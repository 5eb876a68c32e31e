"""Where every way of the plant leads, as arrays: for what reaches too far to be followed from unit to unit.

The ways are read at once as packed numbers and followed in compiled code. What reaches few units is followed one by one
by key, which takes no longer for a large plant than for a small one.
"""

from collections.abc import Collection
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import breadth_first_order

from trace.genealogy.live import LIVE_OF_ALL, known_by
from trace.genealogy.prepared import fetch_rows

Ints = npt.NDArray[np.int64]
# 16 bytes each here, and as much again while they are put in order.
MOST_WAYS = 10_000_000
COUNT = "SELECT reltuples::bigint FROM pg_class WHERE oid = 'edge'::regclass"
WAYS = f"""
SELECT string_agg(int8send(e.parent), ''::bytea), string_agg(int8send(e.child), ''::bytea) FROM edge e
WHERE NOT e.aside AND (e.role = ANY (%(only)s::text[]) OR %(only)s::text[] = '{{}}')
  AND e.role <> ALL (%(stop)s::text[]) AND {LIVE_OF_ALL}
"""


def can_be_read() -> bool:
    """Whether all ways together are few enough to be held in memory."""
    return bool(fetch_rows(COUNT, {})[0][0] <= MOST_WAYS)


def every_hull() -> set[int]:
    """Every hull that was ever recorded, known then or not: what ways lead to was known when they were."""
    return {hull for (hull,) in fetch_rows("SELECT id FROM unit WHERE kind = 'hull'", {})}


def led_to(
    units: Collection[int], known: datetime | None, *, only: Collection[str] = (), stop: Collection[str] = ()
) -> Ints:
    """All units to which any way leads from these, they too; along edges of the roles `only` (empty: of all), and of
    none of `stop`."""
    values: dict[str, Any] = {"known": known_by(known), "only": sorted(only), "stop": sorted(stop)}
    packed = fetch_rows(WAYS, values)[0]
    parents, children = (np.frombuffer(ids or b"", ">i8").astype(np.int64) for ids in packed)
    roots = np.fromiter(units, np.int64, len(units))
    # Units are numbered without wide gaps. One more than there are has a way to each that is asked about.
    start = 1 + max(int(ids.max(initial=0)) for ids in (roots, parents, children))
    starts = np.concatenate([np.full(len(roots), start), parents])
    ends = np.concatenate([roots, children])
    graph = csr_matrix((np.ones(len(ends), np.int8), (starts, ends)), shape=(start + 1, start + 1))
    met: Ints = breadth_first_order(graph, start, directed=True, return_predecessors=False).astype(np.int64)
    led: Ints = met[met != start]
    return led
