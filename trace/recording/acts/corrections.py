"""Corrections: a new event beside the old one that withdraws edges and adds the right ones, with who and why."""

import json
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import AmountError, parse_amount, printed
from trace.genealogy.live import LIVE_NOW
from trace.genealogy.prepared import fetch_json
from trace.readmodels.rows import Rows, moment
from trace.recording.acts.draws import LARGEST_FILL
from trace.recording.acts.lot_corrections import booked_rightly, lot_trouble, right_lot, right_lot_facts
from trace.recording.acts.weighing import layer_of
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor import words as say
from trace.recording.floor.changes import ALL, Counted, Emptied, Took
from trace.recording.floor.sources import discrepancy_is_open, one
from trace.recording.floor.standing import Floor, Found
from trace.recording.floor.units import UnitFacts, read_units
from trace.recording.floor.weighed import checks_about, scale_of
from trace.recording.told_late.at_that_time import was_waiting
from trace.recording.told_late.contents import nth_empty
from trace.recording.told_late.history import OUT, THEN_EMPTY, Content, history_of, is_may

MEASURES = {"mg": "kilograms", "pc": "pieces", "mm": "metres"}
EDGES = f"""
SELECT COALESCE(json_agg(json_build_object('event', v.uid, 'n', e.n, 'child', c.uid, 'parent', p.uid, 'role', e.role,
   'layer', e.layer, 'position', e.position, 'amount', e.amount, 'uom', e.uom,
   'at', COALESCE((v.body::jsonb #>> ARRAY['rows', 'edges', e.n::text, 'at'])::timestamptz, v.happened),
   'of', s.of, 'unsure_ms', (SELECT w.unsure_ms FROM event w WHERE w.uid = s.of::uuid),
   'carrier', (SELECT uid FROM carrier WHERE id = p.carrier),
   'into', (SELECT uid FROM carrier WHERE id = c.carrier)) ORDER BY e.id), '[]')::text
  FROM edge e JOIN event v ON v.id = e.event JOIN unit c ON c.id = e.child JOIN unit p ON p.id = e.parent,
       LATERAL (SELECT COALESCE(v.body::jsonb #>> ARRAY['rows', 'edges', e.n::text, 'of'], v.uid::text) AS of) s
 WHERE {LIVE_NOW} AND
"""
# What an event said stands in its own edges, or in those that took their place when they were withdrawn. What came
# out of a carrier that was empty by the book has none, at first or by what was told later, and has one once something
# explains it: in the unit that it went into, or in one that was made anew in the place of that.
SAID_BY = """
e.id IN (WITH RECURSIVE said(edge) AS (
  SELECT s.id FROM edge s JOIN event w ON w.id = s.event WHERE w.uid = %(event)s::text::uuid
     AND COALESCE(w.body::jsonb #>> ARRAY['rows', 'edges', s.n::text, 'of'], %(event)s::text) = %(event)s::text
  UNION
  SELECT s.id FROM event w, LATERAL (
      SELECT unit AS id FROM event_unit WHERE event = w.id AND role = 'gap'
      UNION SELECT child FROM edge WHERE event = w.id) g
    JOIN unit x ON x.id = g.id JOIN unit y ON y.id = x.id OR (y.id > x.id AND y.carrier = x.carrier AND y.kind = x.kind)
    JOIN edge s ON s.child = y.id JOIN event o ON o.id = s.event
   WHERE w.uid = %(event)s::text::uuid AND o.body::jsonb #>> ARRAY['rows', 'edges', s.n::text, 'of'] = %(event)s::text
  UNION
  SELECT s.id FROM said JOIN edge_void x ON x.edge = said.edge JOIN edge s ON s.event = x.event
    JOIN event w ON w.id = s.event WHERE w.body::jsonb #>> ARRAY['rows', 'edges', s.n::text, 'of'] = %(event)s::text)
  SELECT edge FROM said)
"""


def _edges(where: str, parameters: dict[str, Any]) -> list[dict[str, Any]]:
    return _fetch(f"{EDGES} {where}", parameters)


def _fetch(sql: str, parameters: dict[str, Any]) -> list[dict[str, Any]]:
    return [{**edge, "at": moment(edge["at"])} for edge in fetch_json(sql, parameters)]


