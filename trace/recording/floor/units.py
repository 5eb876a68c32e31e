"""Reads, in one statement, how the units, carriers, moulds and plates stand that a scan is about."""

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from django.db import connection

from trace.genealogy.live import BOOKED_AT, LIVE_NOW, came_out, held_name, hull_of_plate, label_now
from trace.genealogy.made_as import MADE_AS, made_as
from trace.genealogy.mixes import materials_of, said_of
from trace.genealogy.prepared import fetch_json
from trace.readmodels.rows import moment
from trace.readmodels.unspread import under_unspread

# The hold on what a conditional release made: it may be used, finished and packed, and does not leave.
AT_GATE = "GATE-CONDITIONAL"

# A hold that is over, or released for this unit, stops nothing, though a job may still have to take its rows away.
STANDING = """NOT EXISTS (SELECT FROM hold_release hr
                     WHERE hr.hold = uh.hold AND (hr.unit IS NULL OR hr.unit = uh.unit))"""
# Of things of the plant, and of labels that counted when they were looked up.
THINGS = """
  'instruments', (SELECT json_agg(i) FROM instrument_state i WHERE i.instrument = ANY (%(resources)s::bigint[])),
  'dead', (SELECT json_agg(code) FROM label_state WHERE code = ANY (%(labels)s::text[]))"""
