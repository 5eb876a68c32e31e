"""Questions about sources that only some commands ask: lots, certificates, codes to print, shelf life."""

import json
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from django.db import connection

from trace.codes import issue_label_code
from trace.codes.plant_day import Calendar
from trace.genealogy.live import LIVE_NOW, held_name
from trace.genealogy.made_as import MADE_AS
from trace.genealogy.prepared import fetch_rows
from trace.readmodels.readings import righted
from trace.recording.floor.changes import GONE_AS
from trace.recording.floor.units import AT_GATE


def expired(expires: str | None, today: date) -> bool:
    """True after the last plant day of its shelf life. A date that cannot be read is another rule's matter."""
    try:
        return bool(expires) and date.fromisoformat(str(expires)[:10]) < today
    except ValueError:
        return False


def open_too_long(opened: datetime | None, days: int | None, calendar: Calendar, today: date) -> bool:
    """True after the last plant day of its open life, counted from the plant day on which it was opened."""
    if opened is None or days is None:
        return False
    # Where only the day is known, its midnight stands for it.
    utc = opened.astimezone(UTC)
    since = utc.date() if utc.time() == time(0) else calendar.day(opened)
    return today > since + timedelta(days=days)


# A heel without an amount is nothing by the book, and counts here as little as for the use-by date of a mix.
OPENED = f"""
WITH RECURSIVE behind AS (
  SELECT %s::bigint AS id
  UNION SELECT e.parent FROM behind b JOIN edge e ON e.child = b.id
   WHERE e.role IN ('heel', 'topup', 'decant', 'draw') AND (e.role <> 'heel' OR e.amount IS NOT NULL) AND {LIVE_NOW})
SELECT min(s.opened) FROM behind b JOIN unit_state s ON s.unit = b.id
"""


def opened_first(unit: int) -> datetime | None:
    """When the first of all that is in a content was opened: poured into another carrier, a bag gets no younger.

    Asked of the records as they are now, so that what is told late or put right counts like anything else.
    """
    found: datetime | None = one(OPENED, [unit])
    return found


def one(sql: str, parameters: list[Any] | dict[str, Any]) -> Any:
    """The first column of the first row, or None."""
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)
        row = cursor.fetchone()
        return row[0] if row else None


def issue_codes(count: int) -> list[str]:
    """New label codes, in the order of their numbers; a number is never given twice."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval('label_number') FROM generate_series(1, %s)", [count])
        return [issue_label_code(n) for (n,) in cursor.fetchall()]


def one_at_a_time(name: str) -> None:
    """Another scan that asks for this name waits until this one is written, and then sees what it wrote."""
    fetch_rows("SELECT one_at_a_time(%(name)s::text)::text", {"name": name})


def lock_lot(supplier: str, material: str, lot_no: str) -> None:
    """Let no other scan make this lot meanwhile: a lot is one unit, however many deliveries bring it."""
    one_at_a_time(f"lot {supplier} {material} {lot_no}")


def lot_known(supplier: str, material: str, lot_no: str, note_no: str | None = None) -> str | None:
    """The uid of this supplier's lot, or None; with note_no only if that delivery note was booked for it."""
    found: str | None = one(
        f"""SELECT u.uid::text FROM unit u WHERE u.kind = 'lot' AND u.lot_no = %s
           AND COALESCE(u.about->>'supplier', '') = %s
           AND u.about->>'material' = %s AND (%s::text IS NULL OR EXISTS (SELECT FROM edge e
             JOIN unit c ON c.id = e.child
            WHERE e.parent = u.id AND c.about->>'note_no' = %s AND {LIVE_NOW})) LIMIT 1""",
        [lot_no, supplier, material, note_no, note_no],
    )
    return found


def suppliers_of(material: str, lot_no: str) -> list[str]:
    """The suppliers of whom a lot of this material and number is known."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT DISTINCT u.about->>'supplier' AS supplier FROM unit u WHERE u.kind = 'lot' AND u.lot_no = %s
                AND u.about->>'material' = %s AND COALESCE(u.about->>'supplier', '') <> '' ORDER BY supplier""",
            [lot_no, material],
        )
        return [supplier for (supplier,) in cursor.fetchall()]


def first_recorded() -> datetime | None:
    """When the records of this plant began."""
    found: datetime | None = one("SELECT recorded FROM event ORDER BY id LIMIT 1", [])
    return found


def lot_status(lot: str) -> str | None:
    """How a lot (its uid) stands: in quarantine, released, …"""
    status: str | None = one(
        "SELECT s.status FROM unit_state s JOIN unit u ON u.id = s.unit WHERE u.uid = %s::uuid", [lot]
    )
    return status


def certificate_of(lot: str) -> dict[str, Any] | None:
    """What the newest certificate recorded for a lot says (the command's own fields), or None."""
    found = one(
        """SELECT json_build_object('says', e.body::jsonb->'says', 'righted', (
                  SELECT json_agg(r.said ORDER BY w.id) FROM event_unit y JOIN event w ON w.id = y.event,
                         LATERAL jsonb_array_elements(w.body::jsonb->'rows'->'readings_righted') AS r(said)
                   WHERE y.unit = u.id AND y.role = 'corrected' AND w.kind = 'reading_corrected'
                     AND r.said->>'event' = e.uid::text))::text
             FROM event_unit x JOIN event e ON e.id = x.event JOIN unit u ON u.id = x.unit
            WHERE u.uid = %s AND x.role = 'certified' ORDER BY e.id DESC LIMIT 1""",
        [lot],
    )
    if found is None:
        return None
    paper = json.loads(found)
    return righted("certified", paper["says"], paper["righted"] or [])