# Or it came out of a carrier that was empty by the book: then there is no edge, but an open gap.
MISSED = """
SELECT COALESCE(jsonb_agg(m.said || jsonb_build_object('event', v.uid, 'n', NULL, 'parent', NULL,
    'of', COALESCE(m.said->>'of', v.uid::text),
    'unsure_ms', (SELECT w.unsure_ms FROM event w WHERE w.uid = COALESCE(m.said->>'of', v.uid::text)::uuid),
    'at', COALESCE(m.said->>'at', v.body::jsonb->>'happened'))), '[]')::text
  FROM gap g JOIN event v ON v.id = g.event JOIN unit u ON u.id = g.unit,
       LATERAL jsonb_array_elements(COALESCE(v.body::jsonb->'rows'->'missed', '[]')) AS m(said)
 WHERE g.what IN ('source', 'charge') AND m.said->>'child' = u.uid::text
   AND g.which = COALESCE(m.said->>'layer', m.said->>'position', m.said->>'role')
   AND COALESCE(m.said->>'of', v.uid::text) = %(event)s::text
"""


def live_edges_into(child: str, roles: tuple[str, ...]) -> list[dict[str, Any]]:
    into = "c.uid = %(child)s::uuid AND e.role = ANY (%(roles)s::text[])"
    return _edges(into, {"child": child, "roles": list(roles)})


def live_edges_of(event: str) -> list[dict[str, Any]]:
    return _edges(SAID_BY, {"event": event}) + _fetch(MISSED, {"event": event})


# A count or a proving empty has no edge: what it said, or what it was put right to since.
SAID_OF = f"""
SELECT json_build_object('kind', v.kind, 'carrier', t.carrier, 'at', t.at, 'left', t.left)::text
  FROM event v, LATERAL (
    SELECT c->>'carrier' AS carrier, COALESCE(c->>'at', v.body::jsonb->>'happened') AS at, w.id,
           (c->>'left')::bigint AS left
      FROM event w, LATERAL jsonb_array_elements(
           w.body::jsonb->'rows'->CASE v.kind WHEN 'counted' THEN 'counts' ELSE 'empties' END) AS c
     WHERE (w.id = v.id OR w.kind = 'corrected') AND COALESCE(c->>'event', w.uid::text) = v.uid::text
    UNION ALL
    SELECT l->>'carrier', v.body::jsonb->>'happened', v.id, NULL
      FROM jsonb_array_elements(v.body::jsonb->'rows'->'logs') AS l
      WHERE v.kind = 'proved_empty' AND {THEN_EMPTY}
     ORDER BY 3 DESC LIMIT 1) t
 WHERE v.uid = %(event)s AND v.kind IN ('counted', 'proved_empty')
"""


@dataclass(frozen=True, kw_only=True)
class Correct(Command):
    """An earlier scan named the wrong source, the wrong amount, the wrong time or, at goods-in, the wrong lot.

    event: its uid. was: the source it named, or the container it counted, emptied or booked at goods-in; now: the right
    one ("" to withdraw it, leaving a gap that shows). amount: the right amount in kg or pieces, "" to keep it. at: when
    it really happened, as ISO text with its offset, "" to keep it. lot: the right lot number of a delivery, "" to keep
    it; of all containers that were booked with this one, or of this one alone (`only`). Edges of that event from `was`
    are withdrawn; the same edges from `now` are added. reason: kept as a note.
    """

    KIND = "corrected"
    NAME = noop("correct")
    ALONE = True

    event: str
    was: str = scanned("container", "vessel", "roll", "tub", "drop_box", "returnable")
    now: str = scanned("container", "vessel", "roll", "tub", "drop_box", "returnable", optional=True)
    amount: str = ""
    at: str = ""
    lot: str = ""
    only: bool = False
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        if e.says.get("lot"):
            return _("Put right: %(was)s was booked with the wrong lot number, it is lot %(lot)s. %(why)s") % {
                "was": printed(e.says["was"]), "lot": e.says["lot"].strip(), "why": e.why,
            }  # fmt: skip
        now = printed(e.says["now"]) if e.says.get("now") else _("no record")
        amount = _(", amount %(a)s") % {"a": e.says["amount"]} if e.says.get("amount") else ""
        amount += _(", time %(t)s") % {"t": e.says["at"]} if e.says.get("at") else ""
        return _("Put right: not %(was)s but %(now)s%(amount)s. %(why)s") % {
            "was": printed(e.says["was"]), "now": now, "amount": amount,
            "why": e.why,
        }  # fmt: skip


def said_of(c: Correct, floor: Floor) -> dict[str, Any] | None:
    """What the event counted or emptied, as {kind, carrier, at, left}, where it is of the carrier that was scanned."""
    try:
        found = one(SAID_OF, {"event": str(_uuid(c.event))})
    except ValueError:
        return None
    said: dict[str, Any] | None = json.loads(found) if found else None
    if said is None or not said["at"] or said["carrier"] != floor[c.was].carrier:
        return None
    return {**said, "at": moment(said["at"])}


