"""What was done to a mould before an act: the release coat it wears, its refurbishment and first-off, where it hangs.

Read from the records of those acts, so that what is told late is judged by the mould as it was then.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.genealogy.prepared import fetch_rows
from trace.recording.floor import words as say
from trace.recording.floor.moulds import CLOCKS_APART
from trace.recording.floor.standing import Floor, Found

# How an act is about a mould, beside being done with it.
COATED, REFURBISHED, FIRST_OFF, MOUNTED, TAKEN_OFF = "coated", "refurbished", "first-off", "mounted", "taken off"
AGENT = "release agent"
LIFE = f"""
WITH acts AS MATERIALIZED (
  SELECT e.id, e.happened, x.role, e.body FROM event_resource x JOIN event e ON e.id = x.event
   WHERE x.resource = %(mould)s::bigint
     AND x.role IN ('{COATED}', '{REFURBISHED}', '{FIRST_OFF}', '{MOUNTED}', '{TAKEN_OFF}'))
SELECT
  (SELECT COALESCE(json_agg(json_build_array(c.number,
       (SELECT json_build_array(u.about->>'material', u.lot_no) FROM event_unit t JOIN unit u ON u.id = t.unit
         WHERE t.event = c.id AND t.role = '{AGENT}' LIMIT 1)) ORDER BY c.happened DESC, c.id DESC), '[]')
     FROM (SELECT a.id, a.happened, a.body::jsonb #>> '{{says,coat}}' AS number FROM acts a
            WHERE a.role = '{COATED}' AND a.happened <= %(at)s::timestamptz
            ORDER BY a.happened DESC, a.id DESC LIMIT {{coats}}) c),
  COALESCE((SELECT max(id) FROM acts WHERE role = '{REFURBISHED}'), 0),
  COALESCE((SELECT max(id) FROM acts WHERE role = '{FIRST_OFF}'), 0),
  COALESCE((SELECT max(event) FROM revision WHERE thing = %(mould)s::bigint), 0),
  (SELECT json_build_array(a.role, a.body::jsonb #>> '{{says,position}}', (
       SELECT r.key FROM event_resource y JOIN resource r ON r.id = y.resource WHERE y.event = a.id AND y.role = 'arm'
       LIMIT 1))
     FROM acts a WHERE a.role IN ('{MOUNTED}', '{TAKEN_OFF}') AND a.happened <= %(at)s::timestamptz
     ORDER BY a.happened DESC, a.id DESC LIMIT 1),
  (SELECT max(happened) FROM acts WHERE role IN ('{REFURBISHED}', '{MOUNTED}')),
  COALESCE((SELECT max(id) FROM acts WHERE role = '{MOUNTED}'), 0)
"""
# Where each mould was mounted last, those apart that were taken off since.
HANGING = f"""
SELECT DISTINCT ON (x.resource) r.key, x.role, COALESCE(e.body::jsonb #>> '{{says,position}}', ''), COALESCE((
  SELECT a.key FROM event_resource y JOIN resource a ON a.id = y.resource WHERE y.event = e.id AND y.role = 'arm'
  LIMIT 1), '')
  FROM event e JOIN event_resource x ON x.event = e.id AND x.role IN ('{MOUNTED}', '{TAKEN_OFF}')
  JOIN resource r ON r.id = x.resource
 WHERE e.kind IN ('mould_mounted', 'mould_taken_off') AND e.happened <= %(at)s::timestamptz
 ORDER BY x.resource, e.happened DESC, e.id DESC
"""
# Coats are numbered by hand at times; further back than this none is looked for.
COATS = 60


# The loads made ready on a coat that is told of only now: up to the next coat.
MADE_ON = f"""
SELECT u.uid::text FROM event_resource x JOIN event e ON e.id = x.event AND e.kind = 'mould_ready'
  JOIN unit u ON u.event = e.id AND u.kind = 'load'
 WHERE x.resource = %(mould)s::bigint AND x.role = 'mould' AND e.happened > %(at)s::timestamptz
   AND e.happened < COALESCE((SELECT min(n.happened) FROM event_resource y JOIN event n ON n.id = y.event
     WHERE y.resource = x.resource AND y.role = '{COATED}' AND n.happened > %(at)s::timestamptz), 'infinity')
 ORDER BY u.id LIMIT 200
"""


@dataclass(frozen=True, slots=True)
class Life:
    """coat: the release agent's material and lot of the newest coat, "" where nobody scanned it; coat_no: its number,
    0 where no coat is recorded. first_off: none has passed since it was refurbished or since its plant data say that
    one is due; first_mounted: nor since it was mounted; since: when either was last. arm, position: where it was
    mounted last, "" where it was taken off since or nobody recorded it; off: it was taken off."""

    coat: str
    coat_no: int
    first_off: bool
    first_mounted: bool
    since: datetime | None
    arm: str
    position: str
    off: bool


def life_of(found: Found, floor: Floor) -> Life:
    """What was done to this mould by the time of the act."""
    name = f"life of {found.key}"
    if name not in floor.looked:
        floor.looked[name] = life(found, floor.happened)
    known: Life = floor.looked[name]
    return known


def life(found: Found, at: datetime) -> Life:
    """What was done to this mould by a time."""
    if found.thing is None:
        return Life("", 0, first_off=False, first_mounted=False, since=None, arm="", position="", off=False)
    values = {"mould": found.thing.resource, "at": at.isoformat()}
    (found_,) = fetch_rows(LIFE.replace("{coats}", str(COATS)), values)
    coats, refurbished, passed, revised, hung, since, put_on = found_
    due = found.body.get("state") == "first-off due" and revised > passed
    role, position, arm = hung or (None, None, None)
    mounted = role == MOUNTED
    return Life(
        coat=_lot(coats[0][1]) if coats else "", coat_no=_number([number for number, _lot_of in coats]),
        first_off=due or refurbished > passed, first_mounted=put_on > passed, since=since,
        arm=str(arm or "") if mounted else "", position=str(position or "") if mounted else "", off=role == TAKEN_OFF,
    )  # fmt: skip


def made_on(found: Found, floor: Floor) -> list[str]:
    """The loads that were made ready on the coat that this act puts on, and know another one or none: where it is told
    late. Nothing is asked where it is told as it happens."""
    if found.thing is None or floor.now - floor.happened <= CLOCKS_APART:
        return []
    values = {"mould": found.thing.resource, "at": floor.happened.isoformat()}
    return [uid for (uid,) in fetch_rows(MADE_ON, values)]


def hanging(at: datetime) -> dict[str, tuple[str, str]]:
    """Of each mould that is mounted by the records, the arm and the position on it ("" where nobody said one)."""
    rows = fetch_rows(HANGING, {"at": at.isoformat()})
    return {mould: (arm, position) for mould, role, position, arm in rows if role == MOUNTED}


def _lot(agent: Sequence[Any] | None) -> str:
    return say.lot_name({"material": agent[0]}, agent[1]) if agent and agent[0] and agent[1] else ""


def _number(said: Sequence[str | None]) -> int:
    """The number of the newest coat: as somebody said it, else one more than the coat before; newest first."""
    for more, number in enumerate(said):
        if number and number.isdigit():
            return int(number) + more
    return len(said)
