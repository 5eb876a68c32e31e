"""Questions about sources that only some commands ask: lots, certificates, codes to print, shelf life."""

import json
from collections import Counter
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection
from django.utils import timezone

from trace.codes import issue_label_code
from trace.genealogy.made_as import MADE_AS


def local_day(when: datetime) -> date:
    """The plant's own day: shift, day and month follow its time zone."""
    return timezone.localtime(when).date()


def expired(expires: str | None, when: datetime) -> bool:
    """True after the last day of its shelf life. A date that cannot be read is another rule's matter."""
    try:
        return bool(expires) and date.fromisoformat(str(expires)[:10]) < local_day(when)
    except ValueError:
        return False


def open_too_long(opened: datetime | None, days: int | None, when: datetime) -> bool:
    return bool(opened and days is not None and when - opened > timedelta(days=days))


# A heel without an amount is nothing by the book, and counts here as little as for the use-by date of a mix.
OPENED = """
WITH RECURSIVE behind AS (
  SELECT %s::bigint AS id
  UNION SELECT e.parent FROM behind b JOIN edge e ON e.child = b.id
   WHERE e.role IN ('heel', 'topup', 'decant', 'draw') AND (e.role <> 'heel' OR e.amount IS NOT NULL) AND NOT e.aside
     AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id))
SELECT min(s.opened) FROM behind b JOIN unit_state s ON s.unit = b.id
"""


def opened_first(unit: int) -> datetime | None:
    """When the first of all that is in a content was opened: poured into another carrier, a bag gets no younger.

    Asked of the records as they are now, so that what is told late or put right counts like anything else.
    """
    found: datetime | None = _one(OPENED, [unit])
    return found


def _one(sql: str, parameters: list[Any] | dict[str, Any]) -> Any:
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)
        row = cursor.fetchone()
        return row[0] if row else None


def issue_codes(count: int) -> list[str]:
    """New label codes, in the order of their numbers; a number is never given twice."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval('label_number') FROM generate_series(1, %s)", [count])
        return [issue_label_code(n) for (n,) in cursor.fetchall()]


def lock_lot(supplier: str, material: str, lot_no: str) -> None:
    """Let no other scan make this lot meanwhile: a lot is one unit, however many deliveries bring it."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [f"lot {supplier} {material} {lot_no}"])


def lot_known(supplier: str, material: str, lot_no: str, note_no: str | None = None) -> str | None:
    """The uid of this supplier's lot, or None; with note_no only if that delivery note was booked for it."""
    found: str | None = _one(
        """SELECT u.uid::text FROM unit u WHERE u.kind = 'lot' AND u.lot_no = %s
           AND COALESCE(u.about->>'supplier', '') = %s
           AND u.about->>'material' = %s AND (%s::text IS NULL OR EXISTS (SELECT FROM edge e
             JOIN unit c ON c.id = e.child WHERE e.parent = u.id AND c.about->>'note_no' = %s)) LIMIT 1""",
        [lot_no, supplier, material, note_no, note_no],
    )
    return found


def certificate_of(lot: str) -> dict[str, Any] | None:
    """What the newest certificate recorded for a lot says (the command's own fields), or None."""
    body = _one(
        """SELECT e.body FROM event_unit x JOIN event e ON e.id = x.event JOIN unit u ON u.id = x.unit
            WHERE u.uid = %s AND x.role = 'certified' ORDER BY e.id DESC LIMIT 1""",
        [lot],
    )
    says: dict[str, Any] | None = json.loads(body)["says"] if body else None
    return says


def status_before_used_up(unit: str) -> str:
    """What a content that is used up by the book was before: being counted is no release."""
    before: str | None = _one(
        """SELECT s.said->>'status' FROM unit u JOIN event_unit x ON x.unit = u.id AND x.role = 'status'
             JOIN event v ON v.id = x.event, LATERAL jsonb_array_elements(v.body::jsonb->'rows'->'statuses') AS s(said)
            WHERE u.uid = %s AND s.said->>'unit' = u.uid::text AND s.said->>'status' <> 'used up'
            ORDER BY v.id DESC LIMIT 1""",
        [unit],
    )
    return before or "released"


def contents_in_quarantine(lot: str) -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT c.uid::text FROM unit l JOIN edge e ON e.parent = l.id AND e.role = 'receive'
                 JOIN unit c ON c.id = e.child JOIN unit_state s ON s.unit = c.id
                WHERE l.uid = %s AND s.status = 'quarantine' ORDER BY c.id""",
            [lot],
        )
        return [uid for (uid,) in cursor.fetchall()]


def serials_known(serials: tuple[str, ...]) -> list[str]:
    """Those of the serials that were ever given to a plate."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT text FROM serial WHERE text = ANY (%s) ORDER BY text", [list(serials)])
        return [text for (text,) in cursor.fetchall()]


