"""Walks the genealogy back to every input or forward to everything made, as known at a time.

One recursive query over ids, which PostgreSQL's UNION keeps apart, so that a unit is visited once however
many ways lead to it; there is no limit of hops, because a limit loses recalls silently. LATERAL .. OFFSET 0
keeps the planner to one index look-up a unit instead of reading the whole edge table at each level. Reads
the truth tables only: what was recorded by then is what was known then.
"""

import json
from collections.abc import Collection, Iterable, Sequence
from datetime import UTC, datetime
from functools import partial
from typing import Any, Literal

from django.db import connection

from trace.genealogy.graph import Edge, Graph, Node
from trace.genealogy.prepared import fetch_rows

Direction = Literal["back", "forward"]
# Half the time of Edge._make; a walk makes thousands.
_edge = partial(tuple.__new__, Edge)
FOREVER = "infinity"
REGRIND = frozenset({"regrind"})
# A look-up by primary key for each edge. As NOT EXISTS the planner may hash all withdrawals at every level.
LIVE = """e.recorded <= %(known)s::timestamptz
  AND NOT COALESCE((SELECT v.recorded FROM edge_void v WHERE v.edge = e.id)
                   <= %(known)s::timestamptz, false)"""
COLUMNS = "e.id, e.child, e.parent, e.event, e.role, e.layer, e.position, e.amount, e.uom"


def known_by(as_known_on: datetime | None) -> str:
    """The time as SQL takes it; None is all that is recorded."""
    return FOREVER if as_known_on is None else as_known_on.isoformat()


def id_array(ids: Iterable[int]) -> str:
    """Ids as the text of a bigint[]: a list of thousands is quoted by the driver one by one, this is not."""
    return "{" + ",".join(map(str, ids)) + "}"


def walk(
    roots: Sequence[int],
    direction: Direction,
    as_known_on: datetime | None = None,
    *,
    stop_roles: Collection[str] = (),
    stop_kinds: Collection[str] = (),
) -> Graph:
    """All that went into the units `roots` (back) or that they went into (forward), with the live edges
    between.

    An edge counts when it was recorded by `as_known_on` and not withdrawn by then; None is all recorded so
    far. Edges of `stop_roles` are not followed, nor is anything beyond a unit of `stop_kinds` (it is
    reached itself); Graph.stopped names the units at which that happened. REGRIND as `stop_roles` is the
    ordinary forward walk. Edges kept aside as circles are never followed; Graph.aside names them. Units
    unknown by then do not appear.
    """
    found = _reach(roots, direction, as_known_on, stop_roles, stop_kinds)
    found.sort()
    edges = [_edge(row[:9]) for row in found if not row[9] and not row[10]]
    aside = [_edge(row[:9]) for row in found if row[9]]
    ids = {*roots, *(row[1] for row in edges), *(row[2] for row in edges)}
    stopped = {row[2] if direction == "forward" else row[1] for row in found if row[10] and not row[9]}
    return Graph(tuple(roots), nodes(ids, as_known_on), tuple(edges), tuple(aside), frozenset(stopped))


def reach(
    roots: Sequence[int],
    direction: Direction,
    as_known_on: datetime | None = None,
    *,
    stop_roles: Collection[str] = (),
) -> set[int]:
    """The ids alone that a walk visits, `roots` included: for holds and counts."""
    sql = f"WITH RECURSIVE {_recursion(direction, bool(stop_roles), kinds=False)} SELECT id FROM reached"
    with connection.cursor() as cursor:
        cursor.execute(sql, _values(roots, as_known_on, stop_roles, ()))
        return {row[0] for row in cursor.fetchall()}


def _recursion(direction: Direction, roles: bool, kinds: bool) -> str:
    near, far = ("child", "parent") if direction == "back" else ("parent", "child")
    stop = " AND e.role <> ALL (%(stop_roles)s)" if roles else ""
    on = " AND (SELECT u.kind FROM unit u WHERE u.id = r.id) <> ALL (%(stop_kinds)s)" if kinds else ""
    return f"""reached(id) AS (
      SELECT unnest(%(roots)s::bigint[])
      UNION
      SELECT n.far FROM reached r, LATERAL (
        SELECT e.{far} AS far FROM edge e
         WHERE e.{near} = r.id AND NOT e.aside AND {LIVE}{stop}{on} OFFSET 0) n)"""


