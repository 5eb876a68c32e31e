"""The only fetchers for a person or a device at the floor: what a code stands for, and what a station lists.

Everything here reads. Amounts are whole milligrams or pieces as in the tables; times are aware.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import connection

from trace.genealogy.live import LIVE_NOW, came_out, label_now, person_name
from trace.genealogy.made_as import MADE_AS
from trace.genealogy.prepared import fetch_json
from trace.models import Installation
from trace.readmodels.plantdata import Directory, Thing, newest
from trace.readmodels.rows import moment
from trace.recording.answers import Answer
from trace.recording.commands import Command, scanned_list
from trace.recording.floor import standing as floors
from trace.recording.floor.standing import Found, Known, StaleError

# Kinds that a key may be typed for where a station asks for something else. People come by their badge only.
TYPED = (
    "works_order", "sales_order", "mould", "oven", "arm", "scale", "gauge", "logger", "thermometer", "place",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _Look(Command):
    """Never recorded: the codes to be looked up."""

    KIND = "looked"

    texts: tuple[str, ...] = scanned_list()
    kinds: tuple[str, ...] = TYPED

    def codes(self) -> list[tuple[str, str, tuple[str, ...]]]:
        return [("texts", text, self.kinds) for text in self.texts]


def plant_now() -> Directory:
    """The plant data as it stands; one statement when nothing changed."""
    return newest()


def look(
    texts: Iterable[str], plant: Directory, kinds: Iterable[str] = (), known: Known | None = None
) -> dict[str, Found]:
    """What each text stands for now, by the text as given; locks nothing.

    Two statements, four where a key was typed for another kind; one less where all codes are `known`.

    A typed key is read as one of `kinds` first, then as any kind of thing that has a key.
    """
    wanted = tuple(dict.fromkeys(text for text in texts if text.strip()))
    if not wanted:
        return {}
    named = tuple(dict.fromkeys(kinds))
    found = _read(_Look(texts=wanted, kinds=named or TYPED), plant, known)
    others = [text for text, one in found.items() if named and not one.kinds and plant.find(text)]
    if others:
        found |= _read(_Look(texts=tuple(others)), plant, known)
    return {text: found.get(text.strip(), Found(text, text)) for text in wanted}


def _read(command: Command, plant: Directory, known: Known | None) -> dict[str, Found]:
    try:
        return floors.read(floors.seek(command, plant, known))
    except StaleError:
        return floors.read(floors.seek(command, plant))


AS_JSON = "SELECT COALESCE(json_agg(x), '[]')::text FROM ({}) x"


def _rows(sql: str, parameters: Mapping[str, Any]) -> list[dict[str, Any]]:
    with connection.cursor() as cursor:
        cursor.execute(AS_JSON.format(sql), parameters)
        found: list[dict[str, Any]] = json.loads(cursor.fetchone()[0])
        return found


@dataclass(frozen=True)
class Done:
    """One thing that was done: what (an edge's role, a status, a stage), its layer or position, by whom, when."""

    what: str
    where: str
    person: str
    when: datetime
    material: str = ""
    lot_no: str = ""
    amount: int | None = None
    uom: str = ""
    code: str = ""
    seen: bool = True  # a stage: whether it was seen


def _done(row: Mapping[str, Any]) -> Done:
    return Done(
        row["what"], row.get("where") or "", row["person"] or "", moment(row["when"]),
        row.get("material") or "", row.get("lot_no") or "", row.get("amount"), row.get("uom") or "",
        row.get("code") or "", row.get("seen", True),
    )  # fmt: skip


def put_into(load: int) -> list[Done]:
    """What went into a load (charges, inserts, graphics), oldest first, after the record that made it ready."""
    return [
        _done(row)
        for row in _rows(
            f"""SELECT 'ready' AS what, NULL AS "where", v.person, v.happened AS when, NULL AS material,
                      NULL AS lot_no, NULL::bigint AS amount, NULL AS uom, NULL AS code, 0 AS n
                 FROM unit u JOIN event v ON v.id = u.event WHERE u.id = %(load)s
               UNION ALL SELECT e.role, COALESCE(e.layer, e.position), v.person, v.happened, p.about->>'material',
                      p.lot_no, e.amount, e.uom,
                      {label_now("l.carrier = p.carrier")}, e.id
                 FROM edge e JOIN event v ON v.id = e.event JOIN unit p ON p.id = e.parent
                WHERE e.child = %(load)s AND {LIVE_NOW}
               ORDER BY n""",
            {"load": load},
        )
    ]


@dataclass(frozen=True)
class Weighed:
    """The charges of one layer that stand weighed, or part weighed, for an order and are in no mould yet."""

    layer: str
    count: int
    whole: int  # how many of them are weighed to the end
    begun: int | None  # the oldest that is part weighed, by its place in the order of making
    newest: Done
    who: str  # the name of who weighed the newest


# Asked at every weighing, so that its plan is kept; statuses first, since most charges ever made are in hulls.
WEIGHED_AHEAD = f"""
WITH stand AS MATERIALIZED (SELECT unit, status FROM unit_state WHERE status IN ('weighed', 'part weighed')),
 layers AS (SELECT u.about->>'layer' AS layer, count(*) AS count, count(*) FILTER (WHERE s.status = 'weighed') AS whole,
       min(u.id) FILTER (WHERE s.status = 'part weighed') AS begun, max(u.id) AS newest
  FROM stand s JOIN unit u ON u.id = s.unit WHERE u.kind = 'charge' AND u.about->>'order' = %(order)s::text GROUP BY 1)
SELECT json_build_object(
 'weighed', (SELECT json_agg(json_build_object('layer', y.layer, 'count', y.count, 'whole', y.whole, 'begun', y.begun,
       'newest', json_build_object('what', s.status, 'where', y.layer, 'person', v.person, 'when', v.happened,
         'material', u.about->>'material', 'lot_no', u.lot_no, 'amount', s.balance, 'uom', u.uom,
         'code', {label_now("l.carrier = u.carrier")}), 'who', {person_name("v.person")}))
   FROM layers y JOIN unit u ON u.id = y.newest JOIN unit_state s ON s.unit = u.id JOIN event v ON v.id = u.event),
 'in_open', (SELECT json_agg(json_build_array(m.load, e.layer))
   FROM mould_state m JOIN unit u ON u.id = m.load
   LEFT JOIN edge e ON e.child = m.load AND e.role = 'charge' AND {LIVE_NOW}
  WHERE m.stage = 'open' AND u.about->>'order' = %(order)s::text))::text
"""


def weighed_ahead(order: str) -> tuple[list[Weighed], list[tuple[int, str | None]]]:
    """What stands weighed for a works order, a row a layer; and (load, layer) for each layer that an open mould of the
    order has already, None where it has none."""
    found = fetch_json(WEIGHED_AHEAD, {"order": order})
    rows = [Weighed(**{**row, "newest": _done(row["newest"])}) for row in found["weighed"] or []]
    return rows, [(load, layer) for load, layer in found["in_open"] or []]


def history_of(unit: int, kinds: Iterable[str]) -> list[Done]:
    """Events of these kinds that touched a unit, oldest first: `what` is the kind, `where` a stage if one was said,
    `seen` whether it was."""
    return [
        _done(row)
        for row in _rows(
            """SELECT v.kind AS what, v.body::jsonb->'says'->>'stage' AS "where", v.person, v.happened AS when,
                      v.body::jsonb->'says'->'observed' IS DISTINCT FROM 'false'::jsonb AS seen
                 FROM event v WHERE v.kind = ANY (%(kinds)s)
                  AND v.id IN (SELECT event FROM event_unit WHERE unit = %(unit)s)
                ORDER BY v.happened, v.id LIMIT 60""",
            {"unit": unit, "kinds": list(kinds)},
        )
    ]


def drawn_from(carrier: str) -> list[dict[str, Any]]:
    """The last records that took something from a carrier: event uid, kind, layer or position, amount, person, when.

    What a late fact or a correction added again counts for the record that first said it.
    """
    return _rows(
        f"""WITH taken AS (
             SELECT e.* FROM carrier c JOIN unit p ON p.carrier = c.id JOIN edge e ON e.parent = p.id
              WHERE c.uid = %(carrier)s AND e.role NOT IN ('heel', 'receive') AND {LIVE_NOW}
              ORDER BY e.id DESC LIMIT 400)
           SELECT v.uid AS event, v.kind, v.person, v.happened AS when, min(COALESCE(t.layer, t.position)) AS "where",
                  sum(t.amount) AS amount, min(t.uom) AS uom
             FROM taken t JOIN event w ON w.id = t.event JOIN event v
               ON v.uid = COALESCE(w.body::jsonb #>> ARRAY['rows', 'edges', t.n::text, 'of'], w.uid::text)::uuid
            GROUP BY v.id ORDER BY v.happened DESC, v.id DESC LIMIT 12""",
        {"carrier": carrier},
    )


def said_of_itself(carrier: str) -> list[dict[str, Any]]:
    """The last records of a carrier itself, as of drawn_from: booked at goods-in, counted, proved empty; and what came
    out of it while it was empty by the book."""
    return _rows(
        f"""WITH said AS (
             SELECT v.id, NULL AS "where", e.amount, e.uom FROM carrier c JOIN unit u ON u.carrier = c.id
               JOIN edge e ON e.child = u.id AND e.role = 'receive' JOIN event w ON w.id = e.event JOIN event v
                 ON v.uid = COALESCE(w.body::jsonb #>> ARRAY['rows', 'edges', e.n::text, 'of'], w.uid::text)::uuid
              WHERE c.uid = %(carrier)s AND {LIVE_NOW}
             UNION
             SELECT v.id, NULL, NULL, NULL FROM carrier c JOIN unit u ON u.carrier = c.id
               JOIN event_unit x ON x.unit = u.id AND x.role IN ('counted', 'proved empty')
               JOIN event v ON v.id = x.event AND v.kind IN ('counted', 'proved_empty')
              WHERE c.uid = %(carrier)s
             UNION
             SELECT o.id, COALESCE(m->>'layer', m->>'position'), (m->>'amount')::bigint, m->>'uom'
               FROM gap g JOIN event v ON v.id = g.event,
                    LATERAL jsonb_array_elements(COALESCE(v.body::jsonb->'rows'->'missed', '[]')) AS m,
                    LATERAL (SELECT id FROM event WHERE uid = COALESCE(m->>'of', v.uid::text)::uuid) AS o
              WHERE g.what IN ('source', 'charge') AND m->>'carrier' = %(carrier)s)
           SELECT v.uid AS event, v.kind, v.person, v.happened AS when, s."where", s.amount, s.uom
             FROM said s JOIN event v ON v.id = s.id ORDER BY v.happened DESC, v.id DESC LIMIT 12""",
        {"carrier": carrier},
    )


def open_discrepancies(asked: str = "") -> list[dict[str, Any]]:
    """What a person must look at, the one asked for (event uid:n) first and then the 60 newest: event uid, n, kind; the
    unit's serial or number, its kind, label and the hulls packed in it; person and time."""
    return _rows(
        f"""SELECT v.uid AS event, d.n, d.kind, v.person, v.happened AS when, u.about->>'material' AS material,
                  COALESCE((SELECT text FROM serial_state WHERE hull = d.unit), u.lot_no) AS unit, u.kind AS thing,
                  {label_now("l.unit = d.unit")} AS code,
                  (SELECT string_agg(s.text, ', ' ORDER BY s.text) FROM edge e JOIN serial_state s ON s.hull = e.parent
                    WHERE e.child = d.unit AND e.role = 'pack') AS hulls
             FROM discrepancy d JOIN event v ON v.id = d.event LEFT JOIN unit u ON u.id = d.unit
            WHERE d.closed_by IS NULL
            ORDER BY concat(v.uid, ':', d.n) = %(asked)s DESC, d.event DESC, d.n LIMIT 60""",
        {"asked": asked},
    )


# So many units under a hold are looked through for a figure on a page; of a wider one the page says "at least".
MOST_COUNTED = 20_000


def stopped_by(hold: str) -> dict[str, Any] | None:
    """How many hulls in the plant, hulls gone out and mouldings without a plate an open hold is on now; `spreading`
    while its reach is still being walked, `units` of which are written; `more` when it is on more units than were
    counted. None when there is no such hold, or it is on nothing."""
    rows = _rows(
        """SELECT count(*) FILTER (WHERE u.kind = 'hull' AND COALESCE(p.place, '') NOT LIKE 'gone: %%') AS here,
                  count(*) FILTER (WHERE u.kind = 'hull' AND p.place LIKE 'gone: %%') AS gone,
                  count(*) FILTER (WHERE u.kind = 'moulding' AND s.status = 'to bind') AS unbound,
                  count(*) > %(most)s AS more,
                  (SELECT j.done FROM job j WHERE j.key = 'spread hold ' || %(hold)s AND j.state <> 'done') AS units,
                  EXISTS (SELECT FROM job j WHERE j.key = 'spread hold ' || %(hold)s AND j.state <> 'done') AS spreading
             FROM (SELECT x.unit FROM hold h JOIN unit_hold x ON x.hold = h.id
                    WHERE h.uid::text = %(hold)s LIMIT %(most)s + 1) x JOIN unit u ON u.id = x.unit
             JOIN unit_state s ON s.unit = u.id LEFT JOIN place_now p ON p.unit = u.id
            HAVING count(*) > 0""",
        {"hold": hold, "most": MOST_COUNTED},
    )
    return rows[0] if rows else None


def plates_standing(product: str, standing: Iterable[str]) -> list[str]:
    """Plates of a product that stand so (made, out, back), at most 60, in order."""
    rows = _rows(
        """SELECT s.text FROM serial s JOIN serial_state t ON t.text = s.text
            WHERE s.product = %(product)s AND t.standing = ANY (%(standing)s) ORDER BY s.text LIMIT 60""",
        {"product": product, "standing": list(standing)},
    )
    return [row["text"] for row in rows]


def free_hulls(product: str, colour: str) -> list[dict[str, Any]]:
    """Released hulls of a model and colour that no hold is on and no pack holds: serial and place; at most 3."""
    return _rows(
        f"""SELECT st.text AS serial, COALESCE(p.place, '') AS place
             FROM unit u JOIN unit_state s ON s.unit = u.id JOIN serial_state st ON st.hull = u.id
             LEFT JOIN place_now p ON p.unit = u.id
            WHERE u.kind = 'hull' AND s.status = 'released' AND u.about->>'product' = %(product)s
              AND {MADE_AS}->>'colour' = %(colour)s AND NOT EXISTS (SELECT FROM unit_hold h WHERE h.unit = u.id)
            ORDER BY s.status_at LIMIT 3""",
        {"product": product, "colour": colour},
    )


def packs_of(order: str) -> list[dict[str, Any]]:
    """Packs of a sales order: label, status, place, hulls in them, whether one is held, who packed and when; oldest
    first."""
    return _rows(
        f"""SELECT {label_now("l.unit = u.id")} AS code, s.status, COALESCE(p.place, '') AS place,
                  v.person, v.happened AS when,
                  (SELECT string_agg(st.text, ', ' ORDER BY st.text) FROM edge e JOIN serial_state st
                      ON st.hull = e.parent WHERE e.child = u.id AND e.role = 'pack') AS hulls,
                  EXISTS (SELECT FROM unit_hold h WHERE h.unit = u.id OR h.unit IN
                      (SELECT e.parent FROM edge e JOIN unit_state ps ON ps.unit = e.parent
                        WHERE e.child = u.id AND e.role = 'pack' AND NOT {came_out("e", "ps")})) AS held
             FROM unit u JOIN unit_state s ON s.unit = u.id JOIN event v ON v.id = u.event
             LEFT JOIN place_now p ON p.unit = u.id
            WHERE u.kind = 'pack' AND u.about->>'order' = %(order)s ORDER BY u.id LIMIT 60""",
        {"order": order},
    )


@dataclass(frozen=True, slots=True)
class OpenCook:
    """Something that cooks or cools now: the code to tell it by (a mould's key, a moulding's number, a plate)."""

    code: str
    name: str
    stage: str
    arm: str
    oven: str
    cycle: str


def open_cooks() -> list[OpenCook]:
    """What is in an oven or cools now, mould by mould, with mouldings that are cooked once more."""
    found = _rows(
        """WITH o AS (
             SELECT r.key AS code, m.stage, m.cycle, m.load AS unit FROM mould_state m
               JOIN resource r ON r.id = m.mould WHERE m.stage IN ('in oven', 'cooling') AND m.cycle IS NOT NULL
             UNION ALL
             SELECT COALESCE((SELECT text FROM serial_state WHERE hull = u.id), u.lot_no), s.status,
               (SELECT max(k.cycle) FROM cook k WHERE k.unit = s.unit), u.id
               FROM unit_state s JOIN unit u ON u.id = s.unit WHERE s.status IN ('in oven again', 'cooling again'))
           SELECT o.code, o.code AS name, o.stage, c.number AS cycle,
             COALESCE((SELECT r.key FROM event_resource x JOIN resource r ON r.id = x.resource
               WHERE x.event = c.event AND x.role = 'arm' LIMIT 1), '') AS arm,
             COALESCE((SELECT r.key FROM event_resource x JOIN resource r ON r.id = x.resource
               WHERE x.event = c.event AND x.role = 'oven' LIMIT 1), '') AS oven
             FROM o JOIN cycle c ON c.id = o.cycle ORDER BY o.code""",
        {},
    )
    return [OpenCook(**one) for one in found]


def carried_by(arms: Sequence[str]) -> dict[str, list[str]]:
    """The keys of the moulds that a load or a cook ties to each of these arms now; none where an arm is empty. The arm
    that went into the oven first comes first."""
    found = _rows(
        """SELECT m.arm, r.key FROM mould_state m JOIN resource r ON r.id = m.mould
           WHERE m.arm = ANY (%(arms)s) AND m.stage <> 'empty' ORDER BY m.cycle NULLS LAST, r.key""",
        {"arms": list(arms)},
    )
    in_turn = dict.fromkeys([*(row["arm"] for row in found), *arms])
    return {arm: [row["key"] for row in found if row["arm"] == arm] for arm in in_turn}


def answer_to(device: str, scan: UUID) -> Answer | None:
    """The first answer to what this device asked under a scan's id."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT answer FROM scan WHERE device = %s AND client_id = %s AND mode = 'asks'", [device, scan])
        row = cursor.fetchone()
    return Answer.again(row[0]) if row else None


def person_names(digests: Iterable[str]) -> dict[str, str]:
    """The words behind notes that hold names (people, consignees), by digest; "" where they were erased."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT digest, COALESCE(text, '') FROM note WHERE digest = ANY (%s)", [list(digests)])
        return dict(cursor.fetchall())