OF_THINGS = f"SELECT json_build_object({THINGS})::text"
# What codes of each kind lead to: which units, and what is to be known besides. That a subquery stands in a statement
# costs, whether or not it finds a row: what no code of a scan leads to is not asked.
LEAD_TO = {
    "carriers": (
        "SELECT content FROM carrier_state WHERE carrier = ANY (%(carriers)s::bigint[])",
        f"""(SELECT json_agg(json_build_object('id', c.id, 'uid', c.uid, 'kind', c.kind, 'content', s.content,
       'order', s."order", 'layer', s.layer,
       'changed', (SELECT max(COALESCE(until, since)) FROM carrier_log l WHERE l.carrier = c.id),
       'counted', (SELECT max({BOOKED_AT}) FROM difference d JOIN event v ON v.id = d.event
                    WHERE d.unit = s.content AND d.cause = 'counted')))
     FROM carrier c JOIN carrier_state s ON s.carrier = c.id WHERE c.id = ANY (%(carriers)s::bigint[]))""",
    ),
    "moulds": (
        """SELECT load FROM mould_state WHERE mould = ANY (%(moulds)s::bigint[])
  UNION SELECT u.id FROM unit_state s JOIN unit u ON u.id = s.unit
         WHERE s.status = 'to bind' AND u.about->>'mould' = ANY (%(mould_keys)s::text[])""",
        """(SELECT json_agg(to_jsonb(m) || jsonb_build_object('cycle_uid', (SELECT uid FROM cycle WHERE id = m.cycle),
       'cycle_number', (SELECT number FROM cycle WHERE id = m.cycle)))
     FROM mould_state m WHERE m.mould = ANY (%(moulds)s::bigint[]))""",
    ),
    "serials": (
        f"""SELECT {hull_of_plate('s', 'st')} FROM serial s JOIN serial_state st ON st.text = s.text
   WHERE s.text = ANY (%(serials)s::text[])
  UNION SELECT plate FROM serial WHERE text = ANY (%(serials)s::text[])""",
        f"""(SELECT json_agg(json_build_object('text', s.text, 'plate', s.plate, 'product', s.product,
       'month', s.month, 'format', s.format, 'standing', st.standing,
       'hull', {hull_of_plate('s', 'st')},
       'replaced_by', CASE WHEN st.standing = 'replaced' THEN
          (SELECT x.text FROM serial_state x WHERE x.hull = {hull_of_plate('s', 'st')}) END))
     FROM serial s JOIN serial_state st ON st.text = s.text WHERE s.text = ANY (%(serials)s::text[]))""",
    ),
}
UNITS = f"""(
     SELECT json_agg(json_build_object(
       'id', u.id, 'uid', u.uid, 'kind', u.kind, 'lot_no', u.lot_no, 'amount', u.amount, 'uom', u.uom,
       'about', {MADE_AS}, 'status', s.status, 'balance', s.balance, 'back_at', s.back_at,
       'made', (SELECT happened FROM event WHERE id = u.event),
       'gained', (SELECT sum(amount) FROM difference d WHERE d.unit = u.id AND d.cause = 'fill difference'),
       'counted_out', s.balance <= 0 AND (SELECT d.cause = 'counted' FROM difference d JOIN event v ON v.id = d.event
                                         WHERE d.unit = u.id ORDER BY {BOOKED_AT} DESC, d.id DESC LIMIT 1),
       'childless', NOT EXISTS (SELECT FROM edge e WHERE e.parent = u.id), 'overdrawn', s.overdrawn, 'opened', s.opened,
       'carrier', (SELECT uid FROM carrier WHERE id = u.carrier),
       'place', (SELECT place FROM place_now WHERE unit = u.id),
       'serial', (SELECT text FROM serial_state WHERE hull = u.id),
       'code', {label_now('l.unit = u.id OR l.carrier = u.carrier')},
       'gaps', (SELECT json_agg(json_build_array(what, which)) FROM gap WHERE unit = u.id),
       'holds', (SELECT json_agg(json_build_object('uid', h.uid, 'rule', h.rule, 'on', h.unit,
                    'of', {held_name('hu')},
                    'why', e.why, 'person', e.person, 'happened', e.happened) ORDER BY h.id)
                   FROM unit_hold uh JOIN hold h ON h.id = uh.hold JOIN event e ON e.id = h.event
                       JOIN unit hu ON hu.id = h.unit
                  WHERE uh.unit = u.id AND {STANDING}),
       'inside', CASE WHEN u.kind IN ('load', 'pack', 'consignment', 'hull', 'charge', 'moulding', 'part') THEN (
          SELECT json_agg(json_build_object('role', e.role, 'layer', e.layer, 'position', e.position,
                    'amount', e.amount, 'id', p.id, 'uid', p.uid, 'kind', p.kind,
                    'about', {made_as('p')}, 'lot_no', p.lot_no, 'status', ps.status,
                    'serial', (SELECT text FROM serial_state WHERE hull = p.id),
                    'held', EXISTS (SELECT FROM unit_hold uh JOIN hold xh ON xh.id = uh.hold
                                     WHERE uh.unit = p.id AND xh.rule <> '{AT_GATE}' AND {STANDING}),
                    'at_gate', EXISTS (SELECT FROM unit_hold uh JOIN hold xh ON xh.id = uh.hold
                                        WHERE uh.unit = p.id AND xh.rule = '{AT_GATE}' AND {STANDING})) ORDER BY e.id)
            FROM edge e JOIN unit p ON p.id = e.parent JOIN unit_state ps ON ps.unit = p.id
           WHERE e.child = u.id AND {LIVE_NOW} AND NOT {came_out("e", "ps")}) END,
       'gone_into', (SELECT json_agg(json_build_object('role', e.role, 'kind', c.kind, 'uid', c.uid,
                    'code', {label_now('l.unit = c.id')}))
            FROM edge e JOIN unit c ON c.id = e.child
           WHERE e.parent = u.id AND e.role IN ('charge', 'bind', 'join', 'pack', 'ship', 'cavity', 'cut')
             AND {LIVE_NOW} AND NOT {came_out("e", "s")})))
     FROM target t JOIN unit u ON u.id = t.id JOIN unit_state s ON s.unit = u.id)
"""


@cache
def facts_sql(led: tuple[str, ...]) -> str:
    """Everything a handler may ask of the things scanned, in one statement, where codes of these kinds lead to them;
    read after the rows are locked."""
    targets = "".join(f"\n  UNION {LEAD_TO[kind][0]}" for kind in led)
    besides = "".join(f"\n  '{kind}', {LEAD_TO[kind][1]}," for kind in led)
    return f"""
WITH target AS (
  SELECT unnest(%(units)s::bigint[]) AS id{targets})
SELECT json_build_object({besides}
  'unspread', EXISTS (SELECT FROM job WHERE kind = 'spread hold' AND state <> 'done'),
  {THINGS},
  'units', {UNITS})::text
"""


@dataclass(frozen=True)
class UnitFacts:
    """A unit as it stands. Amounts in mg, pc or mm; holds, inside and gone_into are lists of plain dicts."""

    id: int
    uid: str
    kind: str
    lot_no: str | None
    amount: int | None
    uom: str | None
    about: dict[str, Any]
    status: str | None
    balance: int | None
    # When it came back last, None where it never did.
    back_at: datetime | None
    # When it was made, and what was found in it over the book.
    made: datetime
    gained: int
    # Nothing is in it, and that was counted, or follows from a count.
    counted_out: bool
    overdrawn: bool
    childless: bool
    opened: datetime | None
    carrier: str | None
    place: str | None
    serial: str | None
    code: str | None
    gaps: list[tuple[str, str]]
    holds: list[dict[str, Any]]
    # Holds that stop nothing but its leaving: its lot was released conditionally and is not confirmed yet.
    at_gate: list[dict[str, Any]]
    inside: list[dict[str, Any]]
    gone_into: list[dict[str, Any]]


