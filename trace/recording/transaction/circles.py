"""Finds edges that would close a circle: they are kept as facts, set aside from every walk, and flagged."""

import json

from django.db import connection

from trace.genealogy.live import LIVE_NOW
from trace.readmodels.rows import Rows

# Is `child` already somewhere above `parent`? Then parent -> child would close a circle. What this very event withdraws
# (`gone`) closes none.
ABOVE = f"""
WITH RECURSIVE gone AS (
  SELECT g.id FROM jsonb_to_recordset(%(voids)s::jsonb) AS x(event uuid, n int)
    JOIN event v ON v.uid = x.event JOIN edge g ON g.event = v.id AND g.n = x.n),
up(id) AS (
  SELECT id FROM unit WHERE uid = %(parent)s
  UNION
  SELECT e.parent FROM up, LATERAL (
    SELECT e.parent FROM edge e WHERE e.child = up.id AND {LIVE_NOW} AND e.id NOT IN (SELECT id FROM gone) OFFSET 0) e)
SELECT EXISTS (SELECT FROM up JOIN unit u ON u.id = up.id WHERE u.uid = %(child)s)
"""


def set_aside(rows: Rows, childless: set[str]) -> None:
    """Mark such edges `aside` and open a discrepancy. Only an edge into a unit that was there before can be one,
    and not one into a unit that is known to have gone into nothing (`childless`)."""
    voids = json.dumps(rows.parts.get("voids", []))
    never = childless | {u["uid"] for u in rows.parts.get("units", [])}
    for edge in rows.parts.get("edges", []):
        if edge["child"] in never:
            continue
        with connection.cursor() as cursor:
            cursor.execute(ABOVE, {**edge, "voids": voids})
            closes = cursor.fetchone()[0]
        if closes:
            edge["aside"] = True
            rows.discrepancy("circle", edge["child"])