# What stands on a label, for every kind of thing that carries one.
CONTENTS = """
SELECT l.code, r.kind AS thing, r.key, c.kind AS carrier, u.kind AS unit, u.about AS unit_about,
       v.about, COALESCE(v.lot_no, u.lot_no) AS lot_no, COALESCE(s.balance, v.amount) AS amount, v.uom,
       x.code IS NOT NULL AS dead,
       (SELECT string_agg(st.text, ', ' ORDER BY st.text) FROM edge e JOIN serial_state st ON st.hull = e.parent
         WHERE e.child = u.id AND e.role = 'pack') AS hulls
  FROM label l LEFT JOIN resource r ON r.id = l.resource LEFT JOIN carrier c ON c.id = l.carrier
  LEFT JOIN carrier_state cs ON cs.carrier = l.carrier LEFT JOIN unit v ON v.id = cs.content
  LEFT JOIN unit_state s ON s.unit = v.id LEFT JOIN unit u ON u.id = l.unit
  LEFT JOIN label_state x ON x.code = l.code
 WHERE l.code = ANY (%(codes)s)
"""


def label_contents(codes: Iterable[str]) -> dict[str, dict[str, Any]]:
    """What each label that exists is stuck to and what is in it now, by code; see CONTENTS."""
    return {row["code"]: row for row in _rows(CONTENTS, {"codes": list(codes)})}


