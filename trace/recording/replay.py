"""Replays a carrier's log from a moment on, when a late fact or a correction changes what was in it.

The contents that followed are made anew, their edges and the draws they touch are withdrawn and added again, all
in the rows of the late event: so walk, balance and holds agree, and no false "cannot" is left.
"""

import json
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import connection

from trace.readmodels.rows import Rows, moment
from trace.recording.floor import UnitFacts

# The contents a carrier held from a moment on (and the one before), their live edges, and the holds laid on them.
STORY = """
WITH log AS (
  SELECT l.* FROM carrier_log l JOIN carrier c ON c.id = l.carrier WHERE c.uid = %(carrier)s
     AND (l.until IS NULL OR l.until >= %(start)s OR l.since = (SELECT max(since) FROM carrier_log m
          JOIN carrier d ON d.id = m.carrier WHERE d.uid = %(carrier)s AND m.since <= %(start)s))),
 live AS (SELECT e.*, v.uid AS event_uid FROM edge e JOIN event v ON v.id = e.event
           WHERE NOT e.aside AND NOT EXISTS (SELECT FROM edge_void x WHERE x.edge = e.id)
             AND (e.parent IN (SELECT content FROM log) OR e.child IN (SELECT content FROM log)))
SELECT json_build_object(
 'contents', (SELECT json_agg(json_build_object('uid', u.uid, 'id', u.id, 'amount', u.amount, 'uom', u.uom,
      'about', u.about, 'lot_no', u.lot_no, 'since', l.since, 'until', l.until, 'status', s.status,
      'balance', s.balance, 'place', (SELECT place FROM place_now WHERE unit = u.id),
      'holds', (SELECT json_agg(json_build_object('uid', h.uid, 'rule', h.rule))
          FROM hold h WHERE h.unit = u.id
           AND NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id AND r.unit IS NULL))) ORDER BY l.since, u.id)
    FROM log l JOIN unit u ON u.id = l.content JOIN unit_state s ON s.unit = u.id),
 'edges', (SELECT json_agg(json_build_object('event', e.event_uid, 'n', e.n, 'child', c.uid, 'parent', p.uid,
      'role', e.role, 'layer', e.layer, 'position', e.position, 'amount', e.amount, 'uom', e.uom,
      'into', e.child IN (SELECT content FROM log),
      'at', COALESCE((SELECT since FROM carrier_log WHERE content = e.child), w.happened)) ORDER BY e.id)
    FROM live e JOIN unit c ON c.id = e.child JOIN unit p ON p.id = e.parent JOIN event w ON w.id = c.event))::text
"""


@dataclass(frozen=True)
class Put:
    """Something entered the carrier: a parent uid (None when unknown), how much, and what it was."""

    at: datetime
    parent: str | None
    amount: int
    uom: str
    role: str
    about: dict[str, Any]
    lot_no: str | None


@dataclass(frozen=True)
class Took:
    """Something left the carrier: the child it went into."""

    at: datetime
    child: str
    amount: int | None
    uom: str
    role: str
    layer: str | None = None
    position: str | None = None


@dataclass
class _Step:
    at: datetime
    order: int
    put: Put | None = None
    took: Took | None = None
    emptied: bool = False
    edges: list[dict[str, Any]] = field(default_factory=list)
    content: dict[str, Any] | None = None


def mixed_about(heel: UnitFacts | None, added: UnitFacts | None) -> dict[str, Any]:
    """`lot_no` and `about` of a content made of a heel and an addition: the lot only where both are of one lot."""
    if added is None:
        return {"lot_no": None, "about": {}}
    return _mix(
        (heel.about, heel.lot_no) if heel else None,
        added.about,
        added.lot_no,
    )


def _mix(
    heel: tuple[dict[str, Any], str | None] | None, about: dict[str, Any], lot_no: str | None
) -> dict[str, Any]:
    same = heel is None or heel[0].get("lot") == about.get("lot")
    keep = {k: about.get(k) for k in ("material", "supplier")}
    dates = [str(a["expires"]) for a in ([heel[0]] if heel else []) + [about] if a.get("expires")]
    if same:
        keep["lot"] = about.get("lot")
    return {"lot_no": lot_no if same else None, "about": {**keep, "expires": min(dates, default=None)}}


def replay(
    rows: Rows,
    carrier: str,
    start: datetime,
    *,
    add: Put | Took | None = None,
    remove: tuple[str, int] | None = None,
) -> None:
    """Fill `rows` with what a late Put or Took at `start`, or the removal of the edge (event uid, n), changes."""
    with connection.cursor() as cursor:
        cursor.execute(STORY, {"carrier": carrier, "start": start})
        story = json.loads(cursor.fetchone()[0])
    contents = story["contents"] or []
    edges = [e for e in story["edges"] or [] if (e["event"], e["n"]) != remove]
    before = [
        c for c in contents if moment(c["since"]) <= start and (not c["until"] or moment(c["until"]) > start)
    ]
    base = before[-1] if before else None
    later = [c for c in contents if moment(c["since"]) > start]
    steps = _steps(base, later, edges, start, add)
    _run(rows, carrier, start, base, later, edges, steps, fresh=isinstance(add, Put))