def status_before_used_up(unit: str) -> str:
    """What a content that is used up by the book was before: being counted is no release."""
    return status_before(unit, ("used up", *GONE_AS.values())) or "released"


def status_before(unit: str, states: tuple[str, ...]) -> str | None:
    """The last status that a unit had before it came to one of these."""
    before: str | None = one(
        """SELECT s.said->>'status' FROM unit u JOIN event_unit x ON x.unit = u.id AND x.role = 'status'
             JOIN event v ON v.id = x.event, LATERAL jsonb_array_elements(v.body::jsonb->'rows'->'statuses') AS s(said)
            WHERE u.uid = %s AND s.said->>'unit' = u.uid::text AND s.said->>'status' <> ALL (%s)
            ORDER BY v.id DESC LIMIT 1""",
        [unit, list(states)],
    )
    return before


def given_back_with(unit: int) -> tuple[str, str, datetime | None]:
    """How a container went back: to which supplier (key), with which delivery note, when; by what left it last."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"""SELECT c.about->>'supplier', c.about->>'note_no', v.happened FROM edge e JOIN unit c ON c.id = e.child
                  JOIN event v ON v.id = c.event WHERE e.parent = %s AND e.role = 'return' AND {LIVE_NOW}
                 ORDER BY e.id DESC LIMIT 1""",
            [unit],
        )
        supplier, note_no, when = cursor.fetchone() or (None, None, None)
        return supplier or "", note_no or "", when


def lot_facts(lot: str) -> dict[str, Any]:
    """What a release asks of a lot (its uid), in one statement: `did` [[role of an act, person]], who did what to it so
    far; `waiting` [[uid, status]], what was booked of it and waits; `at_gate` [uid], holds that end when it is
    confirmed."""
    found = one(
        f"""SELECT json_build_object(
             'did', (SELECT json_agg(DISTINCT jsonb_build_array(x.role, v.person)) FROM event_unit x
                       JOIN event v ON v.id = x.event WHERE x.unit = l.id AND x.role IN ('received', 'certified')),
             'waiting', (SELECT json_agg(json_build_array(c.uid, s.status) ORDER BY c.id) FROM edge e
                           JOIN unit c ON c.id = e.child JOIN unit_state s ON s.unit = c.id
                          WHERE e.parent = l.id AND e.role = 'receive' AND {LIVE_NOW}
                            AND s.status IN ('quarantine', 'conditionally released')),
             'at_gate', (SELECT json_agg(h.uid ORDER BY h.id) FROM hold h WHERE h.unit = l.id AND h.rule = '{AT_GATE}'
                           AND NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id AND r.unit IS NULL)))::text
             FROM unit l WHERE l.uid = %s""",
        [lot],
    )
    return {name: value or [] for name, value in json.loads(found or "{}").items()}


def plates_out(products: list[str]) -> list[str]:
    """The plates of these products that were checked out and are neither on a hull nor back, in the order of their
    numbers."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT s.text FROM serial s JOIN serial_state t ON t.text = s.text
                WHERE s.product = ANY (%s) AND t.standing = 'out' ORDER BY s.text""",
            [products],
        )
        return [text for (text,) in cursor.fetchall()]


def serials_known(serials: tuple[str, ...]) -> list[str]:
    """Those of the serials that were ever given to a plate."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT text FROM serial WHERE text = ANY (%s) ORDER BY text", [list(serials)])
        return [text for (text,) in cursor.fetchall()]


def packed_for_order(order: str, product: str, colour: str) -> int:
    """How many hulls of this model and colour are in packs of the order already.

    Two packers may fill one order at the same moment: the second waits until the first is written.
    """
    one_at_a_time(f"order {order}")
    count: int = one(
        f"""SELECT count(*) FROM resource r JOIN event_resource x ON x.resource = r.id AND x.role = 'order'
             JOIN event v ON v.id = x.event AND v.kind = 'packed'
             JOIN edge e ON e.event = v.id AND e.role = 'pack' JOIN unit u ON u.id = e.parent
            WHERE r.kind = 'sales_order' AND r.key = %s AND u.about->>'product' = %s AND {MADE_AS}->>'colour' = %s
              AND {LIVE_NOW}""",
        [order, product, colour],
    )
    return count


def discrepancy_is_open(event: str, n: int) -> bool:
    """Whether discrepancy number n of this event (its uid) waits for a person."""
    try:
        uid = str(UUID(event))
    except ValueError:
        return False
    return bool(
        one(
            """SELECT TRUE FROM discrepancy d JOIN event v ON v.id = d.event
                WHERE v.uid = %s AND d.n = %s AND d.closed_by IS NULL""",
            [uid, n],
        )
    )


def open_hold(hold: str) -> dict[str, Any] | None:
    """A hold that no release has ended altogether: its unit's uid, its rule, what it is on and the persons who laid it;
    else None.

    A content made anew by a late fact carries the hold on; those who laid it first did not change by that.
    """
    try:
        uid = str(UUID(hold))
    except ValueError:
        return None
    found = one(
        f"""SELECT json_build_object('unit', u.uid, 'rule', h.rule, 'of', {held_name('u')},
                  'persons', (SELECT json_agg(DISTINCT p.person) FROM hold o JOIN event p ON p.id = o.event
                                JOIN unit w ON w.id = o.unit
                               WHERE o.id = h.id OR (e.kind <> 'held' AND o.id < h.id AND o.rule = h.rule
                                                     AND w.carrier = u.carrier)))::text
             FROM hold h JOIN unit u ON u.id = h.unit JOIN event e ON e.id = h.event
            WHERE h.uid = %s AND NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id AND r.unit IS NULL)""",
        [uid],
    )
    known: dict[str, Any] | None = json.loads(found) if found else None
    return known
