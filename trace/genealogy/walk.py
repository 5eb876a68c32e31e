"""Walks the genealogy back to every input or forward to everything made, as known at a time.

One recursive query over ids, which PostgreSQL's UNION keeps apart, so that a unit is visited once however
many ways lead to it; there is no limit of hops, because a limit loses recalls silently. LATERAL .. OFFSET 0
keeps the planner to one index look-up a unit instead of reading the whole edge table at each level. Reads
the truth tables only: what was recorded by then is what was known then.
"""

import json
from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any, Literal

from django.db import connection

from trace.genealogy.graph import Edge, Graph, Node

Direction = Literal["back", "forward"]
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
    edges = tuple(sorted((Edge(*row[:-2]) for row in found if not row[-2] and not row[-1]), key=_by_id))
    aside = tuple(sorted((Edge(*row[:-2]) for row in found if row[-2]), key=_by_id))
    ids = {*roots, *(e.child for e in edges), *(e.parent for e in edges)}
    stopped = {row[2] if direction == "forward" else row[1] for row in found if row[-1] and not row[-2]}
    return Graph(tuple(roots), nodes(ids, as_known_on), edges, aside, frozenset(stopped))


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
    """Every live edge that leaves a reached unit, each with (is aside, was not followed)."""
    near = "child" if direction == "back" else "parent"
    unfollowed = "e.role = ANY (%(stop_roles)s)" if roles else "false"
    if kinds:
        unfollowed += " OR (SELECT u.kind FROM unit u WHERE u.id = r.id) = ANY (%(stop_kinds)s)"
    sql = f"""WITH RECURSIVE {_recursion(direction, bool(roles), bool(kinds))}
      SELECT n.* FROM reached r, LATERAL (
        SELECT {COLUMNS}, e.aside, {unfollowed} FROM edge e WHERE e.{near} = r.id AND {LIVE} OFFSET 0) n"""
    with connection.cursor() as cursor:
        cursor.execute(sql, _values(roots, as_known_on, roles, kinds))
        return list(cursor.fetchall())


def _by_id(edge: Edge) -> int:
    return edge.id


NODES = """
SELECT u.id, u.uid::text, u.kind, u.lot_no, u.about::text, u.amount, u.uom, u.carrier, u.event, made.happened,
  COALESCE(l.codes, '{}'),
  CASE WHEN u.kind IN ('hull', 'plate') THEN (
    SELECT s.text FROM serial s JOIN event se ON se.id = s.event AND se.recorded <= %(known)s::timestamptz
     WHERE s.plate = u.id
        OR s.plate IN (SELECT e.parent FROM edge e
            WHERE u.kind = 'hull' AND e.child = u.id AND e.role = 'plate' AND NOT e.aside AND LIVE)
     ORDER BY s.event DESC, s.text LIMIT 1) END
FROM unit u JOIN event made ON made.id = u.event
LEFT JOIN LATERAL (
  SELECT array_agg(b.code::text ORDER BY b.event DESC, b.code) AS codes FROM (
    SELECT x.code, x.event FROM label x WHERE x.unit = u.id
    UNION ALL SELECT x.code, x.event FROM label x WHERE x.carrier = u.carrier) b
  JOIN event be ON be.id = b.event AND be.recorded <= %(known)s::timestamptz) l ON true
WHERE u.id = ANY (%(ids)s) AND made.recorded <= %(known)s::timestamptz
ORDER BY u.id
""".replace("LIVE", LIVE)


def nodes(ids: Collection[int], as_known_on: datetime | None = None) -> dict[int, Node]:
    """The units of these ids as they were known then, by id in order; those recorded later are left out."""
    with connection.cursor() as cursor:
        cursor.execute(NODES, {"ids": list(ids), "known": known_by(as_known_on)})
        found = {}
        for row in cursor.fetchall():
            unit, uid, kind, lot_no, about, *_ = row
            amount, uom, carrier, event, happened, labels, serial = row[5:]
            found[unit] = Node(
                unit, uid, kind, lot_no, json.loads(about), amount, uom, carrier, event, happened,
                tuple(labels), serial,
            )  # fmt: skip
        return found
