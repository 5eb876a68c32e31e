"""Walks the genealogy back to every input or forward to everything made, as known at a time.

First the ids: one recursive query, which PostgreSQL's UNION keeps apart, so that a unit is visited once however
many ways lead to it; there is no limit of hops, because a limit loses recalls silently. LATERAL .. OFFSET 0
keeps the planner to one index look-up a unit instead of reading the whole edge table at each level. Then the
edges and the units of all ids at once. Reads the truth tables only: what was recorded by then is what was known
then.
"""

import json
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from functools import partial
from typing import Any, Literal

from trace.genealogy.graph import Edge, Graph, Node
from trace.genealogy.live import LIVE, id_array, known_by, withdrawn_among
from trace.genealogy.made_as import exchanged
from trace.genealogy.prepared import fetch_rows

Direction = Literal["back", "forward"]
# Half the time of Edge._make; a walk makes thousands.
_edge, _node = partial(tuple.__new__, Edge), partial(tuple.__new__, Node)
REGRIND = frozenset({"regrind"})


def walk(
    roots: Sequence[int],
    direction: Direction,
    as_known_on: datetime | None = None,
    *,
    stop_roles: Collection[str] = (),
) -> Graph:
    """All that went into the units `roots` (back) or that they went into (forward), with the live edges
    between.

    An edge counts when it was recorded by `as_known_on` and not withdrawn by then; None is all recorded so
    far. Edges of `stop_roles` are not followed; Graph.stopped names the units at which that happened.
    REGRIND as `stop_roles` is the ordinary forward walk. Edges kept aside as circles are never followed;
    Graph.aside names them. Units unknown by then do not appear.
    """
    near = "child" if direction == "back" else "parent"
    # Withdrawals are looked up for all edges together and hashed.
    among = f"SELECT i.id FROM edge i WHERE i.{near} = ANY (ARRAY(SELECT id FROM reached))"
    sql = f"""{_reached(direction, bool(stop_roles))}
      SELECT e.id, e.child, e.parent, e.event, e.role, e.layer, e.position, e.amount, e.uom, e.aside FROM edge e
      WHERE e.{near} = ANY (ARRAY(SELECT id FROM reached)) AND e.recorded <= %(known)s::timestamptz AND e.id NOT IN (
        {withdrawn_among(among)})"""
    rows = fetch_rows(sql, _values(roots, as_known_on, stop_roles))
    rows.sort()
    met = [_edge(row) for row in rows]
    aside = [edge for edge in met if edge.aside]
    edges = [edge for edge in met if not edge.aside and edge.role not in stop_roles]
    left = [edge for edge in met if edge.role in stop_roles and not edge.aside] if stop_roles else []
    stopped = frozenset(edge.child if direction == "back" else edge.parent for edge in left)
    ids = {*roots, *[edge.child for edge in edges], *[edge.parent for edge in edges]}
    return Graph(tuple(roots), nodes(ids, as_known_on), tuple(edges), tuple(aside), stopped)


def among(units: Collection[int], as_known_on: datetime | None = None) -> Graph:
    """These units and the live edges between them, as `walk` would give them."""
    sql = f"""
      SELECT e.id, e.child, e.parent, e.event, e.role, e.layer, e.position, e.amount, e.uom, e.aside FROM edge e
      WHERE e.child = ANY (%(roots)s::bigint[]) AND e.parent = ANY (%(roots)s::bigint[]) AND NOT e.aside AND {LIVE}"""
    edges = sorted(_edge(row) for row in fetch_rows(sql, _values(sorted(units), as_known_on, ())))
    return Graph(tuple(sorted(units)), nodes(units, as_known_on), tuple(edges))


def reach(
    roots: Sequence[int],
    direction: Direction,
    as_known_on: datetime | None = None,
    *,
    stop_roles: Collection[str] = (),
) -> set[int]:
    """The ids alone that a walk visits, `roots` included."""
    sql = reached_ids(direction, stops=bool(stop_roles))
    return {row[0] for row in fetch_rows(sql, _values(roots, as_known_on, stop_roles))}


def reached_ids(direction: Direction, *, stops: bool = False) -> str:
    """SQL for the ids that a walk visits, of the parameters roots, known and (where it stops) stop_roles."""
    return f"{_reached(direction, stops)} SELECT id FROM reached"


def _reached(direction: Direction, stops: bool) -> str:
    near, far = ("child", "parent") if direction == "back" else ("parent", "child")
    stop = " AND e.role <> ALL (%(stop_roles)s)" if stops else ""
    return f"""WITH RECURSIVE reached(id) AS (
      SELECT unnest(%(roots)s::bigint[])
      UNION
      SELECT n.far FROM reached r, LATERAL (
        SELECT e.{far} AS far FROM edge e
        WHERE e.{near} = r.id AND NOT e.aside AND {LIVE}{stop} OFFSET 0) n)"""