def _values(
    roots: Sequence[int], as_known_on: datetime | None, roles: Collection[str], kinds: Collection[str]
) -> dict[str, Any]:
    return {
        "roots": list(roots),
        "known": known_by(as_known_on),
        "stop_roles": sorted(roles),
        "stop_kinds": sorted(kinds),
    }


def _reach(
    roots: Sequence[int],
    direction: Direction,
    as_known_on: datetime | None,
    roles: Collection[str],
    kinds: Collection[str],
) -> list[tuple[Any, ...]]:
    """Every live edge that leaves a reached unit, then whether it is aside and whether it was not followed."""
    near = "child" if direction == "back" else "parent"
    unfollowed = "e.role = ANY (%(stop_roles)s)" if roles else "false"
    if kinds:
        unfollowed += " OR (SELECT u.kind FROM unit u WHERE u.id = r.id) = ANY (%(stop_kinds)s)"
    sql = f"""WITH RECURSIVE {_recursion(direction, bool(roles), bool(kinds))}
      SELECT n.* FROM reached r, LATERAL (
        SELECT {COLUMNS}, e.aside, {unfollowed} FROM edge e WHERE e.{near} = r.id AND {LIVE} OFFSET 0) n"""
    return fetch_rows(sql, _values(roots, as_known_on, roles, kinds))


NODES = """
SELECT u.id, u.uid::text, u.kind, u.lot_no, u.about::text, u.amount, u.uom, u.carrier, u.event,
  extract(epoch FROM made.happened)::float8
FROM unit u JOIN event made ON made.id = u.event AND made.recorded <= %(known)s::timestamptz
WHERE u.id = ANY (%(ids)s::bigint[]) ORDER BY u.id
"""
# Newest first: a reprinted or replaced label is the one that is on it now. Materialised, as starting parallel
# workers for a few labels takes longer than finding them.
LABELS = """
WITH l AS MATERIALIZED (
  SELECT x.unit, x.carrier, x.code, x.event FROM label x WHERE x.unit = ANY (%(ids)s::bigint[])
  UNION ALL
  SELECT x.unit, x.carrier, x.code, x.event FROM label x WHERE x.carrier = ANY (%(carriers)s::bigint[]))
SELECT l.unit, l.carrier, l.code::text FROM l
JOIN event e ON e.id = l.event AND e.recorded <= %(known)s::timestamptz
ORDER BY l.event DESC, l.code
"""
SERIALS = f"""
SELECT s.plate, s.text FROM serial s
JOIN event se ON se.id = s.event AND se.recorded <= %(known)s::timestamptz
WHERE s.plate = ANY (%(plates)s::bigint[])
UNION ALL
SELECT h.id, n.text FROM unnest(%(hulls)s::bigint[]) AS h(id), LATERAL (
  SELECT s.text FROM edge e JOIN serial s ON s.plate = e.parent
  JOIN event se ON se.id = s.event AND se.recorded <= %(known)s::timestamptz
  WHERE e.child = h.id AND e.role = 'plate' AND NOT e.aside AND {LIVE} OFFSET 0) AS n
ORDER BY 2
"""


def nodes(ids: Collection[int], as_known_on: datetime | None = None) -> dict[int, Node]:
    """The units of these ids as they were known then, by id in order; those recorded later are left out."""
    if not ids:
        return {}
    values: dict[str, Any] = {"ids": id_array(ids), "known": known_by(as_known_on)}
    rows = fetch_rows(NODES, values)
    values["carriers"] = id_array({row[7] for row in rows if row[7] is not None})
    plates = [row[0] for row in rows if row[2] == "plate"]
    hulls = [row[0] for row in rows if row[2] == "hull"]
    labels: dict[tuple[int | None, int | None], tuple[str, ...]] = {}
    for unit, carrier, code in fetch_rows(LABELS, values):
        labels[unit, carrier] = (*labels.get((unit, carrier), ()), code)
    serials: dict[int, str] = {}
    if hulls or plates:
        serials = dict(fetch_rows(SERIALS, {**values, "hulls": id_array(hulls), "plates": id_array(plates)}))
    found = {}
    # Many units were made as the same thing: each text is read once.
    read = {about: json.loads(about) for about in {row[4] for row in rows}}
    for unit, uid, kind, lot_no, about, amount, uom, carrier, event, happened in rows:
        codes = labels.get((unit, None), ())
        if carrier is not None:
            codes += labels.get((None, carrier), ())
        found[unit] = Node(
            unit, uid, kind, lot_no, read[about], amount, uom, carrier, event,
            datetime.fromtimestamp(happened, UTC), codes, serials.get(unit),
        )  # fmt: skip
    return found