def packed_for_order(order: str, product: str, colour: str) -> int:
    """How many hulls of this model and colour are in packs of the order already."""
    count: int = _one(
        f"""SELECT count(*) FROM resource r JOIN event_resource x ON x.resource = r.id AND x.role = 'order'
             JOIN event v ON v.id = x.event AND v.kind = 'packed'
             JOIN edge e ON e.event = v.id AND e.role = 'pack' JOIN unit u ON u.id = e.parent
            WHERE r.kind = 'sales_order' AND r.key = %s AND u.about->>'product' = %s AND {MADE_AS}->>'colour' = %s
              AND NOT EXISTS (SELECT FROM edge_void d WHERE d.edge = e.id)""",
        [order, product, colour],
    )
    return count


def released_at(content: int) -> datetime | None:
    """When the content of a container was first released, None where no release of it is recorded."""
    found: datetime | None = _one(
        """SELECT min(v.happened) FROM event_unit x JOIN event v ON v.id = x.event
            WHERE x.unit = %s AND v.kind = 'released'""",
        [content],
    )
    return found


def load_in(mould: str, when: datetime) -> str | None:
    """The uid of the load that was in this mould (its key) then, or None: begun by then, and not taken out yet."""
    found: str | None = _one(
        """SELECT CASE WHEN NOT EXISTS (SELECT FROM event_unit x JOIN event o ON o.id = x.event
                    WHERE x.unit = u.id AND o.kind IN ('demoulded', 'cook_aborted') AND o.happened <= %(when)s)
                  THEN u.uid::text END
             FROM resource r JOIN event_resource m ON m.resource = r.id JOIN event v ON v.id = m.event
             JOIN unit u ON u.event = v.id AND u.kind = 'load'
            WHERE r.kind = 'mould' AND r.key = %(mould)s AND v.kind = 'mould_ready' AND v.happened <= %(when)s
            ORDER BY v.happened DESC, v.id DESC LIMIT 1""",
        {"mould": mould, "when": when},
    )
    return found


def shut_at(load: int) -> datetime | None:
    """When the mould was closed on this load or, where nobody said so, cooked or emptied; None while it is open."""
    found: datetime | None = _one(
        """SELECT min(v.happened) FROM event_unit x JOIN event v ON v.id = x.event
            WHERE x.unit = %s AND v.kind IN ('mould_closed', 'cook_started', 'demoulded', 'cook_aborted')""",
        [load],
    )
    return found


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
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [f"arm {arm}"])
        cursor.execute(IN_CYCLE, {"arm": arm, "when": when, "moulds": moulds, "units": units})
        return [(name, stage) for name, stage in cursor.fetchall()]


STANDS = """
SELECT CASE u.kind WHEN 'hull' THEN COALESCE(u.about->>'product', '') END, count(*)::int,
  COALESCE(sum(s.balance) FILTER (WHERE u.kind = 'content' AND u.uom = 'mg' AND s.balance > 0), 0)::bigint
FROM place_now p JOIN unit u ON u.id = p.unit JOIN unit_state s ON s.unit = u.id
WHERE p.place = %s AND u.kind IN ('hull', 'content') AND s.status IS DISTINCT FROM 'scrapped'
  AND u.uid <> ALL (%s::uuid[]) GROUP BY 1
"""


def stands_at(place: str, apart_from: list[str]) -> tuple[Counter[str], int]:
    """What stands in a place by the records, apart from these units: hulls by product, and mg in containers."""
    with connection.cursor() as cursor:
        cursor.execute(STANDS, [place, apart_from])
        found = cursor.fetchall()
    return Counter({product: n for product, n, _ in found if product}), sum(mg for _, _, mg in found)


# The check-weights of a scale: the last one at or before a time, and the first after it.
CHECKED = """
WITH checked AS (
  SELECT v.id, v.happened, (v.body::jsonb #>> '{rows,instruments,0,passed}')::boolean AS passed
    FROM event v JOIN event_resource x ON x.event = v.id AND x.role = 'checked' JOIN resource r ON r.id = x.resource
   WHERE v.kind = 'check_weighed' AND r.kind = 'instrument' AND r.key = %(scale)s)
"""
CHECKS_ABOUT = f"""{CHECKED}
SELECT json_build_array(
  (SELECT json_build_object('checked_at', happened, 'passed', passed) FROM checked WHERE happened <= %(at)s
    ORDER BY happened DESC, id DESC LIMIT 1),
  (SELECT json_build_object('checked_at', happened, 'passed', passed) FROM checked WHERE happened > %(at)s
    ORDER BY happened, id LIMIT 1))::text
"""
# Where a correction or a late fact made a charge anew, the draws added again say of which weighing they are.
WEIGHED_ABOUT = f"""
{CHECKED.replace("WITH", "WITH RECURSIVE")},
 weighed AS (
  SELECT v.id, v.uid FROM event v JOIN event_resource x ON x.event = v.id AND x.role = 'scale'
    JOIN resource r ON r.id = x.resource
   WHERE v.kind = 'weighed' AND r.kind = 'instrument' AND r.key = %(scale)s
     AND v.happened >= COALESCE((SELECT max(happened) FROM checked WHERE passed AND happened <= %(at)s), '-infinity')
     AND v.happened < COALESCE((SELECT min(happened) FROM checked WHERE passed AND happened > %(at)s), 'infinity')),
 said(edge, of) AS (
  SELECT e.id, w.uid FROM weighed w JOIN edge e ON e.event = w.id AND e.role = 'draw'
  UNION
  SELECT s.id, said.of FROM said JOIN edge_void x ON x.edge = said.edge JOIN edge s ON s.event = x.event
    JOIN event a ON a.id = x.event
   WHERE a.body::jsonb #>> ARRAY['rows', 'edges', s.n::text, 'of'] = said.of::text),
 charge(id) AS (
  SELECT u.id FROM weighed w JOIN unit u ON u.event = w.id AND u.kind = 'charge'
  UNION SELECT e.child FROM said JOIN edge e ON e.id = said.edge)
SELECT u.uid::text FROM charge JOIN unit u ON u.id = charge.id JOIN unit_state s ON s.unit = u.id
 WHERE s.status <> 'made anew' AND NOT EXISTS (SELECT FROM hold h WHERE h.unit = u.id AND h.rule = %(rule)s)
 ORDER BY u.id
"""


