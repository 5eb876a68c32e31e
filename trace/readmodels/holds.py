"""Which units are under which open hold: all that came of the held unit, at the moment each is recorded.

unit_hold holds membership only. How surely and how many kilograms is reckoned from the truth when it is asked
(trace/genealogy/scope.py), since it changes with everything else that leaves the same vessel.

A scan writes only what it changed, and only where that is little: what a wide hold reaches is written by a job
(spreading.py), and until it has been, whatever is used, packed or loaded is walked back (unspread.py).
"""

from dataclasses import dataclass

from django.conf import settings
from django.db import connection

from trace.genealogy.live import LIVE_NOW, id_array
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
# All that hangs below some units, whoever holds it; read no further than one unit more than a scan may write.
BELOW = f"""
WITH RECURSIVE a(unit) AS (
  SELECT unnest(%(starts)s::bigint[])
  UNION
  SELECT c.child FROM a, LATERAL (SELECT e.child FROM edge e WHERE e.parent = a.unit AND {LIVE_NOW} OFFSET 0) c)
SELECT ARRAY(SELECT unit FROM a LIMIT %(most)s::int + 1),
  ARRAY(SELECT (args->>'hold')::bigint FROM job WHERE kind = 'spread hold' AND state <> 'done')
"""
# Of those (below) the ones that holds reach are under them, and no others: where one was laid, where it comes in from
# above (there nothing changed), and on from there.
WITHIN = f"""
WITH RECURSIVE open(id, unit) AS (
  SELECT h.id, h.unit FROM hold h WHERE h.id = ANY (%(holds)s::bigint[])
     AND NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = h.id AND x.unit IS NULL)),
r(hold, unit) AS (
  SELECT * FROM (
    SELECT o.id, o.unit FROM open o WHERE o.unit = ANY (%(below)s::bigint[])
    UNION ALL
    SELECT o.id, e.child FROM edge e JOIN unit_hold w ON w.unit = e.parent JOIN open o ON o.id = w.hold
     WHERE e.child = ANY (%(below)s::bigint[]) AND e.parent <> ALL (%(below)s::bigint[]) AND {LIVE_NOW}) AS s(id, unit)
   WHERE NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = s.id AND x.unit = s.unit)
  UNION
  SELECT r.hold, c.child FROM r, LATERAL ({LIVE_CHILDREN}) c),
gone AS (
  DELETE FROM unit_hold w WHERE w.unit = ANY (%(below)s::bigint[]) AND w.hold = ANY (%(holds)s::bigint[])
     AND NOT EXISTS (SELECT FROM r WHERE r.hold = w.hold AND r.unit = w.unit))
INSERT INTO unit_hold (hold, unit) SELECT hold, unit FROM r ON CONFLICT DO NOTHING
"""
# Holds whose reach a job has not written yet.
WAITING = "SELECT (args->>'hold')::bigint FROM job WHERE kind = 'spread hold' AND state <> 'done'"
SPREAD = """
INSERT INTO job (id, kind, key, args, state, done, total, error, made, touched)
SELECT gen_random_uuid(), 'spread hold', 'spread hold ' || uid, json_build_object('hold', id),
       'waiting', 0, 0, '', clock_timestamp(), clock_timestamp() FROM hold WHERE id = ANY (%(holds)s::bigint[])
ON CONFLICT (key) DO UPDATE SET state = 'waiting', touched = EXCLUDED.touched
"""


@dataclass(frozen=True)
class Touched:
    """What an event may have changed: these holds (ids), at these units and below them. `ended` are holds that are
    over altogether. `lost`: something may be under a hold no more; what was only added, a job that is under way finds.
    """

    holds: frozenset[int]
    starts: frozenset[int]
    ended: frozenset[int] = frozenset()
    lost: bool = False


def inherit(store: Store, rows: dict[str, list[Row]], ids: Ids) -> None:
    """Units made by this event are under every open hold of what went into them."""
    if not rows.get("edges"):
        return
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


def touched_holds(rows: dict[str, list[Row]], ids: Ids, store: Store) -> Touched | None:
    """Holds laid or released here, and those on units whose older edges changed; None where there are none."""
    laid = {ids.hold[h["uid"]]: ids.unit[h["unit"]] for h in rows.get("holds", [])}
    released = [(ids.hold[r["hold"]], r["unit"]) for r in rows.get("hold_releases", [])]
    starts = set(laid.values()) | {ids.unit[unit] for _, unit in released if unit is not None}
    holds = laid.keys() | {hold for hold, _ in released}
    new = {u["uid"] for u in rows.get("units", [])}
    lost = bool(rows.get("voids") or laid or released)
    if rows.get("voids") or any(e["child"] not in new for e in rows.get("edges", [])):
        holds |= {row["hold"] for row in store.all("unit_hold")} | (_waiting() if lost else set())
        starts |= {ids.unit[e["child"]] for e in rows.get("edges", [])}
        starts |= {ids.edge[(v["event"], v["n"])]["child"] for v in rows.get("voids", [])}
    if not holds:
        return None
    ended = frozenset(hold for hold, unit in released if unit is None)
    return Touched(frozenset(holds), frozenset(starts), ended, lost)


def _waiting() -> set[int]:
    with connection.cursor() as cursor:
        cursor.execute(WAITING)
        return {hold for (hold,) in cursor.fetchall()}


def write_reach(holds: list[int]) -> int:
    """Walk these holds forward and write all that they reach, however much it is; how many rows that are."""
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM unit_hold WHERE hold = ANY (%s)", [holds])
        cursor.execute(f"{REACH} INSERT INTO unit_hold (unit, hold) SELECT unit, hold FROM r", {"holds": holds})
        return int(cursor.rowcount)


def rewrite_reach(touched: Touched) -> None:
    """Within a scan: write what changed. Where that is more than settings.HOLD_REACH_AT_ONCE units, or a job is about
    to write the reach anyway, it is left to the job: other scans wait for this one."""
    most = settings.HOLD_REACH_AT_ONCE
    with connection.cursor() as cursor:
        cursor.execute(BELOW, {"starts": id_array(touched.starts), "most": most})
        below, waiting = cursor.fetchone()
        later = touched.holds & set(waiting) if len(below) <= most else set(touched.holds)
        for hold in touched.ended - later:
            cursor.execute(
                "SELECT count(*) FROM (SELECT FROM unit_hold WHERE hold = %s LIMIT %s + 1) AS few", [hold, most]
            )
            if cursor.fetchone()[0] > most:
                later |= {hold}
            else:
                cursor.execute("DELETE FROM unit_hold WHERE hold = %s", [hold])
        now = touched.holds - later - touched.ended
        if not touched.lost:
            later -= set(waiting)
        if now:
            cursor.execute(WITHIN, {"below": id_array(below), "holds": id_array(now)})
        if later:
            # What it was laid on is under it at once, and stands for all that comes of it.
            cursor.execute(
                """INSERT INTO unit_hold (unit, hold) SELECT unit, id FROM hold h WHERE id = ANY (%s::bigint[])
                      AND NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = h.id
                                         AND (x.unit IS NULL OR x.unit = h.unit))
                   ON CONFLICT DO NOTHING""",
                [id_array(later)],
            )
            cursor.execute(SPREAD, {"holds": id_array(later)})

