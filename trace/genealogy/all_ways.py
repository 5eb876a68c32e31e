"""Where every way of the plant leads, as arrays: for what reaches too far to be followed from unit to unit.

The ways are read at once as packed numbers and followed in compiled code. What reaches few units is followed one by one
by key, which takes no longer for a large plant than for a small one.
"""

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt
from django.db import connection
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import breadth_first_order

from trace.genealogy.live import LIVE_OF_ALL, known_by
from trace.genealogy.prepared import fetch_rows

Ints = npt.NDArray[np.int32]
Ids = npt.NDArray[np.int64]
# 8 bytes each as they come, and three times as much while they are put in order.
MOST_WAYS = 10_000_000
LOW = np.int64(2**32 - 1)
COUNT = """
SELECT reltuples::bigint, (SELECT max(id) FROM unit) FROM pg_class WHERE oid = 'edge'::regclass
"""
# Both ends in one number.
WAYS = f"""
SELECT string_agg(int8send(e.parent << 32 | e.child), ''::bytea) FROM edge e
WHERE NOT e.aside AND (e.role = ANY (%(only)s::text[]) OR %(only)s::text[] = '{{}}')
  AND e.role <> ALL (%(stop)s::text[]) AND {LIVE_OF_ALL}
"""
HULLS = "SELECT id FROM unit WHERE kind = 'hull'"


def can_be_read() -> bool:
    """Whether all ways together are few enough to be held in memory."""
    ways, last_unit = fetch_rows(COUNT, {})[0]
    return bool(ways <= MOST_WAYS and (last_unit or 0) < 2**31 - 1)


def ids_of(sql: str, values: Mapping[str, Any]) -> Ids:
    """The ids that a query selects, of however many it is: packed by the server, which plans it for these values."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT string_agg(int8send(x.id), ''::bytea) FROM ({sql}) AS x(id)", values)
        found: Ids = np.frombuffer(cursor.fetchone()[0] or b"", ">i8").astype(np.int64)
    return found


def hulls_led_to(
    units: Collection[int], known: datetime | None, *, only: Collection[str] = (), stop: Collection[str] = ()
) -> set[int]:
    """The hulls to which any way leads from these units, along edges of the roles `only` (empty: of all), and of none
    of `stop`. Of all hulls, known then or not: what ways lead to was known when they were."""
    led = led_to(units, known, only=only, stop=stop)
    return set(np.intersect1d(ids_of(HULLS, {}), led, assume_unique=True).tolist())


def led_to(
    units: Collection[int], known: datetime | None, *, only: Collection[str] = (), stop: Collection[str] = ()
) -> Ints:
    """All units to which any way leads from these, they too; roles as above."""
    values: dict[str, Any] = {"known": known_by(known), "only": sorted(only), "stop": sorted(stop)}
    packed = np.frombuffer(fetch_rows(WAYS, values)[0][0] or b"", ">i8")
    roots = np.fromiter(units, np.int32, len(units))
    # Units are numbered without wide gaps. One more than there are has a way to each that is asked about.
    start = 1 + max(int(ids.max(initial=0)) for ids in (roots, packed >> 32, packed & LOW))
    starts = np.concatenate([np.full(len(roots), start, np.int32), (packed >> 32).astype(np.int32)])
    ends = np.concatenate([roots, (packed & LOW).astype(np.int32)])
    del packed
    graph = csr_matrix((np.ones(len(ends), np.int8), (starts, ends)), shape=(start + 1, start + 1))
    met: Ints = breadth_first_order(graph, start, directed=True, return_predecessors=False)
    led: Ints = met[met != start]
    return led
