"""Containment walks: which hulls somebody goes round the plant to find, and what was seen of each, as known on a day.

A walk over a hold finds what the hold is on, also what is made after it began; one over a list keeps that list.
Everything is read from the truth tables.
"""

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.genealogy.graph import Node
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.places import Placed, placed
from trace.genealogy.prepared import fetch_json, fetch_rows
from trace.genealogy.walk import nodes

# What can be said of a hull that was looked for: it is there; it has its hold tag; it was sorted good or bad.
RESULTS = ("found", "tagged", "passed", "failed")
# How an event that begins a walk or a recall touches what is on its list, and one that saw a hull the hull.
TO_FIND, SEEN = "to find", "seen"

# What one record laid holds on is one hold to whoever looks for it: what was in doubt then is held part by part. So is
# all that is held for one scope, hull by hull as they are made.
ONE_HOLD = "(o.event = h.event OR (o.rule = h.rule AND o.rule LIKE 'scope %%'))"
SAME_HOLD = f"(SELECT {ONE_HOLD} FROM hold o WHERE o.uid = %(hold)s::uuid)"
UNDER = f"""
WITH RECURSIVE r(hold, unit) AS (
  SELECT h.id, h.unit FROM hold h JOIN event e ON e.id = h.event AND e.recorded <= %(known)s::timestamptz
   WHERE {SAME_HOLD}
     AND NOT EXISTS (SELECT FROM hold_release x JOIN event xe ON xe.id = x.event
       WHERE x.hold = h.id AND (x.unit IS NULL OR x.unit = h.unit) AND xe.recorded <= %(known)s::timestamptz)
  UNION
  SELECT r.hold, c.child FROM r, LATERAL (
    SELECT e.child FROM edge e WHERE e.parent = r.unit AND NOT e.aside AND {LIVE}
       AND NOT EXISTS (SELECT FROM hold_release x JOIN event xe ON xe.id = x.event
          WHERE x.hold = r.hold AND x.unit = e.child AND xe.recorded <= %(known)s::timestamptz) OFFSET 0) c)
SELECT DISTINCT u.id, u.kind FROM r JOIN unit u ON u.id = r.unit WHERE u.kind IN ('hull', 'moulding') ORDER BY 1
"""
LISTED = """
SELECT x.unit FROM event e JOIN event_unit x ON x.event = e.id AND x.role = %(role)s
 WHERE e.uid = %(event)s::uuid AND e.recorded <= %(known)s::timestamptz ORDER BY 1
"""
BEGUN = """
SELECT COALESCE(json_agg(json_build_object('id', e.id, 'uid', e.uid, 'begun', e.happened, 'person', e.person,
     'says', e.body::jsonb->'says', 'ended', (SELECT min(x.happened) FROM event x WHERE x.kind = 'containment_ended'
        AND x.id > e.id AND x.recorded <= %(known)s::timestamptz AND x.body::jsonb->'says'->>'walk' = e.uid::text))
   ORDER BY e.id DESC), '[]')::text
  FROM (SELECT * FROM event b WHERE b.kind = 'containment_begun' AND b.recorded <= %(known)s::timestamptz
           AND {which} ORDER BY b.id DESC LIMIT 60) e
"""
BEGUN_ANY = BEGUN.replace("{which}", "(%(uid)s::text = '' OR b.uid::text = %(uid)s::text)")
BEGUN_OVER = BEGUN.replace("{which}", f"""(b.body::jsonb->'says'->'question' = ANY (%(questions)s::jsonb[])
  OR EXISTS (SELECT FROM hold h JOIN hold o ON {ONE_HOLD} WHERE o.uid = ANY (%(holds)s::uuid[])
      AND h.uid = NULLIF(b.body::jsonb->'says'->>'hold', '')::uuid))""")
