"""Reads what the scanned codes stand for, locks it, and tells what holds there now."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import connection

from trace.codes import CodeError, parse_label_code, parse_scan, shown
from trace.genealogy.prepared import fetch_json
from trace.readmodels.holds import under_unspread
from trace.readmodels.plantdata import Directory, Thing
from trace.readmodels.rows import moment
from trace.recording.changes import Changes
from trace.recording.commands import By, Command

RESOLVE = """
SELECT COALESCE(json_agg(to_jsonb(r)), '[]')::text FROM (
SELECT 'label' AS how, l.code, l.carrier, l.unit, l.resource, s.code IS NOT NULL AS dead, s.replaced_by
  FROM label l LEFT JOIN label_state s ON s.code = l.code WHERE l.code = ANY (%(codes)s::text[])
UNION ALL SELECT 'serial', text, NULL, plate, NULL, FALSE, NULL FROM serial WHERE text = ANY (%(texts)s::text[])
UNION ALL SELECT 'number', lot_no, NULL, id, NULL, FALSE, NULL FROM unit
 WHERE kind IN ('moulding', 'part', 'lot') AND lot_no = ANY (%(texts)s::text[])) AS r
"""

# Everything a handler may ask of the things scanned, in one statement; read after the rows are locked.
FACTS = """
WITH target AS (
  SELECT unnest(%(units)s::bigint[]) AS id
  UNION SELECT content FROM carrier_state WHERE carrier = ANY (%(carriers)s::bigint[])
  UNION SELECT load FROM mould_state WHERE mould = ANY (%(moulds)s::bigint[])
  UNION SELECT hull FROM serial_state WHERE text = ANY (%(serials)s::text[])
  UNION SELECT plate FROM serial WHERE text = ANY (%(serials)s::text[])
  UNION SELECT u.id FROM unit_state s JOIN unit u ON u.id = s.unit
         WHERE s.status = 'to bind' AND u.about->>'mould' = ANY (%(mould_keys)s::text[])
)
SELECT json_build_object(
  'carriers', (SELECT json_agg(json_build_object('id', c.id, 'uid', c.uid, 'kind', c.kind, 'content', s.content,
       'order', s."order", 'layer', s.layer,
       'changed', (SELECT max(COALESCE(until, since)) FROM carrier_log l WHERE l.carrier = c.id)))
     FROM carrier c JOIN carrier_state s ON s.carrier = c.id WHERE c.id = ANY (%(carriers)s::bigint[])),
  'moulds', (SELECT json_agg(to_jsonb(m) || jsonb_build_object('cycle_uid', (SELECT uid FROM cycle WHERE id = m.cycle),
       'cycle_number', (SELECT number FROM cycle WHERE id = m.cycle)))
     FROM mould_state m WHERE m.mould = ANY (%(moulds)s::bigint[])),
  'serials', (SELECT json_agg(json_build_object('text', s.text, 'plate', s.plate, 'product', s.product,
       'month', s.month, 'format', s.format, 'standing', st.standing, 'hull', st.hull))
     FROM serial s JOIN serial_state st ON st.text = s.text WHERE s.text = ANY (%(serials)s::text[])),
  'unspread', EXISTS (SELECT FROM job WHERE kind = 'spread hold' AND state <> 'done'),
  'instruments', (SELECT json_agg(i) FROM instrument_state i WHERE i.instrument = ANY (%(resources)s::bigint[])),
  'units', (SELECT json_agg(json_build_object(
       'id', u.id, 'uid', u.uid, 'kind', u.kind, 'lot_no', u.lot_no, 'amount', u.amount, 'uom', u.uom,
       'about', u.about, 'status', s.status, 'balance', s.balance,
       'made', (SELECT happened FROM event WHERE id = u.event),
       'gained', (SELECT sum(amount) FROM difference d WHERE d.unit = u.id AND d.cause = 'fill difference'),
       'childless', NOT EXISTS (SELECT FROM edge e WHERE e.parent = u.id), 'overdrawn', s.overdrawn, 'opened', s.opened,
       'carrier', (SELECT uid FROM carrier WHERE id = u.carrier),
       'place', (SELECT place FROM place_now WHERE unit = u.id),
       'serial', (SELECT text FROM serial_state WHERE hull = u.id),
       'code', (SELECT code FROM label WHERE label.unit = u.id OR label.carrier = u.carrier LIMIT 1),
       'gaps', (SELECT json_agg(json_build_array(what, which)) FROM gap WHERE unit = u.id),
       'holds', (SELECT json_agg(json_build_object('uid', h.uid, 'rule', h.rule, 'on', h.unit,
                    'why', e.why, 'person', e.person, 'happened', e.happened) ORDER BY h.id)
                   FROM unit_hold uh JOIN hold h ON h.id = uh.hold JOIN event e ON e.id = h.event
                  WHERE uh.unit = u.id),
       'inside', CASE WHEN u.kind IN ('load', 'pack', 'consignment', 'hull', 'charge', 'moulding', 'part') THEN (
          SELECT json_agg(json_build_object('role', e.role, 'layer', e.layer, 'position', e.position,
                    'amount', e.amount, 'id', p.id, 'uid', p.uid, 'kind', p.kind, 'about', p.about, 'lot_no', p.lot_no,
                    'status', ps.status, 'serial', (SELECT text FROM serial_state WHERE hull = p.id),
                    'held', EXISTS (SELECT FROM unit_hold x WHERE x.unit = p.id)) ORDER BY e.id)
            FROM edge e JOIN unit p ON p.id = e.parent JOIN unit_state ps ON ps.unit = p.id
           WHERE e.child = u.id AND NOT e.aside AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id)) END,
       'gone_into', (SELECT json_agg(json_build_object('role', e.role, 'kind', c.kind, 'uid', c.uid,
                    'code', (SELECT code FROM label WHERE label.unit = c.id LIMIT 1)))
            FROM edge e JOIN unit c ON c.id = e.child
           WHERE e.parent = u.id AND e.role IN ('charge', 'bind', 'join', 'pack', 'ship', 'cavity', 'cut') AND NOT e.aside
             AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id)))) 
     FROM target t JOIN unit u ON u.id = t.id JOIN unit_state s ON s.unit = u.id))::text
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
    # When it was made, and what was found in it over the book.
    made: datetime
    gained: int
    overdrawn: bool
    childless: bool
    opened: datetime | None
    carrier: str | None
    place: str | None
    serial: str | None
    code: str | None
    gaps: list[tuple[str, str]]
    holds: list[dict[str, Any]]
    inside: list[dict[str, Any]]
    gone_into: list[dict[str, Any]]