def _values(roots: Sequence[int], as_known_on: datetime | None, stop_roles: Collection[str]) -> dict[str, Any]:
    return {"roots": id_array(roots), "known": known_by(as_known_on), "stop_roles": sorted(stop_roles)}


NODES = """
SELECT u.id, u.uid::text, u.kind, u.lot_no, u.about::text, u.amount, u.uom, u.carrier, u.event
FROM unit u WHERE u.id = ANY (%(ids)s::bigint[]) ORDER BY u.id
"""
# Newest first: a reprinted or replaced label is the one that is on it now.
LABELS = """
SELECT x.unit, x.carrier, x.code::text, x.event FROM label x WHERE x.unit = ANY (%(ids)s::bigint[])
UNION ALL
SELECT x.unit, x.carrier, x.code::text, x.event FROM label x WHERE x.carrier = ANY (%(carriers)s::bigint[])
ORDER BY 4 DESC, 3
"""
# Of a hull whose plate was replaced the last that was put on is its number.
SERIALS = f"""
SELECT s.plate, s.text, s.event, 0 FROM serial s WHERE s.plate = ANY (%(plates)s::bigint[])
UNION ALL
SELECT e.child, s.text, s.event, e.id FROM edge e JOIN serial s ON s.plate = e.parent
WHERE e.child = ANY (%(hulls)s::bigint[]) AND e.role = 'plate' AND NOT e.aside AND {LIVE}
ORDER BY 4, 2
"""
# For units, labels and serials at once: one look-up in bulk takes half the time of joins from row to row.
HAPPENED = """
SELECT e.id, e.happened FROM event e
WHERE e.id = ANY (%(events)s::bigint[]) AND e.recorded <= %(known)s::timestamptz
"""


def nodes(ids: Collection[int], as_known_on: datetime | None = None) -> dict[int, Node]:
    """The units of these ids as they were known then, by id in order; those recorded later are left out."""
    if not ids:
        return {}
    values: dict[str, Any] = {"ids": id_array(ids), "known": known_by(as_known_on)}
    rows = fetch_rows(NODES, values)
    values["carriers"] = id_array({row[7] for row in rows if row[7] is not None})
    labels, numbers = fetch_rows(LABELS, values), _numbers(rows, values)
    values["events"] = id_array({row[8] for row in rows}.union(x[3] for x in labels).union(x[2] for x in numbers))
    happened = dict(fetch_rows(HAPPENED, values))
    on_unit, on_carrier = _labelled(labels, happened)
    serials = {unit: text for unit, text, event, _put_on in numbers if event in happened}
    # Many units were made as the same thing: each text is read once.
    about = exchanged([row[0] for row in rows if row[2] == "hull"], as_known_on)
    read = {text: json.loads(text) for text in {row[4] for row in rows}.union(about.values())}
    return {
        unit: _node((
            unit, uid, kind, lot_no, read[about.get(unit, text)], amount, uom, carrier, event, happened[event],
            on_unit.get(unit, ()) + on_carrier.get(carrier, ()), serials.get(unit),
        ))
        for unit, uid, kind, lot_no, text, amount, uom, carrier, event in rows if event in happened
    }  # fmt: skip


def _numbers(rows: Sequence[tuple[Any, ...]], values: Mapping[str, Any]) -> list[tuple[Any, ...]]:
    """The rows of SERIALS for the hulls and plates among these units; where there are none, nothing is asked."""
    plates = [row[0] for row in rows if row[2] == "plate"]
    hulls = [row[0] for row in rows if row[2] == "hull"]
    if not plates and not hulls:
        return []
    return fetch_rows(SERIALS, {**values, "plates": id_array(plates), "hulls": id_array(hulls)})


def _labelled(
    labels: Sequence[tuple[Any, ...]], happened: Collection[int]
) -> tuple[dict[int, tuple[str, ...]], dict[int, tuple[str, ...]]]:
    """The codes on each unit and on each carrier, as LABELS orders them, of the events known by then."""
    on_unit: dict[int, tuple[str, ...]] = {}
    on_carrier: dict[int, tuple[str, ...]] = {}
    for unit, carrier, code, event in labels:
        if event in happened:
            there, key = (on_unit, unit) if carrier is None else (on_carrier, carrier)
            there[key] = (*there.get(key, ()), code)
    return on_unit, on_carrier
