"""Reads what went out of and into each unit, whoever it came from: what bounds are reckoned against."""

from collections.abc import Collection
from datetime import datetime
from typing import Any

from django.db import connection

from trace.genealogy.graph import AS_FOUND, BY_AMOUNT, DRAWN_KINDS, MATERIAL_ROLES, PART_ROLES, SHARED_ROLES, Flow
from trace.genealogy.live import BOOKED_AT, LIVE, id_array, known_by

OUT = f"""
SELECT u.id,
  COALESCE(sum(o.amount) FILTER (WHERE o.drawn AND o.uom = COALESCE(u.uom, 'mg')), 0)::bigint,
  count(*) FILTER (WHERE o.drawn AND o.uom IS DISTINCT FROM COALESCE(u.uom, 'mg')),
  count(DISTINCT o.child) FILTER (WHERE o.role = ANY (%(shared)s))
FROM unit u, LATERAL (
  SELECT e.child, e.role, e.amount, e.uom,
    e.role = ANY (%(part)s) OR (e.role = 'fit' AND u.kind = ANY (%(drawn_kinds)s)) AS drawn
  FROM edge e WHERE e.parent = u.id AND NOT e.aside AND {LIVE} OFFSET 0) o
WHERE u.id = ANY (%(ids)s::bigint[]) GROUP BY u.id
"""
# A load has no weight of its own: what was charged is what its charges were weighed at.
INTO = f"""
SELECT u.id, CASE WHEN i.role = 'charge' THEN COALESCE(i.layer, '') ELSE '' END AS layer,
  i.role = 'charge' AS charge, count(*),
  COALESCE(sum(i.amount) FILTER (WHERE i.uom = COALESCE(u.uom, 'mg')), 0)::bigint,
  count(*) FILTER (WHERE i.uom IS DISTINCT FROM COALESCE(u.uom, 'mg')),
  CASE WHEN bool_and(i.charged IS NOT NULL) THEN sum(i.charged)::bigint END
FROM unit u, LATERAL (
  SELECT e.role, e.layer, e.amount, e.uom,
    CASE WHEN e.role = 'charge' THEN COALESCE(CASE WHEN e.uom = 'mg' THEN e.amount END,
      (SELECT p.amount FROM unit p WHERE p.id = e.parent AND p.uom = 'mg')) END AS charged
  FROM edge e WHERE e.child = u.id AND e.role = ANY (%(material)s) AND NOT e.aside AND {LIVE} OFFSET 0) i
WHERE u.id = ANY (%(ids)s::bigint[]) GROUP BY u.id, 2, 3 ORDER BY u.id, 2, 3
"""
# Where the amount is a gap, it stands with no edge.
EITHER = f"""
SELECT u.id, e.role, e.layer, e.position
FROM unit u JOIN edge e ON e.child = u.id AND e.role = ANY (%(by_amount)s) AND NOT e.aside AND {LIVE}
WHERE u.id = ANY (%(ids)s::bigint[]) GROUP BY 1, 2, 3, 4
HAVING bool_or(e.amount IS NULL) AND (bool_or(e.amount IS NOT NULL) OR EXISTS (
  SELECT FROM event_unit x JOIN event g ON g.id = x.event AND g.recorded <= %(known)s::timestamptz
   WHERE x.unit = u.id AND x.role = 'gap'))
"""
# What a late fact books again of the same count or draw makes that one other: together they are one difference.
DIFFERENCES = f"""
SELECT n.unit, COALESCE(sum(n.amount) FILTER (WHERE n.amount > 0), 0)::bigint, sum(n.amount)::bigint,
  COALESCE(sum(n.amount) FILTER (WHERE n.cause <> ALL (%(as_found)s)), 0)::bigint
FROM (SELECT d.unit, d.cause, sum(d.amount) AS amount
  FROM difference d JOIN event v ON v.id = d.event AND v.recorded <= %(known)s::timestamptz
  WHERE d.unit = ANY (%(ids)s::bigint[]) GROUP BY d.unit, d.cause, {BOOKED_AT}) n
GROUP BY n.unit
"""


def flows(ids: Collection[int], as_known_on: datetime | None = None) -> dict[int, Flow]:
    """The Flow of each unit as known then; a unit that nothing entered or left has an empty one."""
    values: dict[str, Any] = {
        "ids": id_array(ids),
        "known": known_by(as_known_on),
        "part": sorted(PART_ROLES),
        "shared": sorted(SHARED_ROLES),
        "material": sorted(MATERIAL_ROLES),
        "drawn_kinds": sorted(DRAWN_KINDS),
        "by_amount": sorted(BY_AMOUNT),
        "as_found": list(AS_FOUND),
    }
    with connection.cursor() as cursor:
        cursor.execute(OUT, values)
        out = {row[0]: row[1:] for row in cursor.fetchall()}
        cursor.execute(INTO, values)
        into: dict[int, list[tuple[str, bool, int, int, int, int | None]]] = {}
        for row in cursor.fetchall():
            into.setdefault(row[0], []).append(row[1:])
        cursor.execute(EITHER, values)
        either: dict[int, set[tuple[str, str | None, str | None]]] = {}
        for row in cursor.fetchall():
            either.setdefault(row[0], set()).add(row[1:])
        cursor.execute(DIFFERENCES, values)
        counted = {row[0]: row[1:] for row in cursor.fetchall()}
    found = {}
    for unit in ids:
        drawn, unrecorded, shared = out.get(unit, (0, 0, 0))
        gain, difference, put_right = counted.get(unit, (0, 0, 0))
        ways = into.get(unit, [])
        charges = [w[5] for w in ways if w[1]]
        entering: dict[str, int] = {}
        for layer, _, count, *_ in ways:
            entering[layer] = entering.get(layer, 0) + count
        found[unit] = Flow(
            drawn=drawn,
            unrecorded_out=unrecorded,
            gain=gain,
            difference=difference,
            put_right=put_right,
            shared_by=shared,
            into=entering,
            into_amount=sum(w[3] for w in ways),
            into_unrecorded=sum(w[4] for w in ways),
            charged=sum(c for c in charges if c is not None) if charges and None not in charges else None,
            either=frozenset(either.get(unit, ())),
        )
    return found