@dataclass(frozen=True)
class Found:
    """What one scanned code stands for. `kinds` is empty when nothing is known under it."""

    text: str
    code: str
    kinds: frozenset[str] = frozenset()
    carrier: str | None = None
    unit: UnitFacts | None = None
    thing: Thing | None = None
    order: str | None = None
    layer: str | None = None
    serial: dict[str, Any] | None = None
    hull: UnitFacts | None = None
    mould: dict[str, Any] | None = None
    load: UnitFacts | None = None
    waiting: tuple[UnitFacts, ...] = ()
    checked: dict[str, Any] | None = None
    # When the carrier was last filled or emptied; late: `unit` is what was in it when the act happened.
    changed: datetime | None = None
    late: bool = False
    dead: bool = False
    replaced_by: str | None = None
    trouble: str = ""

    @property
    def key(self) -> str:
        return self.thing.key if self.thing else ""

    @property
    def body(self) -> dict[str, Any]:
        return self.thing.body if self.thing else {}


@dataclass
class Floor:
    """What a handler sees: the things scanned, the plant data, who and when."""

    by: By
    plant: Directory
    happened: datetime
    now: datetime
    found: dict[str, Found] = field(default_factory=dict)
    # What a late fact or a correction changes in carriers; replayed once the handler is done.
    changes: Changes = field(default_factory=Changes)

    def __getitem__(self, code: str) -> Found:
        return self.found.get(code.strip(), Found(code, code))

    def list(self, codes: tuple[str, ...]) -> list[Found]:
        """What these codes stand for, each thing once however often and in whatever form it was scanned."""
        found = {self[c].code: self[c] for c in codes}
        return list(found.values())

    def locked(self, waiting: bool) -> set[str]:
        """Uids of the units whose rows this scan has locked."""
        units = [u for f in self.found.values() for u in (f.unit, f.load, f.hull) if u]
        units += [u for f in self.found.values() if waiting for u in f.waiting]
        return {u.uid for u in units}

    def childless(self) -> set[str]:
        """Uids of units scanned here that have gone into nothing yet."""
        units = [u for f in self.found.values() for u in (f.unit, f.load, f.hull, *f.waiting) if u]
        return {u.uid for u in units if u.childless}