SEEN_SO_FAR = """
SELECT x.unit, v.body::jsonb->'says'->>'result', COALESCE(v.person, ''), v.happened,
  COALESCE((SELECT r.key FROM event_resource y JOIN resource r ON r.id = y.resource
             WHERE y.event = v.id AND y.role = 'place'), ''), COALESCE(v.body::jsonb->'says'->>'remark', '')
  FROM event v JOIN event_unit x ON x.event = v.id AND x.role = 'seen'
 WHERE v.kind = 'containment_seen' AND v.id > %(from)s::bigint AND v.recorded <= %(known)s::timestamptz
   AND v.body::jsonb->'says'->>'walk' = %(uid)s::text ORDER BY v.happened, v.id
"""


@dataclass(frozen=True, slots=True)
class Begun:
    """A walk as the record that began it says it: over what the hold `hold` is on, or over a list, which was asked for
    by `question` (the words of a cause) as known on `known_on`; `may` are the uids of those that only may share it."""

    id: int
    uid: str
    begun: datetime
    person: str
    ended: datetime | None
    hold: str
    question: tuple[str, ...]
    known_on: str
    may: frozenset[str]


@dataclass(frozen=True, slots=True)
class Seen:
    """What was said of a hull last: its result, where, by whom and when; `remark` is the digest of words, or ""."""

    result: str
    person: str
    happened: datetime
    place: str
    remark: str


