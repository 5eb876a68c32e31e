"""Figures that were read of hulls, of their mouldings and loads, and of lots, as known on a day and as they were put
right by then; and how long cooks took.
"""

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.prepared import fetch_rows

# What went through the oven as this hull: itself, its mouldings and their loads.
BODIES = f"""
WITH RECURSIVE body(hull, unit) AS (
  SELECT u.id, u.id FROM unit u WHERE u.kind = 'hull' AND u.id = ANY (%(hulls)s::bigint[])
  UNION
  SELECT b.hull, n.parent FROM body b, LATERAL (
    SELECT e.parent FROM edge e
    WHERE e.child = b.unit AND e.role IN ('bind', 'join', 'cut', 'cavity') AND NOT e.aside AND {LIVE} OFFSET 0) n)
SELECT hull, unit FROM body
"""
READ = """
SELECT DISTINCT v.id, v.uid::text, v.kind, v.happened, x.unit, u.uid::text, v.body::jsonb->'rows'->>'readings'
FROM event v JOIN event_unit x ON x.event = v.id AND x.role IN ('read', 'cooked', 'certified')
JOIN unit u ON u.id = x.unit
WHERE v.kind = ANY (%(kinds)s::text[]) AND v.recorded <= %(known)s::timestamptz ORDER BY v.happened, v.id, x.unit
"""
RIGHTED = """
SELECT v.body::jsonb->'rows'->>'readings_righted' FROM event v
WHERE v.kind IN ('reading_corrected', 'impact_reopened') AND v.recorded <= %(known)s::timestamptz ORDER BY v.id
"""


@dataclass(frozen=True, slots=True)
class Reading:
    """What one event says of one unit: `values` by (quantity, zone, uom), none where it says none."""

    kind: str
    happened: datetime
    unit: int
    values: tuple[tuple[str, str, str, Decimal], ...]


def bodies(hulls: Collection[int], as_known_on: datetime | None = None) -> Mapping[int, list[int]]:
    """For each hull the units that it was when it was cooked, weighed and measured, itself too."""
    found: dict[int, list[int]] = {hull: [] for hull in hulls}
    for hull, unit in fetch_rows(BODIES, {"hulls": id_array(hulls), "known": known_by(as_known_on)}):
        found[hull].append(unit)
    return found


def readings(kinds: Iterable[str], as_known_on: datetime | None = None) -> list[Reading]:
    """Every event of these kinds recorded by then, once for each unit it was about, oldest first."""
    known = known_by(as_known_on)
    righted = _righted(known)
    found = []
    for _id, event, kind, happened, unit, uid, text in fetch_rows(READ, {"kinds": sorted(kinds), "known": known}):
        values = tuple(_values(event, uid, json.loads(text or "[]"), righted))
        found.append(Reading(kind, happened, unit, values))
    return found


def _righted(known: str) -> dict[tuple[str, int], str | None]:
    """The last word on each reading that was put right: what it shows, None where nobody read it."""
    return {
        (row["event"], row["n"]): row["value"]
        for (text,) in fetch_rows(RIGHTED, {"known": known})
        for row in json.loads(text or "[]")
    }


def _values(
    event: str, uid: str, rows: list[dict[str, Any]], righted: Mapping[tuple[str, int], str | None]
) -> Iterator[tuple[str, str, str, Decimal]]:
    for n, row in enumerate(rows):
        value = righted.get((event, n), row["value"])
        # What was set for a cook was read of no unit: it is of all that was cooked.
        if value is not None and row["unit"] in (uid, None):
            yield row["quantity"], row["zone"] or "", row["uom"], Decimal(value)