def wrong_edges(c: Correct, floor: Floor) -> list[dict[str, Any]]:
    """The live edges of that event whose parent is or was a content of the carrier that was named wrongly, or by which
    that carrier was booked at goods-in."""
    carrier = floor[c.was].carrier
    try:
        edges = live_edges_of(str(_uuid(c.event)))
    except ValueError:
        return []
    edges = [e for e in edges if e["role"] != "heel" and not (is_may(e) and e["n"] is not None)]
    # Where nobody knew the source so far, there is none that could be named wrongly.
    return (
        [e for e in edges if e["carrier"] == carrier]
        or [e for e in edges if e["role"] == "receive" and e["into"] == carrier]
        or [e for e in edges if e["carrier"] is None and e["n"] is None]
    )


def meant_edges(c: Correct, floor: Floor) -> list[dict[str, Any]]:
    """The edges that are put right: where it is a delivery's lot, those of all containers booked with this one, unless
    this one alone is meant."""
    edges = wrong_edges(c, floor)
    if not c.lot.strip() or c.only or not any(edge["role"] == "receive" for edge in edges):
        return edges
    lots = {edge["parent"] for edge in edges}
    return [e for e in live_edges_of(str(_uuid(c.event))) if e["role"] == "receive" and e["parent"] in lots]


def _uuid(text: str) -> Any:
    from uuid import UUID

    return UUID(text)


def right_time(c: Correct, floor: Floor) -> datetime | None:
    """When it really happened, None where that stays; ValueError where it is no time that has come."""
    if not c.at.strip():
        return None
    at = datetime.fromisoformat(c.at.strip())
    if at.tzinfo is None:
        raise ValueError(c.at)
    if at > floor.now:
        raise ValueError(c.at)
    return at


def correct_facts(c: Correct, floor: Floor) -> Facts:
    said = said_of(c, floor)
    edges = [] if said else meant_edges(c, floor)
    at, trouble = None, _trouble(c, floor, edges, said)
    if not trouble:
        at = right_time(c, floor)
    right = floor[c.now].carrier if c.now else None
    drawn = [edge for edge in edges if edge["role"] != "receive"]
    stories = [(edge, history_of(right, at or edge["at"]).base) for edge in drawn] if right else []
    lot = right_lot_facts(edges, c.lot.strip()) if c.lot.strip() and edges and not trouble else {}
    same = bool(c.now) and floor[c.now].code == floor[c.was].code and not c.amount and not c.at
    return {
        "typed": {"trouble": trouble},
        "right": _right_facts(c, floor, [(edge, base) for edge, base in stories if base is not None], at) | lot,
        "scale": _scale_facts(c, edges, at),
        "correction": {
            "no_reason": not c.reason.strip(),
            "nothing": not edges and said is None,
            "same": same and lot.get("same_lot", not c.lot.strip()),
            "empty": any(base is None for _, base in stories),
            "was": floor[c.was].name,
        },
    }


def _trouble(c: Correct, floor: Floor, edges: list[dict[str, Any]], said: dict[str, Any] | None) -> str:
    """Why what was typed cannot be what is right, as a sentence; "" where it can."""
    unit = floor[c.was].unit
    uom = edges[0]["uom"] if edges else unit.uom if said and unit else "mg"
    alone = bool(c.now) and not c.amount and not c.at
    found = _unreadable(c, floor, uom or "mg") or _impossible(c, floor, edges, said)
    return found or (lot_trouble(edges, c.lot.strip(), alone=alone) if edges or said else "")


def _unreadable(c: Correct, floor: Floor, uom: str) -> str:
    try:
        if c.amount:
            parse_amount(c.amount, uom, LARGEST_FILL)
    except AmountError as error:
        return str(error)
    try:
        right_time(c, floor)
    except ValueError:
        return f"“{c.at[:30]}” is no time that has come: write day, time and offset, as in 2026-06-08T14:30+02:00."
    return ""


def _impossible(c: Correct, floor: Floor, edges: list[dict[str, Any]], said: dict[str, Any] | None) -> str:
    own = bool(said) or any(edge["role"] == "receive" for edge in edges)
    if own and c.now and floor[c.now].code != floor[c.was].code:
        return "A count, an emptying and a delivery are of the container itself: scan it again, or leave it blank."
    if c.amount and len(edges) > 1:
        return f"That record used it {len(edges)} times: an amount can be put right only where it was used once."
    if c.amount and any(edge["role"] == "charge" for edge in edges):
        return "A tub is tipped whole: put the weighing of its charge right instead."
    if c.amount and said and said["kind"] == "proved_empty":
        return "A vessel proved empty holds nothing: put its time right, or leave the container blank to withdraw it."
    return ""


