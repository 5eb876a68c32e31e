"""What was read off an instrument and typed, of a thing and of what it was made from: each with its record."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.genealogy.live import LIVE_NOW
from trace.genealogy.prepared import fetch_json
from trace.readmodels.readings import KINDS, righted
from trace.readmodels.rows import moment
from trace.recording.floor.sources import one
from trace.recording.floor.standing import Found

READ_OFF = f"""
WITH RECURSIVE behind(id) AS (
  SELECT id FROM unit WHERE uid = ANY (%(units)s::uuid[])
  UNION SELECT e.parent FROM behind b JOIN edge e ON e.child = b.id
   WHERE e.role IN ('bind', 'join', 'cavity', 'cut') AND {LIVE_NOW}),
 said AS (
  SELECT x.event FROM behind b JOIN event_unit x ON x.unit = b.id
  UNION SELECT x.event FROM event_resource x WHERE x.resource = ANY (%(things)s::bigint[]) AND x.role = 'checked')
SELECT COALESCE(json_agg(json_build_object('event', v.uid, 'n', r.n, 'kind', v.kind, 'when', v.happened,
    'person', v.person, 'quantity', r.quantity, 'zone', r.zone, 'value', trim_scale(r.value)::text, 'uom', r.uom,
    'instrument', r.instrument, 'unit', u.uid) ORDER BY v.happened DESC, v.id DESC, r.n), '[]')::text
  FROM said s JOIN event v ON v.id = s.event AND v.kind = ANY (%(kinds)s::text[])
  JOIN reading r ON r.event = v.id LEFT JOIN unit u ON u.id = r.unit
 WHERE r.unit IS NULL OR r.unit IN (SELECT id FROM behind)
"""
# What it says by now: the last word on each reading that was put right.
RIGHTED = """
SELECT COALESCE(json_agg(s.said ORDER BY s.id), '[]')::text FROM (
  SELECT w.id, r.said FROM event v JOIN event w ON w.kind = 'reading_corrected' AND w.body LIKE '%%' || v.uid || '%%',
         LATERAL jsonb_array_elements(w.body::jsonb->'rows'->'readings_righted') AS r(said)
   WHERE v.uid = %(event)s::uuid AND r.said->>'event' = v.uid::text) s
"""


@dataclass(frozen=True)
class ReadOff:
    """One reading as it stands: number n of event `event` (its uid). unit: the uid of what it is of, if of one."""

    event: str
    n: int
    kind: str
    when: datetime
    person: str
    row: dict[str, Any]


def read_off(found: Found) -> list[ReadOff]:
    """The readings of a hull, its moulding and its load, of the load in a mould, of a scale's checks, of a lot's
    certificates: the newest first."""
    units = [u for u in (found.unit, found.hull, found.load) if u is not None]
    uids = [u.uid for u in units] + [str(u.about["lot"]) for u in units if u.about.get("lot")]
    things = [found.thing.resource] if found.thing is not None else []
    rows = fetch_json(READ_OFF, {"units": uids, "things": things, "kinds": list(KINDS)})
    names = ("quantity", "zone", "value", "uom", "instrument", "unit")
    return [
        ReadOff(r["event"], r["n"], r["kind"], moment(r["when"]), r["person"] or "", {k: r[k] for k in names})
        for r in rows
    ]


def said_now(event: str) -> dict[str, Any]:
    """What the command of this event (its uid) says, with its readings as they were put right since."""
    body = json.loads(one("SELECT body FROM event WHERE uid = %s", [event]))
    return righted(body["kind"], body["says"], fetch_json(RIGHTED, {"event": event}))
