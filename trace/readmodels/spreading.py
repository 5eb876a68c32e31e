"""Writes the reach of a wide hold in the background, slice by slice, while scans go on.

Each slice is a transaction of its own that says in the job's row how far it is. The gate is held alone twice and only
for moments: to know which edges are older than the walk, and at the end for those that scans have added meanwhile.
Broken off anywhere it is begun again from the start; rows that stand already cost nothing to write again.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db import connection, transaction

from trace.genealogy.live import LIVE_NOW, id_array
from trace.genealogy.prepared import fetch_rows
from trace.readmodels.gate import alone
from trace.readmodels.marks import Marks

# Units whose children are written in one transaction: some 20 ms, as another scan may have to wait for its end.
SLICE = 1_000
# So few edges are left for the end, when scans wait; before that, rounds without the gate go after the newest.
LAST = 300
MOST_ROUNDS = 10

CHILDREN = f"""
WITH found AS MATERIALIZED (
  SELECT DISTINCT e.child FROM edge e WHERE e.parent = ANY (%(slice)s::bigint[]) AND {LIVE_NOW}
     AND NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = %(hold)s::bigint AND x.unit = e.child)),
written AS (
  INSERT INTO unit_hold (unit, hold) SELECT child, %(hold)s::bigint FROM found ON CONFLICT DO NOTHING)
SELECT child FROM found
"""
NEWER = f"""
SELECT e.parent, e.child FROM edge e WHERE e.id > %(after)s::bigint AND {LIVE_NOW}
   AND NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = %(hold)s::bigint AND x.unit = e.child)
"""
# Where it begins; no row when the hold is over.
LAID_ON = """
SELECT h.unit FROM hold h WHERE h.id = %s
   AND NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = h.id AND (x.unit IS NULL OR x.unit = h.unit))
"""


class ToldAgainError(Exception):
    """The job was given anew meanwhile (a correction, a release), so that what was walked may be wrong."""


@dataclass
class Walk:
    """How far the spreading of one hold is."""

    job: UUID
    hold: int
    seen: Marks = field(default_factory=Marks)
    count: int = 0

    def add(self, units: Iterable[int]) -> list[int]:
        """Those of the units that were not reached before."""
        new = self.seen.add(units)
        self.count += len(new)
        return new


def spread(job: UUID) -> bool:
    """Do one job of this kind; False when it was given anew meanwhile and has to be begun again.

    Two workers that do the same job at once write the same.
    """
    hold = _take(job)
    if hold is None:
        return True
    walk = Walk(job, hold)
    try:
        edge, unit = _newest()
        start = _one(LAID_ON, [hold])
        if start is not None:
            _onward(walk, walk.add([start]))
        for _ in range(MOST_ROUNDS):
            until = _newest()[0]
            newer = _newer(walk, edge)
            edge = until
            _onward(walk, walk.add(newer))
            if len(newer) <= LAST:
                break
        _take_back(walk, unit)
        _end(walk, edge, unit)
    except ToldAgainError:
        return False
    return True


def _take(job: UUID) -> int | None:
    """The hold of the job, which is under way from now on; None when it is done."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            """UPDATE job SET state = 'under way', done = 0, touched = clock_timestamp()
                WHERE id = %s AND state <> 'done' RETURNING (args->>'hold')::bigint""",
            [job],
        )
        row = cursor.fetchone()
        return row[0] if row else None


def _newest() -> tuple[int, int]:
    """The newest edge and unit (their ids) of a moment at which no scan is under way: those that come have higher."""
    with transaction.atomic():
        alone()
        edge = _one("SELECT max(id) FROM edge", [])
        return edge or 0, _one("SELECT max(id) FROM unit", []) or 0


def _onward(walk: Walk, waiting: list[int]) -> None:
    """Write these units and all that hangs below them, a slice at a time."""
    for at in range(0, len(waiting), SLICE):
        with transaction.atomic():
            _write(walk, waiting[at : at + SLICE])
    while waiting:
        with transaction.atomic():
            waiting, part = waiting[:-SLICE], waiting[-SLICE:]
            waiting += _children(walk, part)
            _tell(walk)


def _children(walk: Walk, units: list[int]) -> list[int]:
    rows = fetch_rows(CHILDREN, {"slice": id_array(units), "hold": walk.hold})
    return walk.add(child for (child,) in rows)


def _newer(walk: Walk, after: int) -> list[int]:
    """What came, by edges newer than that, of what was reached, and was not reached itself."""
    rows = fetch_rows(NEWER, {"after": after, "hold": walk.hold})
    return [child for parent, child in rows if parent in walk.seen and child not in walk.seen]


def _tell(walk: Walk, *, state: str = "under way") -> None:
    """Say in the job's row how far it is. Raises ToldAgainError when the job was given anew."""
    with connection.cursor() as cursor:
        cursor.execute(
            """UPDATE job SET done = %s, total = CASE WHEN %s = 'done' THEN %s ELSE total END, state = %s,
                      error = '', touched = clock_timestamp() WHERE id = %s AND state = 'under way'""",
            [walk.count, state, walk.count, state, walk.job],
        )
        if not cursor.rowcount:
            raise ToldAgainError(str(walk.job))


def _take_back(walk: Walk, until: int) -> None:
    """Drop rows of units, known before the walk began, that it did not reach: a release, a correction."""
    gone: list[int] = []
    with transaction.atomic(), connection.connection.cursor("under_hold") as cursor:
        cursor.execute("SELECT unit FROM unit_hold WHERE hold = %s AND unit <= %s", [walk.hold, until])
        while rows := cursor.fetchmany(20_000):
            gone += [unit for (unit,) in rows if unit not in walk.seen]
    for at in range(0, len(gone), SLICE):
        with transaction.atomic():
            _tell(walk)
            _drop(walk, gone[at : at + SLICE])


def _drop(walk: Walk, units: list[int]) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "DELETE FROM unit_hold WHERE hold = %s AND unit = ANY (%s::bigint[])", [walk.hold, id_array(units)]
        )


def _end(walk: Walk, edge: int, unit: int) -> None:
    """With the gate held alone: what scans have added since the last round, and the job is done."""
    with transaction.atomic():
        alone()
        waiting = walk.add(_newer(walk, edge))
        _write(walk, waiting)
        while waiting:
            waiting = _children(walk, waiting)
        with connection.cursor() as cursor:
            cursor.execute("SELECT unit FROM unit_hold WHERE unit > %s AND hold = %s", [unit, walk.hold])
            gone = [u for (u,) in cursor.fetchall() if u not in walk.seen]
        if gone:
            _drop(walk, gone)
        _tell(walk, state="done")


def _write(walk: Walk, units: list[int]) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO unit_hold (unit, hold) SELECT u, %s FROM unnest(%s::bigint[]) AS u ON CONFLICT DO NOTHING",
            [walk.hold, id_array(units)],
        )


def _one(sql: str, values: list[Any]) -> Any:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        row = cursor.fetchone()
        return row[0] if row else None
