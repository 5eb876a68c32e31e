"""Which edges count: those recorded by a time and not withdrawn by then; and when a difference counts.

The one place that says what "withdrawn" is: everything else asks here.
"""

from collections.abc import Iterable
from datetime import datetime

FOREVER = "infinity"
# A look-up by primary key for each edge. As NOT EXISTS the planner may hash all withdrawals at every level.
WITHDRAWN = "COALESCE((SELECT v.recorded FROM edge_void v WHERE v.edge = e.id) <= %(known)s::timestamptz, false)"
# As known at a time; the edges that would close a circle (aside) are left out by whoever walks.
LIVE = f"e.recorded <= %(known)s::timestamptz AND NOT {WITHDRAWN}"
# The same where every edge is read: one look at each, and one at each withdrawal.
LIVE_OF_ALL = """e.recorded <= %(known)s::timestamptz
  AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id AND v.recorded <= %(known)s::timestamptz)"""
# When the difference d of an event v was booked; one booked again by a late fact carries its own time in the bytes.
BOOKED = """(v.body::jsonb #> ARRAY['rows', 'differences',
   (SELECT count(*) FROM difference y WHERE y.event = d.event AND y.id < d.id)::text])"""
BOOKED_AT = f"COALESCE(({BOOKED}->>'at')::timestamptz, v.happened)"


def live(e: str) -> str:
    """SQL: the edge e counts, as all is known that is recorded: it closes no circle and was not withdrawn."""
    return f"NOT {e}.aside AND NOT EXISTS (SELECT FROM edge_void x WHERE x.edge = {e}.id)"


LIVE_NOW = live("e")


def came_out(e: str, s: str) -> str:
    """SQL: what went into a pack or onto a truck by the edge e has come back since; s is its state now."""
    return f"""({e}.role IN ('pack', 'ship') AND {s}.back_at IS NOT NULL
      AND {s}.back_at >= (SELECT happened FROM event WHERE id = {e}.event))"""


def withdrawn_among(edges: str) -> str:
    """SQL for the ids of those of many edges (a query of ids) that were withdrawn by then, looked up all together."""
    return f"""SELECT v.edge FROM edge_void v
      WHERE v.recorded <= %(known)s::timestamptz AND v.edge = ANY (ARRAY({edges}))"""


def known_by(as_known_on: datetime | None) -> str:
    """The time as SQL takes it; None is all that is recorded."""
    return FOREVER if as_known_on is None else as_known_on.isoformat()


def id_array(ids: Iterable[int]) -> str:
    """Ids as the text of a bigint[]: a list of thousands is quoted by the driver one by one, this is not."""
    return "{" + ",".join(map(str, ids)) + "}"


def label_now(on: str) -> str:
    """SQL for the label that is on something now: the newest that was not replaced, NULL where there is none.

    `on` is the condition on the label l. For what holds now only: which labels have ended is a read model.
    """
    return f"""(SELECT (array_agg(l.code ORDER BY l.event DESC, l.code))[1] FROM label l
      WHERE ({on}) AND NOT EXISTS (SELECT FROM label_state x WHERE x.code = l.code))"""


def hull_of_plate(s: str, st: str) -> str:
    """SQL for the hull that a plate is or was on: s is its serial, st how that stands. NULL where it is on none."""
    return f"""COALESCE({st}.hull, CASE WHEN {st}.standing = 'replaced' THEN (SELECT pe.child FROM edge pe
      WHERE pe.parent = {s}.plate AND pe.role = 'plate' AND {live('pe')} LIMIT 1) END)"""


def held_name(u: str) -> str:
    """SQL for what people call the unit u under a hold: its serial, material and lot, number, or what it is."""
    return f"""COALESCE((SELECT text FROM serial_state WHERE hull = {u}.id),
      {u}.about->>'material' || ' lot ' || {u}.lot_no, {u}.lot_no, {u}.about->>'material', {u}.kind)"""


def person_name(key: str) -> str:
    """SQL for the name of the person with this key (an SQL expression); the key itself where no name is kept."""
    return f"""COALESCE((SELECT n.text FROM plant_person p JOIN note n ON n.digest = p.body->>'name'
      WHERE p.key = {key}), {key})"""