@dataclass(frozen=True, slots=True)
class Looked:
    """One hull of a walk: where it stands by the book (None: nobody recorded it), and what was seen of it."""

    node: Node
    last: Placed | None
    seen: Seen | None
    may: bool = False
    scrapped: bool = False

    @property
    def gone(self) -> str:
        """Whom it has gone to, by the record; "" while it is in the plant."""
        return self.last.gone if self.last else ""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a walk is: `hulls` of its list in the order of their places, `besides` those seen that are not on it, and
    how many mouldings without a plate the hold is on, which nobody can scan."""

    hulls: tuple[Looked, ...]
    besides: tuple[Looked, ...]
    without_plate: int = 0

    @property
    def here(self) -> list[Looked]:
        """Those that are in the plant by the book, or were seen in it; what is scrapped is looked for no longer."""
        return [one for one in self.hulls if one.seen or not (one.gone or one.scrapped)]

    @property
    def gone(self) -> list[Looked]:
        return [one for one in self.hulls if one.gone and not one.seen]

    @property
    def scrapped(self) -> list[Looked]:
        return [one for one in self.hulls if one.scrapped and not one.gone and not one.seen]

    def count(self, result: str) -> int:
        """How many of the list have this result; "" for those nobody has seen."""
        return sum(1 for one in self.here if (one.seen.result if one.seen else "") == result)


def under_hold(hold: str, as_known_on: datetime | None = None) -> dict[int, str]:
    """Id -> kind of the hulls and mouldings that a hold (its uid) is on as known then, with what was held by the same
    record; empty where no such hold is in force."""
    rows = fetch_rows(UNDER, {"hold": hold, "known": known_by(as_known_on)})
    return dict(rows)


def listed(event: str, as_known_on: datetime | None = None, role: str = TO_FIND) -> list[int]:
    """The ids of the units that the event with this uid put on its list."""
    rows = fetch_rows(LISTED, {"event": event, "role": role, "known": known_by(as_known_on)})
    return [unit for (unit,) in rows]


def walks(as_known_on: datetime | None = None, uid: str = "") -> list[Begun]:
    """The last 60 walks that were begun by then, the newest first; the one of this uid alone, where one is named."""
    rows = fetch_json(BEGUN_ANY, {"known": known_by(as_known_on), "uid": uid})
    return [_begun(row) for row in rows]


def walks_over(
    holds: Collection[str], questions: Iterable[Sequence[str]], as_known_on: datetime | None = None
) -> list[Begun]:
    """The last 60 walks that were begun by then over one of these holds (their uids), or over the list of one of these
    questions (the words of each), the newest first."""
    asked = sorted(json.dumps(list(words), ensure_ascii=False) for words in questions)
    if not holds and not asked:
        return []
    named = {"known": known_by(as_known_on), "holds": sorted(holds), "questions": asked}
    return [_begun(row) for row in fetch_json(BEGUN_OVER, named)]


def _begun(row: Mapping[str, Any]) -> Begun:
    says = row["says"]
    ended = row["ended"]
    return Begun(
        row["id"], row["uid"], datetime.fromisoformat(row["begun"]), row["person"] or "",
        datetime.fromisoformat(ended) if ended else None, says["hold"], tuple(says["question"]), says["known_on"],
        frozenset(says["may"]),
    )  # fmt: skip


def to_find(walk: Begun, as_known_on: datetime | None = None) -> dict[int, str]:
    """Id -> kind of what the walk is to find, as known then."""
    if walk.hold:
        return under_hold(walk.hold, as_known_on)
    return dict.fromkeys(listed(walk.uid, as_known_on), "hull")


def seen_so_far(walk: Begun, as_known_on: datetime | None = None) -> dict[int, Seen]:
    """What was said last of each unit on this walk; of two at the same time the one recorded later."""
    rows = fetch_rows(SEEN_SO_FAR, {"uid": walk.uid, "from": walk.id, "known": known_by(as_known_on)})
    return {
        unit: Seen(result, person, happened, place, remark) for unit, result, person, happened, place, remark in rows
    }


def progress(walk: Begun, as_known_on: datetime | None = None) -> Progress:
    """How far a walk was by then."""
    wanted = to_find(walk, as_known_on)
    hulls = {unit for unit, kind in wanted.items() if kind == "hull"}
    seen = seen_so_far(walk, as_known_on)
    every = _looked(hulls | seen.keys(), seen, walk.may, as_known_on)
    return Progress(
        tuple(one for one in every if one.node.id in hulls),
        tuple(one for one in every if one.node.id not in hulls),
        _unbound({unit for unit, kind in wanted.items() if kind == "moulding"}, as_known_on),
    )


def looked_for(
    units: Collection[int], may: Collection[str] = (), as_known_on: datetime | None = None
) -> tuple[Looked, ...]:
    """These hulls with where they stand, before anybody has looked."""
    return _looked(units, {}, may, as_known_on)


def _looked(
    units: Collection[int], seen: Mapping[int, Seen], may: Collection[str], as_known_on: datetime | None
) -> tuple[Looked, ...]:
    known, where = nodes(units, as_known_on), placed(units, as_known_on)
    scrap = _scrapped(units, as_known_on)
    lines = [Looked(n, where.get(id_), seen.get(id_), n.uid in may, id_ in scrap) for id_, n in known.items()]
    return tuple(sorted(lines, key=_in_walking_order))


def _in_walking_order(one: Looked) -> tuple[str, str]:
    """By where it was seen, else by where it stands; those of no place last."""
    place = (one.seen.place if one.seen else "") or (one.last.place if one.last else "\uffff")
    return (place, one.node.code)


SCRAPPED = """
SELECT x.unit FROM event_unit x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
 WHERE x.unit = ANY (%(ids)s::bigint[]) AND x.role = 'scrapped'
"""


def _scrapped(units: Iterable[int], as_known_on: datetime | None) -> set[int]:
    return {unit for (unit,) in fetch_rows(SCRAPPED, {"ids": id_array(units), "known": known_by(as_known_on)})}


UNBOUND = f"""
SELECT count(*) FROM unit u WHERE u.id = ANY (%(ids)s::bigint[]) AND NOT EXISTS (
  SELECT FROM edge e WHERE e.parent = u.id AND e.role IN ('bind', 'join', 'cut') AND NOT e.aside AND {LIVE})
  AND NOT EXISTS (SELECT FROM event_unit x JOIN event v ON v.id = x.event
     WHERE x.unit = u.id AND x.role = 'scrapped' AND v.recorded <= %(known)s::timestamptz)
"""


def _unbound(mouldings: Iterable[int], as_known_on: datetime | None) -> int:
    """How many of these mouldings have no plate yet and were neither cut nor scrapped."""
    count: int = fetch_rows(UNBOUND, {"ids": id_array(mouldings), "known": known_by(as_known_on)})[0][0]
    return count
