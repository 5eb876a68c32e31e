"""Which units are under which open hold: all that came of the held unit, at the moment each is recorded.

unit_hold holds membership only. How surely and how many kilograms is reckoned from the truth when it is asked
(trace/genealogy/scope.py), since it changes with everything else that leaves the same vessel.
"""

from django.conf import settings
from django.db import connection

from trace.genealogy.live import LIVE_NOW
from trace.readmodels.store import Ids, Row, Store

LIVE_CHILDREN = f"""
 SELECT e.child FROM edge e WHERE e.parent = r.unit AND {LIVE_NOW}
    AND NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = r.hold AND x.unit = e.child) OFFSET 0"""
REACH = f"""
WITH RECURSIVE r(hold, unit) AS (
  SELECT h.id, h.unit FROM hold h WHERE h.id = ANY (%(holds)s)
     AND NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = h.id AND (x.unit IS NULL OR x.unit = h.unit))
  UNION
  SELECT r.hold, c.child FROM r, LATERAL ({LIVE_CHILDREN}) c)
"""


def inherit(store: Store, rows: dict[str, list[Row]], ids: Ids) -> None:
    """Units made by this event are under every open hold of what went into them."""
    new = {ids.unit[u["uid"]] for u in rows.get("units", [])}
    held: dict[int, set[int]] = {}
    for row in store.all("unit_hold"):
        held.setdefault(row["unit"], set()).add(row["hold"])
    for edge in rows.get("edges", []):
        child, parent = ids.unit[edge["child"]], ids.unit[edge["parent"]]
        if child not in new or edge.get("aside"):
            continue
        for hold in sorted(held.get(parent, set()) - held.get(child, set())):
            store.put("unit_hold", {"unit": child, "hold": hold})
            held.setdefault(child, set()).add(hold)


def touched_holds(rows: dict[str, list[Row]], ids: Ids, store: Store) -> list[int]:
    """Holds whose reach has to be walked anew: those laid or released here, and those on units whose older
    edges changed."""
    holds = {ids.hold[h["uid"]] for h in rows.get("holds", [])}
    holds |= {ids.hold[r["hold"]] for r in rows.get("hold_releases", [])}
    new = {u["uid"] for u in rows.get("units", [])}
    changed = bool(rows.get("voids")) or any(e["child"] not in new for e in rows.get("edges", []))
    if changed:
        holds |= {row["hold"] for row in store.all("unit_hold")}
    return sorted(holds)


def write_reach(holds: list[int]) -> int:
    """Walk these holds forward and write all that they reach, however much it is; how many rows that are."""
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM unit_hold WHERE hold = ANY (%s)", [holds])
        cursor.execute(f"{REACH} INSERT INTO unit_hold (unit, hold) SELECT unit, hold FROM r", {"holds": holds})
        return int(cursor.rowcount)


def rewrite_reach(holds: list[int]) -> None:
    """The same within a scan: a hold that reaches too much is left to a job."""
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM unit_hold WHERE hold = ANY (%s)", [holds])
        cursor.execute(f"{REACH} SELECT r.hold, count(*) FROM r GROUP BY r.hold", {"holds": holds})
        large = [hold for hold, count in cursor.fetchall() if count > settings.HOLD_REACH_AT_ONCE]
        small = [hold for hold in holds if hold not in large]
        if small:
            cursor.execute(f"{REACH} INSERT INTO unit_hold (unit, hold) SELECT unit, hold FROM r", {"holds": small})
        for hold in large:
            cursor.execute("INSERT INTO unit_hold (unit, hold) SELECT unit, id FROM hold WHERE id = %s", [hold])
            cursor.execute(
                """INSERT INTO job (id, kind, key, args, state, done, total, error, made, touched)
                   SELECT gen_random_uuid(), 'spread hold', 'spread hold ' || uid, json_build_object('hold', id),
                          'waiting', 0, 0, '', clock_timestamp(), clock_timestamp() FROM hold WHERE id = %s
                   ON CONFLICT (key) DO UPDATE SET state = 'waiting', touched = EXCLUDED.touched""",
                [hold],
            )


def spread(hold: int) -> int:
    """The job's work: write the whole reach of one hold; how many units it has."""
    return write_reach([hold])


# Is one of these units under a hold that has not been spread yet? Asked by walking back, at every use.
UNSPREAD = f"""
WITH RECURSIVE up(start, unit) AS (
  SELECT u, u FROM unnest(%(units)s::bigint[]) AS u
  UNION
  SELECT up.start, p.parent FROM up, LATERAL (SELECT e.parent FROM edge e WHERE e.child = up.unit AND {LIVE_NOW}
     OFFSET 0) p)
SELECT DISTINCT up.start, h.id FROM up JOIN hold h ON h.unit = up.unit
  JOIN job j ON j.kind = 'spread hold' AND j.state <> 'done' AND (j.args->>'hold')::bigint = h.id
 WHERE NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = h.id AND (x.unit IS NULL OR x.unit = up.start))
"""
# Holds whose reach a job has not written yet; until it has, unit_hold holds only their own units.
WAITING = "SELECT (args->>'hold')::bigint FROM job WHERE kind = 'spread hold' AND state <> 'done'"


def under_unspread(units: list[int]) -> dict[int, list[int]]:
    """unit -> holds on it whose reach still waits for the job."""
    found: dict[int, list[int]] = {}
    with connection.cursor() as cursor:
        cursor.execute(UNSPREAD, {"units": units})
        for unit, hold in cursor.fetchall():
            found.setdefault(unit, []).append(hold)
    return found