def _layer_facts(named: list[tuple[dict[str, Any], Content]]) -> Facts:
    """The layers of the right tubs, beside those that the records of their tipping say."""
    tipped = [(edge["layer"], base.about.get("layer")) for edge, base in named if edge["role"] == "charge"]
    # Of a tub tipped with nothing in it no layer was said.
    tips = [(said, layer) for said, layer in tipped if said]
    return {
        "layer": " and ".join(sorted({str(layer) for _, layer in tips})),
        "said_layer": " and ".join(sorted({str(said) for said, _ in tips})),
        "other_layer": any(said != layer for said, layer in tips),
    }


def _material_facts(wanted: list[tuple[str | None, str | None]]) -> Facts:
    """Where the right source is of another material than belongs there; wanted: (what belongs there, what it is)."""
    others = [(want, seen) for want, seen in wanted if want is not None and want != seen]
    return {
        "material": " and ".join(sorted({str(seen) for _, seen in others})),
        "wanted": " and ".join(sorted({want for want, _ in others})),
        "other_material": bool(others),
    }


def _scale_facts(c: Correct, edges: list[dict[str, Any]], at: datetime | None) -> Facts:
    """Whether a charge was weighed, at its right time, before or after a check-weight that its scale failed."""
    scale = scale_of(str(_uuid(c.event))) if edges and at is not None else None
    checks = checks_about(scale, at) if scale is not None and at is not None else ()
    return {"key": scale or "", "failed": any(check is not None and not check["passed"] for check in checks)}


def _right_facts(
    c: Correct, floor: Floor, named: list[tuple[dict[str, Any], Content]], at: datetime | None
) -> Facts:
    """What was in the right source at the time of each edge, beside what that edge says."""
    units = read_units([*(base.uid for _, base in named), *(edge["child"] for edge, _ in named)])
    wanted = [(_wanted(floor, units[edge["child"]], edge), base.about.get("material")) for edge, base in named]
    waited = [
        base for edge, base in named if base.kind != "charge" and was_waiting(units[base.uid], at or edge["at"])
    ]
    uoms = {base.uom for _, base in named}
    return {
        "name": floor[c.now].name if c.now else "",
        "other_unit": any(edge["uom"] not in (None, base.uom) for edge, base in named),
        "holds": " and ".join(sorted(MEASURES[uom] for uom in uoms)),
        **_layer_facts(named),
        **_material_facts(wanted),
        "waited": bool(waited),
        "lot": say.lot_name(waited[0].about, waited[0].lot_no) if waited else "",
    }


def _wanted(floor: Floor, child: UnitFacts, edge: dict[str, Any]) -> str | None:
    """The material that belongs there: by the recipe in a charge or a position, else what the vessel holds. None where
    another rule judges it (a tub by its layer, a graphic by its artwork), or where it goes into nothing."""
    about, found = child.about, None
    if edge["role"] == "insert":
        found = floor.plant.product_of(about).get("inserts", {}).get(edge["position"])
    elif child.kind == "charge":
        order = floor.plant.body("works_order", about.get("order"))
        product = floor.plant.product_of({"product": order.get("product"), "recipe": about.get("recipe")})
        found = layer_of(product, str(about.get("layer")), order.get("colour", "")).get("material")
    elif edge["role"] not in ("charge", "graphic", *OUT):
        found = about.get("material")
    return str(found) if found else None


@handles(Correct, correct_facts)
def correct(c: Correct, floor: Floor, rows: Rows) -> str:
    said = said_of(c, floor)
    if said:
        return _correct_itself(c, said, floor, rows)
    edges = meant_edges(c, floor)
    if c.lot.strip():
        return _correct_lot(c, edges, floor, rows)
    right = floor[c.now] if c.now else None
    # What else in that carrier it may have been goes with what was named; the replay says anew what is still open.
    for edge in live_edges_of(c.event) if edges else []:
        if is_may(edge) and edge["n"] is not None and edge["carrier"] in {e["carrier"] for e in edges}:
            rows.void(edge["event"], edge["n"])
    for edge in edges:
        _correct_edge(c, edge, right, floor)
        rows.touch(edge["child"], "corrected")
    return f"{len(edges)} put right: {floor[c.was].name} to {floor[c.now].name if c.now else 'no record'}"