def _steps(
    base: dict[str, Any] | None,
    later: list[dict[str, Any]],
    edges: list[dict[str, Any]],
    start: datetime,
    add: Put | Took | None,
) -> list[_Step]:
    steps: list[_Step] = []
    known = {c["uid"] for c in later} | ({base["uid"]} if base else set())
    if isinstance(add, Put):
        steps.append(_Step(start, 0, put=add))
    elif isinstance(add, Took):
        steps.append(_Step(start, 1, took=add))
    for content in later:
        into = [e for e in edges if e["child"] == content["uid"] and e["role"] != "heel"]
        put = Put(
            moment(content["since"]), None, sum(e["amount"] or 0 for e in into), content["uom"] or "mg", "topup",
            content["about"], content["lot_no"],
        )  # fmt: skip
        steps.append(_Step(put.at, 0, put=put, edges=into, content=content))
    for content, following in zip([c for c in [base, *later] if c], [*later, None], strict=False):
        if content["until"] and (following is None or moment(content["until"]) < moment(following["since"])):
            steps.append(_Step(moment(content["until"]), 2, emptied=True))
    for edge in edges:
        if edge["parent"] in known and edge["role"] != "heel" and edge["child"] not in known:
            steps.append(
                _Step(
                    moment(edge["at"]), 1, edges=[edge],
                    took=Took(moment(edge["at"]), edge["child"], edge["amount"], edge["uom"] or "mg", edge["role"],
                              edge["layer"], edge["position"]),
                )
            )  # fmt: skip
    return sorted(steps, key=lambda s: (s.at, s.order))


def _run(
    rows: Rows,
    carrier: str,
    start: datetime,
    base: dict[str, Any] | None,
    later: list[dict[str, Any]],
    edges: list[dict[str, Any]],
    steps: list[_Step],
    *,
    fresh: bool,
) -> None:
    now: str | None = base["uid"] if base else None
    what = (base["about"], base["lot_no"]) if base else None
    balance = _left_before(base, edges, start)
    log: list[tuple[str | None, datetime]] = []
    changed = False  # from the first change on, every later content is made anew
    for step in steps:
        if step.emptied:
            now, what, balance = None, None, 0
            log.append((None, step.at))
            continue
        if step.put:
            if step.content and not changed and not fresh:
                changed = True
            heel = max(balance, 0) if now else 0
            mix = _mix(what if heel else None, step.put.about, step.put.lot_no)
            content = rows.unit(
                "content", amount=heel + step.put.amount, uom=step.put.uom, carrier=carrier,
                lot_no=mix["lot_no"], about=mix["about"],
                status=(step.content or {}).get("status") or "released",
                place=(step.content or base or {}).get("place"),
            )  # fmt: skip
            if heel and now:
                rows.edge(content, now, "heel", amount=heel, uom=step.put.uom)
            if step.content is None and step.put.parent:
                rows.edge(content, step.put.parent, step.put.role, amount=step.put.amount, uom=step.put.uom)
            for edge in step.edges:
                rows.void(edge["event"], edge["n"])
                rows.edge(content, edge["parent"], edge["role"], amount=edge["amount"], uom=edge["uom"])
            now, what, balance = content, (mix["about"], mix["lot_no"]), heel + step.put.amount
            log.append((content, step.at))
        elif step.took:
            balance = _take(rows, step, now, balance)
    for content in later:
        for edge in edges:
            if edge["child"] == content["uid"] and edge["role"] == "heel":
                rows.void(edge["event"], edge["n"])
        _retire(rows, content, log, later)
    rows.refill(carrier, log[0][1] if log else start, log) if log else None


def _left_before(base: dict[str, Any] | None, edges: list[dict[str, Any]], start: datetime) -> int:
    """What was in the base content at `start`, by the book: its balance with later draws and heels given back."""
    if base is None:
        return 0
    later = sum(
        e["amount"] or 0
        for e in edges
        if e["parent"] == base["uid"] and (e["role"] == "heel" or moment(e["at"]) > start)
    )
    return int(base["balance"] or 0) + later


def _take(rows: Rows, step: _Step, now: str | None, balance: int) -> int:
    took = step.took
    assert took is not None  # noqa: S101
    stays = bool(step.edges) and step.edges[0]["parent"] == now
    if not stays:
        for edge in step.edges:
            rows.void(edge["event"], edge["n"])
        if now:
            rows.edge(
                took.child,
                now,
                took.role,
                amount=took.amount,
                uom=took.uom,
                layer=took.layer,
                position=took.position,
            )
        else:
            rows.gap(took.child, "source", took.layer or took.position or took.role)
    left = balance - (took.amount or 0)
    if left < 0 <= balance and now:
        rows.discrepancy("overdrawn", now)
    return left


def _retire(
    rows: Rows, content: dict[str, Any], log: list[tuple[str | None, datetime]], later: list[dict[str, Any]]
) -> None:
    """A content that the replay made anew stands empty; holds laid on it go over to the one in its place."""
    if content["amount"]:
        rows.difference(content["uid"], -content["amount"], content["uom"], "made anew by a late record")
    rows.status(content["uid"], "made anew")
    instead = next((uid for uid, at in log if uid and at == moment(content["since"])), None)
    for hold in content["holds"] or []:
        if instead:
            rows.hold(instead, hold["rule"])