@dataclass
class Sought:
    """Where each code points, before anything is locked."""

    texts: dict[str, str] = field(default_factory=dict)
    trouble: dict[str, str] = field(default_factory=dict)
    label: dict[str, dict[str, Any]] = field(default_factory=dict)
    serials: list[str] = field(default_factory=list)
    numbers: dict[str, int] = field(default_factory=dict)
    things: dict[str, Thing] = field(default_factory=dict)

    def ids(self, what: str) -> list[int]:
        every = {row[what] for row in self.label.values() if row[what] is not None}
        return sorted(every | (set(self.numbers.values()) if what == "unit" else set()))


def seek(command: Command, plant: Directory) -> Sought:
    """Read the codes' text and look up what they are bound to. One statement; locks nothing."""
    sought = Sought()
    several: set[str] = set()
    wanted = {str(code).strip(): kinds for _, code, kinds in command.codes()}
    prefixes = [str(p.body.get("hull_number", {}).get("prefix", "")) for p in plant.of_kind("product")]
    for text, kinds in wanted.items():
        if any(_thing_kinds(t) & set(kinds) for t in plant.find(text)):
            sought.texts[text] = text.upper()
            continue
        try:
            sought.texts[text] = parse_scan(text, prefixes).text
        except CodeError as error:
            sought.trouble[text] = str(error)
    if sought.texts:
        every = sorted(set(sought.texts.values()))
        for row in fetch_json(RESOLVE, {"codes": every, "texts": every}):
            if row["how"] == "label":
                sought.label[row["code"]] = row
            elif row["how"] == "serial":
                sought.serials.append(row["code"])
            elif sought.numbers.setdefault(row["code"], row["unit"]) != row["unit"]:
                several.add(row["code"])
    for text, code in sought.texts.items():
        if code in several:
            sought.trouble[text] = f"{shown(code)} is the number of several lots: scan a label of the one that is meant."
    by_resource = {t.resource: t for t in plant.things.values()} if sought.ids("resource") else {}
    for text, code in sought.texts.items():
        row = sought.label.get(code)
        if row and row["resource"] in by_resource:
            sought.things[code] = by_resource[row["resource"]]
        elif not row and code not in sought.serials and code not in sought.numbers:
            named = [t for t in plant.find(text) if _thing_kinds(t) & set(wanted[text])]
            if named:
                sought.things[code] = named[0]
    return sought


def _thing_kinds(thing: Thing) -> frozenset[str]:
    return frozenset({thing.kind, str(thing.body.get("kind", thing.kind))})


def lock(sought: Sought) -> datetime:
    """Lock the read-model rows behind the codes in the fixed order; the server's clock once they are held."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT lock_rows(%s::bigint[], %s::bigint[], %s::text[], %s::bigint[])",
            [
                sought.ids("carrier"),
                sorted(t.resource for t in sought.things.values() if t.kind == "mould"),
                sorted(sought.serials),
                sought.ids("unit"),
            ],
        )
        now: datetime = cursor.fetchone()[0]
        return now


def lock_waiting(found: dict[str, Found]) -> bool:
    """Lock the mouldings that wait at the moulds scanned; False when there are none and nothing has to be read anew."""
    waiting = sorted({unit.id for one in found.values() for unit in one.waiting})
    if waiting:
        with connection.cursor() as cursor:
            cursor.execute("SELECT lock_rows('{}', '{}', '{}', %s::bigint[])", [waiting])
    return bool(waiting)


def lock_more(uids: set[str]) -> None:
    """Lock, in their order, further units whose state is about to be written (a lot's containers, a pack's hulls)."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT 1 FROM unit_state WHERE unit IN (SELECT id FROM unit WHERE uid = ANY (%s::uuid[]))
                ORDER BY unit FOR UPDATE""",
            [sorted(uids)],
        )


def read(sought: Sought) -> dict[str, Found]:
    """What each scanned text stands for now."""
    moulds = [t for t in sought.things.values() if t.kind == "mould"]
    facts = _read_facts(
        units=sought.ids("unit"),
        carriers=sought.ids("carrier"),
        moulds=[t.resource for t in moulds],
        mould_keys=[t.key for t in moulds],
        serials=sought.serials,
        resources=[t.resource for t in sought.things.values()],
    )
    units = {row["id"]: _unit_facts(row) for row in facts["units"] or []}
    carriers = {row["id"]: row for row in facts["carriers"] or []}
    mould_states = {row["mould"]: row for row in facts["moulds"] or []}
    serials = {row["text"]: row for row in facts["serials"] or []}
    checks = {row["instrument"]: row for row in facts["instruments"] or []}
    found: dict[str, Found] = {}
    for text, code in sought.texts.items():
        found[text] = _found(text, code, sought, units, carriers, mould_states, serials, checks)
    for text, trouble in sought.trouble.items():
        found[text] = Found(text, text, trouble=trouble)
    return found


def _read_facts(**wanted: list[Any]) -> dict[str, Any]:
    nothing: dict[str, list[Any]] = {
        "units": [], "carriers": [], "moulds": [], "mould_keys": [], "serials": [], "resources": [],
    }  # fmt: skip
    facts: dict[str, Any] = fetch_json(FACTS, nothing | wanted)
    if facts["unspread"]:
        _add_unspread(facts["units"] or [])
    return facts


def read_units(uids: list[str]) -> dict[str, UnitFacts]:
    """The facts of units known by uid, as they stand now."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT id FROM unit WHERE uid = ANY (%s::uuid[])", [uids])
        ids = [id_ for (id_,) in cursor.fetchall()]
    return {row["uid"]: _unit_facts(row) for row in _read_facts(units=ids)["units"] or []}


