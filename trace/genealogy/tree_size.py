"""How many events were recorded by a time, without counting them all: marks of the past are kept, the rest is counted.

A mark says how many events were recorded by a moment, one every MARK events; what is older than SETTLED never changes.
Without marks all events are counted, which is as right and takes longer.
"""

from datetime import datetime, timedelta

from django.db import connection

from trace.genealogy.live import known_by

MARK = 50_000
# Recorded times are at most seconds off, and a scan takes no hour.
SETTLED = timedelta(hours=1)

SIZE = """
WITH mark AS (
  SELECT (m->>0)::timestamptz AS until, (m->>1)::bigint AS size FROM job j, jsonb_array_elements(j.args::jsonb) AS m
   WHERE j.key = 'count events' AND (m->>0)::timestamptz <= %(known)s::timestamptz ORDER BY 1 DESC LIMIT 1)
SELECT (SELECT max(recorded) FROM event WHERE recorded <= %(known)s::timestamptz),
  COALESCE((SELECT size FROM mark), 0) + (SELECT count(*) FROM event
    WHERE recorded <= %(known)s::timestamptz AND recorded > COALESCE((SELECT until FROM mark), '-infinity'))
"""
NEXT_MARK = """
WITH last AS (
  SELECT COALESCE((SELECT args::jsonb FROM job WHERE key = 'count events'), '[]') AS marks),
since AS (
  SELECT COALESCE((marks->-1->>0)::timestamptz, '-infinity') AS until, COALESCE((marks->-1->>1)::bigint, 0) AS size
    FROM last),
next AS (
  SELECT recorded AS until FROM event, since WHERE recorded > since.until AND recorded < %(settled)s
   ORDER BY recorded OFFSET %(mark)s - 1 LIMIT 1)
INSERT INTO job (id, kind, key, args, state, done, total, error, made, touched)
SELECT gen_random_uuid(), 'count events', 'count events', last.marks || jsonb_build_array(jsonb_build_array(next.until,
       since.size + (SELECT count(*) FROM event WHERE recorded > since.until AND recorded <= next.until))),
       'done', 0, 0, '', clock_timestamp(), clock_timestamp() FROM last, since, next
ON CONFLICT (key) DO UPDATE SET args = EXCLUDED.args, touched = EXCLUDED.touched
"""


def tree_size(as_known_on: datetime | None = None) -> tuple[datetime | None, int]:
    """The time of the newest event recorded by then (None: none was) and the number of events recorded by then."""
    with connection.cursor() as cursor:
        cursor.execute(SIZE, {"known": known_by(as_known_on)})
        newest, size = cursor.fetchone()
        return newest, size


def set_marks(now: datetime) -> int:
    """Set the marks that are due; how many. The job worker does that once in a while."""
    marks = 0
    with connection.cursor() as cursor:
        while True:
            cursor.execute(NEXT_MARK, {"settled": now - SETTLED, "mark": MARK})
            if not cursor.rowcount:
                return marks
            marks += 1