def checks_about(scale: str, when: datetime) -> tuple[dict[str, Any] | None, dict[str, Any] | None]:
    """The last check-weight of a scale at or before a time and the first after it, as of instrument_state."""
    before, after = json.loads(_one(CHECKS_ABOUT, {"scale": scale, "at": when}))
    return before, after


def weighed_about(scale: str, when: datetime, rule: str) -> list[str]:
    """The charges weighed on a scale between the check-weights it passed before and after a time, without those that
    this rule laid a hold on before."""
    with connection.cursor() as cursor:
        cursor.execute(WEIGHED_ABOUT, {"scale": scale, "at": when, "rule": rule})
        return [uid for (uid,) in cursor.fetchall()]


# A unit, its moulding, its load and its charges.
BEHIND = """
WITH RECURSIVE behind AS (
  SELECT %s::bigint AS id
  UNION SELECT e.parent FROM behind b JOIN edge e ON e.child = b.id
   WHERE e.role IN ('bind', 'join', 'cavity', 'cut', 'charge', 'heel') AND NOT e.aside
     AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id))
"""
GAPS = BEHIND + "SELECT DISTINCT g.what, g.which FROM behind b JOIN gap g ON g.unit = b.id ORDER BY g.what, g.which"
QUESTIONS = BEHIND + """
SELECT DISTINCT d.kind FROM behind b JOIN discrepancy d ON d.unit = b.id WHERE d.closed_by IS NULL ORDER BY d.kind
"""


def gaps_behind(unit: int) -> list[tuple[str, str]]:
    """What is missing from the record of a unit, its moulding, its load and all parts of its charges: (what, which)."""
    with connection.cursor() as cursor:
        cursor.execute(GAPS, [unit])
        return [(what, which) for what, which in cursor.fetchall()]


def discrepancies_behind(unit: int) -> list[str]:
    """What a person has still to look at, of a unit, its moulding, its load and its charges."""
    with connection.cursor() as cursor:
        cursor.execute(QUESTIONS, [unit])
        return [kind for (kind,) in cursor.fetchall()]


def zones_read(hull: int) -> set[str]:
    """The zones of a hull whose thickness was read at some time."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT zone FROM reading WHERE unit = %s AND quantity = 'thickness'", [hull])
        return {str(zone) for (zone,) in cursor.fetchall()}


def is_drawn_into(source: int, charge: int) -> bool:
    """Whether something of this source is in a charge already, in whichever of its parts."""
    return bool(
        _one(
            """WITH RECURSIVE part AS (
                 SELECT %s::bigint AS id
                 UNION SELECT e.parent FROM part p JOIN edge e ON e.child = p.id
                  WHERE e.role = 'heel' AND NOT e.aside AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id))
               SELECT TRUE FROM part p JOIN edge e ON e.child = p.id
                WHERE e.role = 'draw' AND e.parent = %s AND NOT e.aside
                  AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id) LIMIT 1""",
            [charge, source],
        )
    )


def discrepancy_is_open(event: str, n: int) -> bool:
    """Whether discrepancy number n of this event (its uid) waits for a person."""
    try:
        uid = str(UUID(event))
    except ValueError:
        return False
    return bool(
        _one(
            """SELECT TRUE FROM discrepancy d JOIN event v ON v.id = d.event
                WHERE v.uid = %s AND d.n = %s AND d.closed_by IS NULL""",
            [uid, n],
        )
    )


def open_hold(hold: str) -> dict[str, Any] | None:
    """A hold that no release has ended altogether: its unit's uid, rule and the person who laid it; else None."""
    try:
        uid = str(UUID(hold))
    except ValueError:
        return None
    found = _one(
        """SELECT json_build_object('unit', u.uid, 'rule', h.rule, 'person', e.person)::text
             FROM hold h JOIN unit u ON u.id = h.unit JOIN event e ON e.id = h.event
            WHERE h.uid = %s AND NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id AND r.unit IS NULL)""",
        [uid],
    )
    known: dict[str, Any] | None = json.loads(found) if found else None
    return known
