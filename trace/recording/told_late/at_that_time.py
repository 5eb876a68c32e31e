"""How things stood when an act happened: the load in a mould, what was on an arm, whether a content was released."""

from datetime import datetime, timedelta

from django.db import connection

from trace.recording.floor.sources import one, one_at_a_time
from trace.recording.floor.units import UnitFacts

# The kinds of event that move a load on, in the order in which it goes through them.
STAGE_AFTER = {
    "mould_ready": "open", "mould_closed": "closed", "cook_started": "in oven", "cook_ended": "cooling",
    "cooled": "to demould", "demoulded": "demoulded", "cook_aborted": "aborted",
}  # fmt: skip


def released_at(content: int) -> datetime | None:
    """When the content of a container was first released, None where no release of it is recorded."""
    found: datetime | None = one(
        """SELECT min(v.happened) FROM event_unit x JOIN event v ON v.id = x.event
            WHERE x.unit = %s AND v.kind = 'released'""",
        [content],
    )
    return found


def was_waiting(unit: UnitFacts, when: datetime) -> bool:
    """True when a lot or a content was in quarantine then: it still is, or was released only afterwards."""
    released = released_at(unit.id)
    return unit.status == "quarantine" or (released is not None and when < released)


def last_release(lot: str, since: datetime) -> str | None:
    """As what a lot (its uid) was last released after that time, None where it was not."""
    found: str | None = one(
        """SELECT s.said->>'status' FROM unit u JOIN event_unit x ON x.unit = u.id AND x.role = 'status'
             JOIN event v ON v.id = x.event AND v.kind = 'released' AND v.happened > %s,
                  LATERAL jsonb_array_elements(v.body::jsonb->'rows'->'statuses') AS s(said)
            WHERE u.uid = %s AND s.said->>'unit' = u.uid::text ORDER BY v.happened DESC, v.id DESC LIMIT 1""",
        [since, lot],
    )
    return found


def load_in(mould: str, when: datetime, leeway: timedelta = timedelta(0)) -> str | None:
    """The uid of the load that was in this mould (its key) then, or None: begun by then, and not taken out yet.

    leeway: how much earlier it may have been taken out all the same.
    """
    found: str | None = one(
        """SELECT CASE WHEN NOT EXISTS (SELECT FROM event_unit x JOIN event o ON o.id = x.event
                    WHERE x.unit = u.id AND o.kind IN ('demoulded', 'cook_aborted') AND o.happened <= %(out)s)
                  THEN u.uid::text END
             FROM resource r JOIN event_resource m ON m.resource = r.id JOIN event v ON v.id = m.event
             JOIN unit u ON u.event = v.id AND u.kind = 'load'
            WHERE r.kind = 'mould' AND r.key = %(mould)s AND v.kind = 'mould_ready' AND v.happened <= %(when)s
            ORDER BY v.happened DESC, v.id DESC LIMIT 1""",
        {"mould": mould, "when": when, "out": when - leeway},
    )
    return found


def stage_at(load: int, when: datetime) -> str:
    """How far this load had come then, out of its mould or not; nothing that is told moves it back."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT DISTINCT v.kind FROM event_unit x JOIN event v ON v.id = x.event
                WHERE x.unit = %s AND x.role IN ('status', 'closed', 'cooked') AND v.kind = ANY (%s)
                  AND v.happened <= %s""",
            [load, list(STAGE_AFTER), when],
        )
        passed = {STAGE_AFTER[kind] for (kind,) in cursor.fetchall()}
    return next((stage for stage in reversed(STAGE_AFTER.values()) if stage in passed), "open")


def bound_since(mould: str, when: datetime) -> list[str]:
    """The uids of hulls whose plate was bound after that to whatever waited at this mould (its key)."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT h.uid::text FROM resource r JOIN event_resource m ON m.resource = r.id
                 JOIN event v ON v.id = m.event AND v.kind = 'bound' AND v.happened >= %s
                 JOIN unit h ON h.event = v.id AND h.kind = 'hull'
                WHERE r.kind = 'mould' AND r.key = %s AND v.body::jsonb->'says'->'mouldings' = '[]' ORDER BY h.id""",
            [when, mould],
        )
        return [uid for (uid,) in cursor.fetchall()]


STAGES_TOLD = """
WITH history AS (
  SELECT v.id, v.happened, v.kind, v.body::jsonb->'says' AS says FROM event v
   WHERE v.kind IN ('cook_started', 'cook_stage') AND v.happened <= %(when)s
     AND v.id IN (SELECT event FROM event_unit WHERE unit = %(unit)s))
SELECT says->>'stage', says->'observed' IS DISTINCT FROM 'false'::jsonb FROM history
 WHERE kind = 'cook_stage'
   AND happened >= COALESCE((SELECT max(happened) FROM history WHERE kind = 'cook_started'), '-infinity')
 ORDER BY happened, id
"""


def stages_told(unit: int, when: datetime) -> list[tuple[str, bool]]:
    """(stage, whether it was seen) as recorded by then of the cook that a load or a moulding was in, oldest first."""
    with connection.cursor() as cursor:
        cursor.execute(STAGES_TOLD, {"unit": unit, "when": when})
        return [(stage, seen) for stage, seen in cursor.fetchall()]


IN_CYCLE = """
SELECT r.key AS name, m.stage FROM mould_state m JOIN resource r ON r.id = m.mould
  LEFT JOIN cycle c ON c.id = m.cycle LEFT JOIN event v ON v.id = c.event
 WHERE m.arm = %(arm)s AND m.stage IN ('in oven', 'cooling') AND r.key <> ALL (%(moulds)s)
   AND COALESCE(v.happened <= %(when)s, TRUE)
UNION ALL
SELECT COALESCE((SELECT text FROM serial_state WHERE hull = u.id), u.lot_no, u.kind), s.status
  FROM unit_state s JOIN unit u ON u.id = s.unit JOIN cook k ON k.unit = u.id JOIN event v ON v.id = k.event
 WHERE s.status IN ('in oven again', 'cooling again') AND u.uid <> ALL (%(units)s::uuid[])
   AND k.id = (SELECT max(id) FROM cook WHERE unit = u.id) AND v.happened <= %(when)s
   AND regexp_replace(k.position, '/[0-9]+$', '') = %(arm)s
ORDER BY name
"""


def in_cycle_on(arm: str, when: datetime, moulds: list[str], units: list[str]) -> list[tuple[str, str]]:
    """What else this arm had in an open cycle then: (mould, serial or number; where it stands).

    Two screens may send the same arm in at the same moment: the second waits until the first is written.
    """
    one_at_a_time(f"arm {arm}")
    with connection.cursor() as cursor:
        cursor.execute(IN_CYCLE, {"arm": arm, "when": when, "moulds": moulds, "units": units})
        return [(name, stage) for name, stage in cursor.fetchall()]
