"""Reads what a carrier held and what entered and left it from a moment on, as the records stand."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import connection

from trace.genealogy.live import BOOKED, BOOKED_AT, LIVE_NOW
from trace.genealogy.prepared import fetch_json
from trace.readmodels.rows import moment
from trace.recording.floor.changes import GONE_AS

# Differences the book makes by itself; all others were counted or put right by a person.
AUTOMATIC = ("fill difference", "not found when emptied")
# What a person counted stands: a late record changes by how much the book was off, never what was in it.
COUNTED = "counted"
# What leaves a carrier and is made into nothing.
OUT = ("scrap", "return", "sample")
# What is drawn out of what a carrier holds, by the amount.
DRAWN = ("draw", "topup", "insert", "graphic", "fit", *OUT)
# States a content left behind when it was filled up or used; when the act happened it was in none of them.
PASSED = ("topped up", "used up", "made anew", "tipped", *GONE_AS.values())

# Every status that a unit was given, with the kind of event that gave it.
STATUSES = """(SELECT json_agg(json_build_array(COALESCE(CASE WHEN w.kind <> 'released' THEN s.said->>'at' END,
                                   w.body::jsonb->>'happened'), s.said->>'status', w.kind) ORDER BY w.id)
    FROM event_unit x JOIN event w ON w.id = x.event,
         LATERAL jsonb_array_elements(w.body::jsonb->'rows'->'statuses') AS s(said)
   WHERE x.unit = {unit}.id AND x.role = 'status' AND s.said->>'unit' = {unit}.uid::text)"""

# Proving one carrier empty, told late, may rewrite the logs of others: the one that was emptied stands empty from then.
THEN_EMPTY = """EXISTS (SELECT FROM jsonb_array_elements(l->'entries') AS n WHERE n->>'content' IS NULL
  AND (n->>'since')::timestamptz BETWEEN v.happened AND v.happened + interval '1 ms')"""

# When a carrier was proved empty since `start`: the last word on each, where it was put right.
PROVED = f"""SELECT DISTINCT ON (t.of) t.at, t.of FROM (
    SELECT v.uid::text AS of, v.happened AS at, v.id FROM event v
     WHERE v.kind = 'proved_empty' AND v.happened > %(start)s
       AND EXISTS (SELECT FROM jsonb_array_elements(v.body::jsonb->'rows'->'logs') AS l
                    WHERE l->>'carrier' = %(carrier)s::text AND {THEN_EMPTY})
    UNION ALL
    SELECT e->>'event', (e->>'at')::timestamptz, v.id FROM event v,
           LATERAL jsonb_array_elements(v.body::jsonb->'rows'->'empties') AS e
     WHERE v.kind = 'corrected' AND e->>'carrier' = %(carrier)s::text) t
  ORDER BY t.of, t.id DESC"""
# What was counted in it, in the same way. The oldest counts say it in their difference alone.
COUNTS = """SELECT DISTINCT ON (t.of) t.at, t.left, t.of FROM (
    SELECT COALESCE(c->>'event', v.uid::text) AS of, COALESCE((c->>'at')::timestamptz, v.happened) AS at,
           (c->>'left')::bigint AS left, v.id
      FROM event v, LATERAL jsonb_array_elements(v.body::jsonb->'rows'->'counts') AS c
     WHERE (v.kind = 'corrected' OR v.kind = 'counted' AND v.happened > %(start)s) AND c->>'carrier' = %(carrier)s::text
    UNION ALL
    SELECT v.uid::text, v.happened, (c->>'left')::bigint, v.id FROM carrier k JOIN unit u ON u.carrier = k.id
      JOIN event_unit x ON x.unit = u.id AND x.role = 'counted' JOIN event v ON v.id = x.event,
           LATERAL jsonb_array_elements(v.body::jsonb->'rows'->'differences') AS c
     WHERE k.uid = %(carrier)s::text::uuid AND v.kind = 'counted' AND NOT v.body::jsonb->'rows' ? 'counts'
       AND c->>'left' IS NOT NULL AND COALESCE((c->>'at')::timestamptz, v.happened) = v.happened) t
  ORDER BY t.of, t.id DESC"""

# The contents a carrier held from a moment on (and the one before), with their live edges. An edge that a late
# fact or a correction added again carries the time of the act in its event's bytes; others have their event's.
HISTORY = f"""
WITH log AS (
  SELECT l.* FROM carrier_log l JOIN carrier c ON c.id = l.carrier WHERE c.uid = %(carrier)s::text::uuid
     AND (l.until IS NULL OR l.until > %(start)s OR l.since = (SELECT max(since) FROM carrier_log m
          WHERE m.carrier = l.carrier AND m.since <= %(start)s))),
 live AS (SELECT e.*, v.uid AS event_uid, COALESCE(
           (v.body::jsonb #>> ARRAY['rows', 'edges', e.n::text, 'at'])::timestamptz, v.happened) AS at,
           COALESCE(v.body::jsonb #>> ARRAY['rows', 'edges', e.n::text, 'of'], v.uid::text) AS of
          FROM edge e JOIN event v ON v.id = e.event
           WHERE {LIVE_NOW}
             AND (e.parent IN (SELECT content FROM log) OR e.child IN (SELECT content FROM log))),
 counted AS (SELECT d.unit, d.amount, d.cause, d.id, {BOOKED_AT} AS at, ({BOOKED}->>'left')::bigint AS left
          FROM difference d JOIN event v ON v.id = d.event WHERE d.unit IN (SELECT content FROM log))
SELECT json_build_object(
 'contents', (SELECT json_agg(json_build_object('uid', u.uid, 'kind', u.kind, 'amount', u.amount, 'uom', u.uom,
      'about', u.about, 'lot_no', u.lot_no, 'since', l.since, 'until', l.until, 'status', s.status,
      'balance', s.balance, 'place', (SELECT place FROM place_now WHERE unit = u.id),
      'statuses', {STATUSES.format(unit="u")},
      'looked_at', (SELECT json_agg(kind) FROM discrepancy WHERE unit = u.id),
      'judged', (SELECT json_agg(json_build_array(v.uid, d.n, d.kind) ORDER BY d.event, d.n)
                   FROM discrepancy d JOIN event v ON v.id = d.event
                  WHERE d.unit = u.id AND d.closed_by IS NULL AND starts_with(d.kind, 'told, but: ')),
      'gaps', (SELECT json_agg(json_build_array(what, which)) FROM gap WHERE unit = u.id),
      'differences', (SELECT json_agg(json_build_object('amount', d.amount, 'cause', d.cause, 'at', d.at,
                                                        'left', d.left)
                                      ORDER BY d.id) FROM counted d WHERE d.unit = u.id),
      'freed', (SELECT json_agg(DISTINCT h.uid) FROM hold_release r JOIN hold h ON h.id = r.hold WHERE r.unit = u.id),
      'holds', (SELECT json_agg(json_build_array(h.uid, h.rule) ORDER BY h.id) FROM hold h WHERE h.unit = u.id
           AND NOT EXISTS (SELECT FROM hold_release r
                            WHERE r.hold = h.id AND (r.unit IS NULL OR r.unit = u.id)))) ORDER BY l.since, u.id)
    FROM log l JOIN unit u ON u.id = l.content JOIN unit_state s ON s.unit = u.id),
 'proved', (SELECT json_agg(json_build_array(p.at, p.of)) FROM ({PROVED}) p WHERE p.at > %(start)s),
 'counts', (SELECT json_agg(json_build_array(n.at, n.left, n.of) ORDER BY n.of) FROM ({COUNTS}) n
   WHERE n.left IS NOT NULL AND n.at > %(start)s),
 'decided', (SELECT json_agg(json_build_array(v.happened, s.said->>'status',
     (SELECT o.uid FROM event_unit y JOIN unit o ON o.id = y.unit AND o.kind = 'lot'
       WHERE y.event = v.id AND y.role = 'status' LIMIT 1))) FROM carrier c
    JOIN unit u ON u.carrier = c.id JOIN event_unit x ON x.unit = u.id AND x.role = 'status'
    JOIN event v ON v.id = x.event AND v.kind = 'released',
         LATERAL jsonb_array_elements(v.body::jsonb->'rows'->'statuses') AS s(said)
   WHERE c.uid = %(carrier)s::text::uuid AND s.said->>'unit' = u.uid::text AND v.happened > %(start)s),
 'missed', (SELECT json_agg(m.said::jsonb || jsonb_build_object('of', COALESCE(m.said->>'of', v.uid::text),
      'unsure_ms', (SELECT w.unsure_ms FROM event w WHERE w.uid = COALESCE(m.said->>'of', v.uid::text)::uuid),
      'at', COALESCE(m.said->>'at', v.body::jsonb->>'happened')))
    FROM gap g JOIN event v ON v.id = g.event JOIN unit u ON u.id = g.unit,
         LATERAL jsonb_array_elements(COALESCE(v.body::jsonb->'rows'->'missed', '[]')) AS m(said)
   WHERE g.what IN ('source', 'charge') AND m.said->>'child' = u.uid::text
     AND (m.said->>'carrier' = %(carrier)s::text OR u.id IN (SELECT content FROM log))
     AND g.which = COALESCE(m.said->>'layer', m.said->>'position', m.said->>'role')),
 'edges', (SELECT json_agg(json_build_object('event', e.event_uid, 'n', e.n, 'child', c.uid, 'parent', p.uid,
      'role', e.role, 'layer', e.layer, 'position', e.position, 'amount', e.amount, 'uom', e.uom, 'at', e.at,
      'of', e.of, 'unsure_ms', (SELECT w.unsure_ms FROM event w WHERE w.uid = e.of::uuid),
      'carrier', (SELECT uid FROM carrier WHERE id = p.carrier),
      'parent_about', p.about, 'parent_lot_no', p.lot_no, 'parent_statuses',
      CASE WHEN e.role IN ('topup', 'receive') THEN {STATUSES.format(unit="p")} END,
      'child_rules', (SELECT json_agg(rule) FROM hold WHERE unit = c.id),
      'looked_at', (SELECT json_agg(kind) FROM discrepancy WHERE unit = c.id),
      'parent_lot', CASE WHEN p.kind = 'lot' THEN p.uid::text ELSE p.about->>'lot' END) ORDER BY e.id)
    FROM live e JOIN unit c ON c.id = e.child JOIN unit p ON p.id = e.parent))::text
"""


@dataclass(frozen=True)
class Content:
    """One content (or charge in a tub) as recorded. Amounts in `uom`, None where nobody knows; differences: amount,
    cause, at, left. statuses: (when, status, kind of event), in the order of recording. holds: (uid, rule) laid on it.
    freed: uids of holds that a person ended for it. looked_at: kinds of discrepancies that it has or had. judged: what
    rules said of it that nobody has looked at yet, as (event's uid, n, kind).
    """

    uid: str
    kind: str
    amount: int | None
    uom: str
    about: dict[str, Any]
    lot_no: str | None
    since: datetime
    until: datetime | None
    status: str | None
    balance: int | None
    place: str | None
    statuses: list[tuple[datetime, str, str]]
    looked_at: list[str]
    judged: list[tuple[str, int, str]]
    gaps: list[list[str]]
    differences: list[dict[str, Any]]
    holds: list[list[str]]
    freed: list[str]


@dataclass(frozen=True)
class History:
    """`base` was in the carrier at `start` with `left` in it by the book; `later` came after it.

    `emptied`: when it stood empty from; `proved`: when somebody looked into it, each with the uid of the event that
    says so: two people may have told of the same minute, and one of them is put right.
    """

    start: datetime
    base: Content | None
    left: int | None
    later: list[Content]
    edges: list[dict[str, Any]]
    emptied: list[datetime]
    proved: tuple[tuple[datetime, str], ...]
    # What came out of it, or into it out of another, while that was empty by the book.
    missed: list[dict[str, Any]]

    # What was counted in it since `start`, as (when, left, uid of the event that says so) in the order of telling; and
    # when a person released what was in it, as (when, status, uid of the lot that was released, if it was one).
    counts: list[tuple[datetime, int, str]]
    decided: list[tuple[datetime, str, str | None]]

    @property
    def contents(self) -> list[Content]:
        return ([self.base] if self.base else []) + self.later


def history_of(carrier: str, start: datetime) -> History:
    """All of a carrier's log from the content that was in it at `start`; edges with their own times."""
    found = fetch_json(HISTORY, {"carrier": carrier, "start": start})
    contents = [_content(row) for row in found["contents"] or []]
    edges = [
        {**e, "at": moment(e["at"]), "parent_statuses": as_statuses(e["parent_statuses"])} for e in found["edges"] or []
    ]
    base = _base(contents, start)
    later = [c for c in contents if c.since > start]
    proved = tuple((moment(at), of) for at, of in found["proved"] or [])
    emptied = {at for at, _ in proved} | _stood_empty(([base] if base else []) + later)
    left = _left(base, edges, start)
    missed = [{**m, "at": moment(m["at"])} for m in found["missed"] or []]
    counts = [(moment(at), left, of) for at, left, of in found["counts"] or []]
    decided = sorted(((moment(at), status, lot) for at, status, lot in found["decided"] or []), key=lambda x: x[0])
    return History(start, base, left, later, edges, sorted(emptied), proved, missed, counts, decided)


def _base(contents: list[Content], start: datetime) -> Content | None:
    """The content that was in a carrier at `start`, if there was one."""
    before = [c for c in contents if c.since <= start and (c.until is None or c.until > start)]
    return before[-1] if before else None


def _stood_empty(contents: list[Content]) -> set[datetime]:
    """When a carrier that held these, one after the other, stood empty from: one ended and the next was not there yet.
    """
    emptied = set()
    for content, following in zip(contents, [*contents[1:], None], strict=False):
        if content.until and (following is None or content.until < following.since):
            emptied.add(content.until)
    return emptied


def _left(base: Content | None, edges: list[dict[str, Any]], start: datetime) -> int | None:
    """What was in the base content at `start`, by the book: what left or was written off later is given back."""
    if base is None:
        return 0
    if base.balance is None:
        return None
    later = sum(e["amount"] or 0 for e in edges if e["parent"] == base.uid and (e["role"] == "heel" or e["at"] > start))
    anew = (*AUTOMATIC, COUNTED)
    booked: int = sum(d["amount"] for d in base.differences if d["cause"] in anew and d["at"] > start)
    return base.balance + later - booked


def _content(row: dict[str, Any]) -> Content:
    return Content(
        **{
            **row,
            "uom": row["uom"] or "mg",
            "since": moment(row["since"]),
            "until": moment(row["until"]) if row["until"] else None,
            "statuses": as_statuses(row["statuses"]),
            "looked_at": row["looked_at"] or [],
            "judged": row["judged"] or [],
            "gaps": row["gaps"] or [],
            "differences": [{**d, "at": moment(d["at"])} for d in row["differences"] or []],
            "holds": row["holds"] or [],
            "freed": row["freed"] or [],
        }
    )


def as_statuses(rows: list[list[str]] | None) -> list[tuple[datetime, str, str]]:
    return [(moment(at), status, kind) for at, status, kind in rows or []]


def usable_as(statuses: list[tuple[datetime, str, str]], when: datetime) -> str | None:
    """The status that something had for use at a moment: not that it was filled up or used up. Of what was made anew
    later it is the first one given."""
    before = [status for at, status, _ in statuses if status not in PASSED and at <= when]
    return before[-1] if before else first_given(statuses)


def first_given(statuses: list[tuple[datetime, str, str]]) -> str | None:
    """The status for use that something was given first."""
    return next((status for _, status, _ in statuses if status not in PASSED), None)


def is_may(edge: dict[str, Any]) -> bool:
    """An edge without an amount beside that of a draw: its time may be off, so it may have been this content."""
    return edge["amount"] is None and edge["role"] in DRAWN


def held_between(carrier: str, first: datetime, last: datetime) -> list[str]:
    """The uids of what a carrier held at any moment from `first` to `last`, both included."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT u.uid::text FROM carrier c JOIN carrier_log l ON l.carrier = c.id JOIN unit u ON u.id = l.content
                WHERE c.uid = %s AND l.since <= %s AND (l.until IS NULL OR l.until >= %s) ORDER BY l.since, u.id""",
            [carrier, last, first],
        )
        return [uid for (uid,) in cursor.fetchall()]


# Anything that came out of a carrier, or was found or decided of it, after a time.
TAKEN = f"""
SELECT to_json(EXISTS (SELECT FROM carrier c JOIN carrier_state s ON s.carrier = c.id
     JOIN edge e ON e.parent = s.content JOIN event v ON v.id = e.event
    WHERE c.uid = %(carrier)s::text::uuid AND {LIVE_NOW}
      AND COALESCE((v.body::jsonb #>> ARRAY['rows', 'edges', e.n::text, 'at'])::timestamptz,
                   v.happened) > %(when)s)
  OR EXISTS (SELECT FROM gap g JOIN event v ON v.id = g.event,
     LATERAL jsonb_array_elements(COALESCE(v.body::jsonb->'rows'->'missed', '[]')) AS m(said)
    WHERE g.what IN ('source', 'charge') AND m.said->>'carrier' = %(carrier)s::text
      AND COALESCE((m.said->>'at')::timestamptz, v.happened) > %(when)s)
  OR EXISTS (SELECT FROM event v, LATERAL jsonb_array_elements(v.body::jsonb->'rows'->'logs') AS l
    WHERE v.kind = 'proved_empty' AND v.happened > %(when)s AND l->>'carrier' = %(carrier)s::text
      AND {THEN_EMPTY})
  OR EXISTS (SELECT FROM carrier c JOIN carrier_state s ON s.carrier = c.id
     JOIN event_unit x ON x.unit = s.content AND x.role = 'status' JOIN event v ON v.id = x.event
    WHERE c.uid = %(carrier)s::text::uuid AND v.kind = 'released' AND v.happened > %(when)s)
  OR EXISTS (SELECT FROM event v, LATERAL jsonb_array_elements(v.body::jsonb->'rows'->'counts') AS n
    WHERE v.kind IN ('counted', 'corrected') AND n->>'carrier' = %(carrier)s::text
      AND COALESCE((n->>'at')::timestamptz, v.happened) > %(when)s))::text
"""


def taken_since(carrier: str, when: datetime) -> bool:
    """True when, after that time, something came out of a carrier (though it was empty by the book), or it was proved
    empty, counted or released."""
    found: bool = fetch_json(TAKEN, {"carrier": carrier, "when": when})
    return found