NOTHING: dict[str, list[Any]] = {
    "units": [], "carriers": [], "moulds": [], "mould_keys": [], "serials": [], "resources": [], "labels": [],
}  # fmt: skip


def read_facts(**wanted: list[Any]) -> dict[str, Any]:
    """See facts_sql; where nothing but orders, scales and places is asked about, what these need and no more."""
    asked = NOTHING | wanted
    facts: dict[str, Any] = {"units": [], "carriers": [], "moulds": [], "serials": [], "unspread": False}
    led = tuple(kind for kind in LEAD_TO if asked[kind])
    if led or asked["units"]:
        facts |= fetch_json(facts_sql(led), asked)
    else:
        facts |= fetch_json(OF_THINGS, {name: asked[name] for name in ("resources", "labels")})
    if facts["unspread"]:
        _add_unspread(facts["units"] or [])
    return facts


def read_units(uids: list[str]) -> dict[str, UnitFacts]:
    """The facts of units known by uid, as they stand now."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT id FROM unit WHERE uid = ANY (%s::uuid[])", [uids])
        ids = [id_ for (id_,) in cursor.fetchall()]
    return {row["uid"]: unit_facts(row) for row in read_facts(units=ids)["units"] or []}


def labels_of(carriers: set[str]) -> dict[str, str]:
    """The label that is on each of these carriers (by uid) now."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT c.uid::text, {label_now('l.carrier = c.id')} FROM carrier c WHERE c.uid = ANY (%s::uuid[])",
            [sorted(carriers)],
        )
        return {uid: code for uid, code in cursor.fetchall() if code is not None}


def _add_unspread(rows: list[dict[str, Any]]) -> None:
    """While a hold's reach waits for its job, walk back from everything about to be used."""
    under = under_unspread({row["id"] for row in rows} | set(_ids_inside(rows)))
    for row in rows:
        if row["id"] in under and not row["holds"]:
            row["holds"] = [
                {
                    "uid": "",
                    "rule": "hold",
                    "on": 0,
                    "of": "",
                    "why": None,
                    "person": "",
                    "happened": None,
                    "spreading": True,
                }
            ]
        for inner in row["inside"] or []:
            inner["held"] = inner["held"] or inner["id"] in under


def _ids_inside(rows: list[dict[str, Any]]) -> list[int]:
    return [inner["id"] for row in rows for inner in row["inside"] or []]


def _as_drawn(row: dict[str, Any]) -> dict[str, Any]:
    """Material and lot of a charge are those of what it came out of, as that is known now: its own words are of the
    moment at which it was weighed."""
    drawn = [p for p in row["inside"] or [] if p["role"] in ("draw", "heel")]
    if row["kind"] != "charge" or not drawn:
        return {}
    mix = said_of(m for p in drawn for m in materials_of(p["about"]))
    lots = {(p["about"].get("lot"), p["lot_no"]) for p in drawn}
    known = len(lots) == 1 and not any(what == "source" for what, _ in row["gaps"] or [])
    lot, lot_no = lots.pop() if known else (None, None)
    about = {**row["about"], "materials": None, **mix, "lot": lot}
    return {"about": {k: v for k, v in about.items() if v is not None}, "lot_no": lot_no}


def unit_facts(row: dict[str, Any]) -> UnitFacts:
    return UnitFacts(
        **{
            **row,
            **_as_drawn(row),
            "opened": moment(row["opened"]) if row["opened"] else None,
            "back_at": moment(row["back_at"]) if row["back_at"] else None,
            "made": moment(row["made"]),
            "gained": row["gained"] or 0,
            "counted_out": bool(row["counted_out"]),
            "gaps": [(what, which) for what, which in row["gaps"] or []],
            "holds": [h for h in row["holds"] or [] if h["rule"] != AT_GATE],
            "at_gate": [h for h in row["holds"] or [] if h["rule"] == AT_GATE],
            "inside": row["inside"] or [],
            "gone_into": row["gone_into"] or [],
        }
    )