def label_of(thing: Thing) -> str:
    """The code of a thing's label, "" where it has none."""
    return labels_of_things([(thing.kind, thing.key)]).get(thing.key, "")


def labels_of_things(keys: Iterable[tuple[str, str]]) -> dict[str, str]:
    """The newest label that still counts of each (kind, key) that has one, by key."""
    pairs = list(keys)
    rows = _rows(
        """SELECT r.key, l.code FROM resource r JOIN label l ON l.resource = r.id
            WHERE (r.kind, r.key) IN (SELECT * FROM unnest(%(kinds)s::text[], %(keys)s::text[]))
              AND NOT EXISTS (SELECT FROM label_state x WHERE x.code = l.code) ORDER BY l.event""",
        {"kinds": [k for k, _ in pairs], "keys": [k for _, k in pairs]},
    )
    return {row["key"]: row["code"] for row in rows}


def is_demo() -> bool:
    """Whether this database is marked as a demo: people and things in it are invented."""
    return Installation.objects.filter(demo=True).exists()


# Labels that count, with what they are stuck to and what is in it now; empty bags, boxes and rolls are left out.
STANDING = """
SELECT l.code, r.kind AS thing, r.key, c.kind AS carrier, v.about->>'material' AS material, v.lot_no,
       COALESCE(s.balance, v.amount) AS amount, v.uom, s.status,
       EXISTS (SELECT FROM unit_hold h WHERE h.unit = v.id) AS held
  FROM label l LEFT JOIN resource r ON r.id = l.resource LEFT JOIN carrier c ON c.id = l.carrier
  LEFT JOIN carrier_state cs ON cs.carrier = l.carrier LEFT JOIN unit v ON v.id = cs.content
  LEFT JOIN unit_state s ON s.unit = v.id
 WHERE (r.kind = ANY (%(things)s) OR c.kind = ANY (%(carriers)s))
   AND NOT EXISTS (SELECT FROM label_state x WHERE x.code = l.code)
   AND (COALESCE(c.kind, '') NOT IN ('container', 'roll') OR COALESCE(s.balance, v.amount) > 0)
 ORDER BY r.kind, r.key, c.kind, v.about->>'material', v.lot_no, l.code LIMIT %(most)s
"""


MOST_LABELS = 400


def labels_standing(things: Iterable[str], carriers: Iterable[str] = ()) -> list[dict[str, Any]]:
    """Labels of these kinds of things and carriers, at most MOST_LABELS; see STANDING."""
    return _rows(STANDING, {"things": list(things), "carriers": list(carriers), "most": MOST_LABELS})