def _correct_lot(c: Correct, edges: list[dict[str, Any]], floor: Floor, rows: Rows) -> str:
    """The containers of a delivery are of another lot than was booked."""
    right = right_lot(edges, c.lot.strip())
    lot, booked = booked_rightly(rows, right, edges)
    floor.changes.booked.update(booked)
    for edge in edges:
        floor.changes.withdrawn.append(edge)
        floor.changes.took.append(replace(_took_rightly(c, edge, None, None), parent=lot))
        rows.touch(edge["child"], "corrected")
    return f"{len(edges)} put right: {say.lot_name(right.about, right.lot_no)}"


def _correct_edge(c: Correct, edge: dict[str, Any], right: Found | None, floor: Floor) -> None:
    """Withdraw what it said, and say what is right."""
    changes, at = floor.changes, right_time(c, floor)
    changes.withdrawn.append(edge)
    if right is not None or c.amount or c.at:
        changes.took.append(_took_rightly(c, edge, right, at))
    if at is not None:
        changes.moved[edge["child"]] = at
    if edge["role"] == "charge" and right is not None and (right.carrier != edge["carrier"] or at is not None):
        # It was the other tub that was tipped, or another time: this one kept its charge.
        changes.filled_again.append((edge["carrier"], edge["at"], ""))
        changes.emptied.append(Emptied(right.carrier or "", at or edge["at"], proved=False))
    elif edge["role"] in OUT and edge["position"] == ALL and right is not None:
        # The tub that was emptied so may have been another, or kept some of it.
        changes.filled_again.append((edge["carrier"], edge["at"], ""))


def _took_rightly(c: Correct, edge: dict[str, Any], right: Found | None, at: datetime | None) -> Took:
    """The drawing of an edge as the correction says it: out of `right`, at another time (None: at the same)."""
    amount = parse_amount(c.amount, edge["uom"] or "mg", LARGEST_FILL) if c.amount else edge["amount"]
    unsure = timedelta(0) if at else timedelta(milliseconds=edge["unsure_ms"] or 0)
    received = edge["role"] == "receive"
    layer, position = edge["layer"], None if c.amount and edge["position"] == ALL else edge["position"]
    if edge["role"] == "charge" and right is not None:
        # What was in the tub that was really tipped says of which layer it is; where nothing was, its code names it.
        own = str(position or "").split(" ")[0] == right.code
        load = read_units([edge["child"]])[edge["child"]]
        layer, position = None, position if own else nth_empty(right.code, load.gaps)
    return Took(
        right.carrier if right and not received else None, at or edge["at"], edge["child"], amount,
        edge["uom"] or "mg", edge["role"], layer, position, edge["of"], unsure,
        parent=edge["parent"] if received else None,
    )  # fmt: skip


def _correct_itself(c: Correct, said: dict[str, Any], floor: Floor, rows: Rows) -> str:
    """A count or a proving empty: withdrawn, or said of another time or amount."""
    found, carrier, was, of = floor[c.was], said["carrier"], said["at"], str(_uuid(c.event))
    at = right_time(c, floor) or was
    if said["kind"] == "proved_empty":
        rows.emptied(carrier, at if c.now else None, of)
        floor.changes.filled_again.append((carrier, was, of))
        if c.now:
            floor.changes.emptied.append(Emptied(carrier, at, proved=True))
        return f"{found.name} proved empty: {'at another time' if c.now else 'withdrawn'}"
    uom = found.unit.uom if found.unit and found.unit.uom else "mg"
    left = said["left"] if not c.amount else parse_amount(c.amount, uom, LARGEST_FILL)
    rows.counted(carrier, left if c.now else None, at=at, of=of)
    floor.changes.uncounted.append((carrier, was, of))
    if c.now and left is not None:
        floor.changes.counted.append(Counted(carrier, at, left))
    return f"{found.name} counted: {say.amount(left, uom) if c.now else 'withdrawn'}"


@dataclass(frozen=True, kw_only=True)
class CloseDiscrepancy(Command):
    """A person has looked at a discrepancy. event: uid of the event that opened it; n: its number there."""

    KIND = "discrepancy_closed"
    NAME = noop("close a discrepancy")
    DECISION = True

    event: str
    n: int
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Looked at and closed. %(why)s") % {"why": e.why}


def close_discrepancy_facts(c: CloseDiscrepancy, floor: Floor) -> Facts:
    found = discrepancy_is_open(c.event, c.n)
    return {"close": {"unknown": not found, "no_reason": not c.reason.strip()}}


@handles(CloseDiscrepancy, close_discrepancy_facts)
def close_discrepancy(c: CloseDiscrepancy, floor: Floor, rows: Rows) -> str:
    rows.close_discrepancy(c.event, c.n)
    return "looked at and closed"
