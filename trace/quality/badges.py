"""One badge at two screens so soon after one another that one person can hardly have been at both: a thing to look at.

In two parts of the plant that is one change of screens sooner than one can walk. In one part the screens are a few
steps from each other, and one change says nothing; to and fro and back again in that time is the work of two.

Nothing here says who it was: a badge may have been lent, a screen left signed on, or a clock may be off.
"""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import NamedTuple

from trace.genealogy.prepared import fetch_rows

# Days that are looked back on.
BACK = timedelta(days=14)
# There, back and there again: so many changes of screens after the first one.
RETURNS = 2
USUAL = 2  # minutes, where the plant has set none: common practice, no source
SEEN = "badge looked at"
# What was recorded as it was done, each with the badge that worked and the one that stood beside.
PAIRS = """
WITH done AS (
  SELECT v.uid::text AS uid, w.who, v.station, s.device, v.happened
    FROM event v JOIN scan s ON s.event = v.id AND s.mode = 'asks',
         LATERAL (SELECT v.person AS who UNION
                  -- Few have a second badge: the bytes of the others are not taken apart.
                  SELECT CASE WHEN v.body NOT LIKE '%%"helper":null%%' THEN v.body::jsonb->>'helper' END) w
   WHERE v.happened > %(since)s::timestamptz AND v.station = ANY (%(stations)s::text[]) AND w.who IS NOT NULL),
 beside AS (
  SELECT who, uid, station, device, happened, lag(uid) OVER o AS uid1, lag(station) OVER o AS station1,
         lag(device) OVER o AS device1, lag(happened) OVER o AS happened1
    FROM done WINDOW o AS (PARTITION BY who ORDER BY happened, uid)),
 changed AS (
  SELECT *, lag(happened, %(returns)s::int) OVER o AS began,
         (device, device1) = (lag(device1) OVER o, lag(device) OVER o)
          AND (device, device1) = (lag(device, %(returns)s::int) OVER o, lag(device1, %(returns)s::int) OVER o)
           AS returned
    FROM beside WHERE device <> device1 AND station <> station1
  WINDOW o AS (PARTITION BY who ORDER BY happened, uid)),
 paced AS (
  SELECT *, COALESCE(returned AND happened - began < make_interval(mins => %(minutes)s::int), false) AS fro
    FROM changed),
 runs AS (
  -- Of a badge that goes on so, the first return is named and not each.
  SELECT *, fro AND NOT lag(fro, 1, false) OVER (PARTITION BY who ORDER BY happened, uid) AS begins FROM paced)
SELECT b.who, b.uid1, b.station1, b.happened1, b.uid, b.station, b.happened, CASE WHEN b.begins THEN b.began END
  FROM runs b
 WHERE (b.begins OR b.happened - b.happened1 < make_interval(mins => %(minutes)s::int))
   AND NOT EXISTS (SELECT FROM event_resource x JOIN event l ON l.id = x.event
         JOIN resource r ON r.id = x.resource AND r.kind = 'person' AND r.key = b.who
        WHERE x.role = 'badge looked at' AND l.body::jsonb #>> '{says,second}' = b.uid)
 ORDER BY b.happened DESC, b.uid DESC
"""


class Twice(NamedTuple):
    """One badge at two screens: which, and of both acts the uid, the station and the time.

    began: when the badge first changed from one to the other, where it went to and fro between them; else None.
    """

    badge: str
    first: str
    first_at: str
    first_when: datetime
    second: str
    second_at: str
    second_when: datetime
    began: datetime | None = None


def twice(places: Mapping[str, str], minutes: int, now: datetime) -> list[Twice]:
    """Those nobody has looked at, newest first. places: of each station the part of the plant that it stands in.

    Between two parts, sooner than `minutes` after one another; within one, there and back and there again as soon.
    """
    asked = {"since": now - BACK, "stations": sorted(places), "minutes": minutes, "returns": RETURNS}
    found = [Twice(*row) for row in fetch_rows(PAIRS, asked)] if minutes else []
    return [one for one in found if _says(one, places, timedelta(minutes=minutes))]


def _says(one: Twice, places: Mapping[str, str], least: timedelta) -> bool:
    """Whether the stations' parts make something of it."""
    if places[one.first_at] == places[one.second_at]:
        return one.began is not None
    return one.second_when - one.first_when < least
