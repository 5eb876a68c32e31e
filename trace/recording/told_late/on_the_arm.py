"""What was on an arm at a time: its cycles as they ran, the moulds loaded for it, and how far a cook had come then."""

from datetime import datetime

from django.db import connection

from trace.genealogy.prepared import fetch_rows
from trace.recording.floor.sources import one, one_at_a_time

# The cycles of an arm that ran at any moment between two, without those of these units. One ends with its cooling.
RAN = """
SELECT DISTINCT c.number FROM cycle c JOIN event v ON v.id = c.event
  JOIN event_resource x ON x.event = v.id AND x.role = 'arm' JOIN resource r ON r.id = x.resource
  JOIN cook k ON k.cycle = c.id
 WHERE r.kind = 'machine' AND r.key = %(arm)s AND v.happened < %(until)s
   AND NOT EXISTS (SELECT FROM cook o JOIN unit u ON u.id = o.unit
                    WHERE o.cycle = c.id AND u.uid = ANY (%(units)s::uuid[]))
   AND COALESCE((SELECT min(e.happened) FROM event_unit y JOIN event e ON e.id = y.event
                  WHERE y.unit = k.unit AND e.kind IN ('cooled', 'demoulded', 'cook_aborted')
                    AND e.happened >= v.happened), 'infinity') > %(since)s
 ORDER BY c.number
"""


def ran_on(arm: str, since: datetime, until: datetime, units: list[str]) -> list[str]:
    """The numbers of the cycles that ran on this arm between these times, apart from those that these units were in."""
    with connection.cursor() as cursor:
        cursor.execute(RAN, {"arm": arm, "since": since, "until": until, "units": units})
        return [number for (number,) in cursor.fetchall()]


def cook_of(unit: int, when: datetime) -> tuple[str, datetime] | None:
    """The arm that took this unit into its last oven by then, and when; None where no start is recorded."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT r.key, v.happened FROM cook k JOIN cycle c ON c.id = k.cycle JOIN event v ON v.id = c.event
                 JOIN event_resource x ON x.event = v.id AND x.role = 'arm' JOIN resource r ON r.id = x.resource
                WHERE k.unit = %s AND v.happened <= %s ORDER BY v.happened DESC, v.id DESC LIMIT 1""",
            [unit, when],
        )
        found: tuple[str, datetime] | None = cursor.fetchone()
        return found


def cooked_then(unit: int, when: datetime) -> str:
    """Whether a load, or a moulding cooked again, was in the "oven" then, "cooling", or neither ("")."""
    kind = one(
        """SELECT v.kind FROM event_unit x JOIN event v ON v.id = x.event
            WHERE x.unit = %s AND x.role IN ('status', 'cooked') AND v.happened <= %s
              AND v.kind IN ('cook_started', 'cook_ended', 'cooled', 'demoulded', 'cook_aborted')
            ORDER BY v.happened DESC, v.id DESC LIMIT 1""",
        [unit, when],
    )
    return {"cook_started": "oven", "cook_ended": "cooling"}.get(str(kind), "")


def positions_taken(arm: str, mould: str) -> dict[str, str]:
    """position -> mould, of the other moulds that are loaded for this arm now. Another scan of it waits meanwhile."""
    one_at_a_time(f"arm {arm}")
    rows = fetch_rows(
        """SELECT COALESCE(u.about->>'position', ''), r.key FROM mould_state m JOIN resource r ON r.id = m.mould
             JOIN unit u ON u.id = m.load WHERE m.arm = %(arm)s::text AND r.key <> %(mould)s::text ORDER BY r.key""",
        {"arm": arm, "mould": mould},
    )
    return {position or f"of {key}": key for position, key in rows}
