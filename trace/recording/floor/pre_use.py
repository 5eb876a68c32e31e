"""The last pre-use check of machines before an act: what was not in order, and whether there was one this shift."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from trace.genealogy.prepared import fetch_rows
from trace.readmodels.rows import moment
from trace.recording.floor.standing import Floor, Found

CHECKED = "pre-use check"
LAST = f"""
SELECT m, e.happened, e.body::jsonb #> '{{says,faults}}' FROM unnest(%(machines)s::bigint[]) AS m, LATERAL (
  SELECT v.happened, v.body FROM event_resource x JOIN event v ON v.id = x.event
   WHERE x.resource = m AND x.role = '{CHECKED}' AND v.happened <= %(at)s::timestamptz
   ORDER BY v.happened DESC, v.id DESC LIMIT 1) e
"""


@dataclass(frozen=True, slots=True)
class Checked:
    """faults: what was not in order at the last check of each machine, as “OVEN-2: guards”; unchecked: the machines
    that nobody has checked since this shift began."""

    faults: tuple[str, ...]
    unchecked: tuple[str, ...]


def checked(machines: Sequence[Found], floor: Floor) -> Checked:
    """How these machines were at their last pre-use check."""
    keys = {one.thing.resource: one.key for one in machines if one.thing}
    found: dict[int, tuple[Any, Any]] = {
        machine: (when, faults)
        for machine, when, faults in fetch_rows(LAST, {"machines": list(keys), "at": floor.happened.isoformat()})
    }
    shift = floor.plant.calendar.shift(floor.happened)
    begins = shift.begins if shift else floor.plant.calendar.begins(floor.plant.calendar.day(floor.happened))
    # Whoever begins early checks early: common practice, no source.
    since = begins - timedelta(minutes=30)
    return Checked(
        tuple(f"{keys[machine]}: {name}" for machine, (_when, faults) in found.items() for name in faults or ()),
        tuple(key for machine, key in keys.items() if machine not in found or _moment(found[machine][0]) < since),
    )


def _moment(value: Any) -> datetime:
    return moment(value) if isinstance(value, str) else value
