"""What was done with a thing of the plant (a mould, an arm, a scale, a person …), and to which units."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import reach

# What follows from an act is not done to a unit by whoever acts: a gap is noticed, a hold is laid.
NOT_DONE = ("gap", "gap closed", "held", "hold released", "complained", "complaint tied", "complaint closed")
THERE = "SELECT r.id FROM resource r WHERE r.kind = %(kind)s::text AND r.key = %(key)s::text"
# What an act touched, what it made, and what it put something into.
DEEDS = f"""
WITH acts AS MATERIALIZED (
  SELECT DISTINCT x.event FROM event_resource x JOIN resource r ON r.id = x.resource
  WHERE r.kind = %(kind)s::text AND r.key = %(key)s::text
    AND (x.role = ANY (%(roles)s::text[]) OR %(roles)s::text[] = '{{}}')),
done(unit, event) AS (
  SELECT x.unit, x.event FROM acts a JOIN event_unit x ON x.event = a.event WHERE x.role <> ALL (%(not_done)s::text[])
  UNION SELECT u.id, u.event FROM acts a JOIN unit u ON u.event = a.event
  UNION SELECT e.child, e.event FROM acts a JOIN edge e ON e.event = a.event WHERE NOT e.aside AND {LIVE})
SELECT d.unit, v.id, v.kind, v.happened, u.kind FROM done d
JOIN event v ON v.id = d.event AND v.recorded <= %(known)s::timestamptz JOIN unit u ON u.id = d.unit
ORDER BY v.happened, v.id, d.unit
"""
# What was placed somewhere, whatever act placed it: an old hull has no other record of where it went.
PLACED = """
SELECT x.unit, v.id, v.kind, v.happened, u.kind FROM event_unit x
JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz JOIN unit u ON u.id = x.unit
CROSS JOIN LATERAL jsonb_array_elements(COALESCE(v.body::jsonb->'rows'->'places', '[]')) AS p
WHERE x.role = 'placed' AND p->>'unit' = u.uid::text AND p->>'place' = %(place)s::text
ORDER BY v.happened, v.id, x.unit
"""
# The units behind each hull, not through regrind: a hull is judged by its own acts first.
BEHIND = f"""
WITH RECURSIVE behind(hull, unit) AS (
  SELECT h, h FROM unnest(%(hulls)s::bigint[]) AS h
  UNION
  SELECT b.hull, n.parent FROM behind b, LATERAL (
    SELECT e.parent FROM edge e
    WHERE e.child = b.unit AND e.role <> 'regrind' AND NOT e.aside AND {LIVE} OFFSET 0) n)
SELECT hull, unit FROM behind WHERE unit = ANY (%(units)s::bigint[])
"""
LOTS = """
SELECT u.id FROM unit u JOIN event e ON e.id = u.event AND e.recorded <= %(known)s::timestamptz
WHERE u.kind = 'lot' AND u.about->>'supplier' = %(supplier)s::text ORDER BY u.id
"""
OTHER_THAN_PACKING = [
    "receive", "decant", "heel", "topup", "draw", "ingredient", "charge", "insert", "graphic", "cavity", "cut", "join",
    "bind", "plate", "fit", "regrind", "sample", "scrap",
]  # fmt: skip
PACKED = ("pack", "consignment")


@dataclass(frozen=True, slots=True)
class Deed:
    """One act: an event of this kind was done to `unit`."""

    unit: int
    event: int
    kind: str
    happened: datetime


def is_there(kind: str, key: str) -> bool:
    """Whether the plant has, or had, a thing of this kind and key."""
    return bool(fetch_rows(THERE, {"kind": kind, "key": key}))


def deeds_with(kind: str, key: str, roles: Collection[str], as_known_on: datetime | None = None) -> list[Deed]:
    """Every act recorded by then in which the thing had one of these roles (none: any), oldest first; of a place or a
    consignee, what was placed there. What was done to a pack or a consignment was done to the hulls in it."""
    values: dict[str, Any] = {"known": known_by(as_known_on)}
    if kind in ("place", "consignee"):
        rows = fetch_rows(PLACED, {**values, "place": key if kind == "place" else f"gone: {key}"})
    else:
        values |= {"kind": kind, "key": key, "roles": sorted(roles), "not_done": list(NOT_DONE)}
        rows = fetch_rows(DEEDS, values)
    found: list[Deed] = []
    inside: dict[int, list[int]] = {}
    for unit, event, what, happened, of_kind in rows:
        found.append(Deed(unit, event, what, happened))
        if of_kind in PACKED:
            if unit not in inside:
                inside[unit] = sorted(reach([unit], "back", as_known_on, stop_roles=OTHER_THAN_PACKING) - {unit})
            found += [Deed(one, event, what, happened) for one in inside[unit]]
    return found


def lots_of_supplier(supplier: str, as_known_on: datetime | None = None) -> list[int]:
    return [unit for (unit,) in fetch_rows(LOTS, {"supplier": supplier, "known": known_by(as_known_on)})]


def behind_each(
    hulls: Collection[int], units: Collection[int], as_known_on: datetime | None = None
) -> Mapping[int, set[int]]:
    """For each of the hulls those of the units that it is, or that went into it."""
    found: dict[int, set[int]] = {hull: set() for hull in hulls}
    values = {"hulls": id_array(hulls), "units": id_array(units), "known": known_by(as_known_on)}
    for hull, unit in fetch_rows(BEHIND, values):
        found[hull].add(unit)
    return found
