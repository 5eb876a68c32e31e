"""Counts in the background how far a lot went, as known on a day: what a page has no time for."""

import json
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection, transaction

from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.prepared import fetch_rows
from trace.readmodels.marks import Marks

KIND = "count reach"
SLICE = 5_000
# A count of what is known now is made again when it is asked for after so long.
FRESH = timedelta(minutes=30)

CHILDREN = f"""
SELECT u.id, u.kind = 'hull' FROM unit u WHERE u.id = ANY (ARRAY(
  SELECT e.child FROM edge e WHERE e.parent = ANY (%(slice)s::bigint[]) AND NOT e.aside AND {LIVE}))
"""
ASK = """
INSERT INTO job (id, kind, key, args, state, done, total, error, made, touched)
VALUES (gen_random_uuid(), %(kind)s, %(key)s, %(args)s, 'waiting', 0, 0, '', clock_timestamp(), clock_timestamp())
ON CONFLICT (key) DO UPDATE SET state = 'waiting', args = EXCLUDED.args, touched = EXCLUDED.touched
  WHERE job.state = 'done' AND %(again)s AND job.touched < clock_timestamp() - %(fresh)s
"""


def ask(unit: int, uid: str, as_known_on: datetime | None) -> dict[str, Any] | None:
    """What the count of this unit says so far: {units, hulls, done, at}; it is begun where there is none yet."""
    key = f"{KIND} {uid} {as_known_on.isoformat() if as_known_on else 'now'}"
    args = json.dumps({"unit": unit, "known": as_known_on.isoformat() if as_known_on else None})
    with connection.cursor() as cursor:
        values: dict[str, Any] = {"kind": KIND, "key": key, "args": args, "again": as_known_on is None, "fresh": FRESH}
        cursor.execute(ASK, values)
        cursor.execute(
            "SELECT done, COALESCE((args->>'hulls')::int, 0), state = 'done', touched FROM job WHERE key = %s", [key]
        )
        row = cursor.fetchone()
    return dict(zip(("units", "hulls", "done", "at"), row, strict=True)) if row else None


def count(job: UUID) -> bool:
    """Do one job of this kind, a slice at a time; each says in its row how far it is. Nothing waits for it."""
    with connection.cursor() as cursor:
        cursor.execute(
            """UPDATE job SET state = 'under way', touched = clock_timestamp() WHERE id = %s AND state <> 'done'
                RETURNING (args->>'unit')::bigint, (args->>'known')::timestamptz""",
            [job],
        )
        row = cursor.fetchone()
    if row is None:
        return True
    unit, known = row
    marks, waiting, units, hulls = Marks(), [unit], 1, 0
    marks.add([unit])
    while waiting:
        waiting, part = waiting[:-SLICE], waiting[-SLICE:]
        with transaction.atomic():
            met = dict(fetch_rows(CHILDREN, {"slice": id_array(part), "known": known_by(known)}))
            new = marks.add(met)
            waiting += new
            units, hulls = units + len(new), hulls + sum(met[n] for n in new)
            _tell(job, units, hulls, done=not waiting)
    return True


def _tell(job: UUID, units: int, hulls: int, *, done: bool) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            """UPDATE job SET done = %s, total = CASE WHEN %s THEN %s ELSE total END, error = '',
                      state = CASE WHEN %s THEN 'done' ELSE 'under way' END, touched = clock_timestamp(),
                      args = (args::jsonb || jsonb_build_object('hulls', %s::int)) WHERE id = %s""",
            [units, done, units, done, hulls, job],
        )
