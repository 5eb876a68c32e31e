"""Whether a moulding is one of the first after a colour change in its mould or a cold start of its oven."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.genealogy.prepared import fetch_rows
from trace.readmodels.rows import moment
from trace.recording.floor import words as say
from trace.recording.floor.standing import Floor, Found

COLD_START = "cold start"
# The loads of the mould up to this one, newest first, each with when its first cook began; and when the oven of this
# one's cook was last started cold before it.
SHOTS = f"""
WITH loads AS MATERIALIZED (
  SELECT u.id, u.about->>'colour' AS colour FROM event_resource x JOIN unit u ON u.event = x.event AND u.kind = 'load'
    JOIN unit_state s ON s.unit = u.id AND s.status IS DISTINCT FROM 'given up'
   WHERE x.resource = %(mould)s::bigint AND x.role = 'mould' AND u.id <= %(load)s::bigint
   ORDER BY u.id DESC LIMIT %(most)s::int),
cooks AS MATERIALIZED (
  SELECT l.id, l.colour, (SELECT min(v.happened) FROM cook k JOIN cycle c ON c.id = k.cycle
    JOIN event v ON v.id = c.event WHERE k.unit = l.id) AS began FROM loads l)
SELECT (SELECT json_agg(json_build_array(colour, began) ORDER BY id DESC) FROM cooks),
  (SELECT max(e.happened) FROM cook k JOIN cycle c ON c.id = k.cycle
     JOIN event_resource y ON y.event = c.event AND y.role = 'oven'
     JOIN event_resource x ON x.resource = y.resource AND x.role = '{COLD_START}' JOIN event e ON e.id = x.event
    WHERE k.unit = %(load)s::bigint AND e.happened <= (SELECT began FROM cooks WHERE id = %(load)s::bigint))
"""


@dataclass(frozen=True, slots=True)
class Shot:
    """number: which it is since what `after` names, 0 where it is none of the first; most: how many are."""

    number: int
    most: int
    after: str


def shot_of(found: Found, floor: Floor) -> Shot:
    """Which shot the load in this mould is; nothing is looked up where the plant asks for none."""
    most = int(str(floor.plant.setting("first shots", 0)))
    if most <= 0 or found.load is None or found.thing is None:
        return Shot(0, most, "")
    values = {"mould": found.thing.resource, "load": found.load.id, "most": most + 1}
    ((loads, cold),) = fetch_rows(SHOTS, values)
    return _number(loads or [], _moment(cold), most)


def _moment(value: Any) -> datetime | None:
    return moment(value) if isinstance(value, str) else value


def _number(loads: list[tuple[str | None, str | None]], cold: datetime | None, most: int) -> Shot:
    """Counts the newest loads back to the one of another colour, and those cooked since the cold start."""
    same = next((n for n, (colour, _began) in enumerate(loads) if colour != loads[0][0]), 0)
    if 0 < same <= most:
        return Shot(same, most, f"a change from {loads[same][0] or 'an unknown colour'} to {loads[0][0] or 'none'}")
    if cold is None:
        return Shot(0, most, "")
    since = sum(1 for _colour, began in loads if began and moment(began) >= cold)
    return Shot(since, most, f"the cold start of {say.clock(cold)}") if 0 < since <= most else Shot(0, most, "")