def _found(
    text: str,
    code: str,
    sought: Sought,
    units: dict[int, UnitFacts],
    carriers: dict[int, dict[str, Any]],
    mould_states: dict[int, dict[str, Any]],
    serials: dict[str, dict[str, Any]],
    checks: dict[int, dict[str, Any]],
) -> Found:
    row = sought.label.get(code)
    if row and row["carrier"] is not None:
        carrier = carriers[row["carrier"]]
        return Found(
            text, code, frozenset({carrier["kind"]}), carrier["uid"], units.get(carrier["content"] or 0),
            order=carrier["order"], layer=carrier["layer"], dead=row["dead"], replaced_by=row["replaced_by"],
            changed=moment(carrier["changed"]) if carrier["changed"] else None,
        )  # fmt: skip
    if row and row["unit"] is not None:
        unit = units[row["unit"]]
        return Found(
            text, code, frozenset({unit.kind}), unit=unit, dead=row["dead"], replaced_by=row["replaced_by"]
        )
    if code in serials:
        serial = serials[code]
        hull = units.get(serial["hull"] or 0)
        kinds = frozenset({"plate", "hull"} if hull else {"plate"})
        return Found(text, code, kinds, unit=hull or units.get(serial["plate"]), serial=serial, hull=hull)
    if code in sought.numbers:
        unit = units[sought.numbers[code]]
        return Found(text, code, frozenset({unit.kind}), unit=unit)
    thing = sought.things.get(code)
    if thing is None:
        return Found(text, code)
    state = mould_states.get(thing.resource)
    return Found(
        text, code, _thing_kinds(thing), thing=thing, mould=state,
        load=units.get(state["load"] or 0) if state else None,
        waiting=tuple(
            sorted(
                (u for u in units.values() if u.status == "to bind" and u.about.get("mould") == thing.key),
                key=lambda u: u.id,
            )
        ),
        checked=checks.get(thing.resource),
    )  # fmt: skip


def _add_unspread(rows: list[dict[str, Any]]) -> None:
    """While a hold's reach waits for its job, walk back from everything about to be used."""
    under = under_unspread([row["id"] for row in rows])
    inside = under_unspread(_ids_inside(rows))
    for row in rows:
        if row["id"] in under and not row["holds"]:
            row["holds"] = [
                {
                    "uid": "",
                    "rule": "hold",
                    "on": 0,
                    "why": None,
                    "person": "",
                    "happened": None,
                    "spreading": True,
                }
            ]
        for inner in row["inside"] or []:
            inner["held"] = inner["held"] or inner["id"] in inside


def _ids_inside(rows: list[dict[str, Any]]) -> list[int]:
    return [inner["id"] for row in rows for inner in row["inside"] or []]


def _unit_facts(row: dict[str, Any]) -> UnitFacts:
    return UnitFacts(
        **{
            **row,
            "opened": moment(row["opened"]) if row["opened"] else None,
            "made": moment(row["made"]),
            "gained": row["gained"] or 0,
            "gaps": [(what, which) for what, which in row["gaps"] or []],
            "holds": row["holds"] or [],
            "inside": row["inside"] or [],
            "gone_into": row["gone_into"] or [],
        }
    )


def label_text(code: str) -> str:
    """XXXX-XXXX for one of our labels, the text itself for anything else."""
    try:
        return parse_label_code(code).printed
    except CodeError:
        return code
