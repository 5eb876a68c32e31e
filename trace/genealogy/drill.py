"""Mock recalls: a lot traced forward, a hull traced back and the lot's mass balanced, all as known on one moment.

What a drill finds is a handful of figures with a digest of everything behind them, so that whoever asks again for the
same moment can say whether the answer is the same.
"""

import hashlib
import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.genealogy.amounts import Verdict
from trace.genealogy.answer import Answer, Line, genealogy, one_picture
from trace.genealogy.balance.documents import as_document, percent
from trace.genealogy.balance.figures import Balance
from trace.genealogy.balance.subjects import balance_of
from trace.genealogy.documents import UNIT_WORDS, in_unit
from trace.genealogy.live import id_array, known_by
from trace.genealogy.places import GONE
from trace.genealogy.prepared import fetch_json, fetch_rows

# So many units are looked at while somebody waits.
MOST_UNITS = 20_000
# Where a hull is that left with nobody having recorded to whom.
NOBODY = f"{GONE}unknown"
# The two directions; each is marked when its answer is in hand.
WAYS = ("forward", "back")

BEGUN = """
SELECT COALESCE(json_agg(json_build_object('id', e.id, 'uid', e.uid, 'begun', e.recorded, 'person', e.person,
   'says', e.body::jsonb->'says',
   'marks', (SELECT json_object_agg(m.way, m.at) FROM (
      SELECT x.body::jsonb->'says'->>'way' AS way, min(x.recorded) AS at FROM event x WHERE x.kind = 'drill_marked'
         AND x.id > e.id AND x.recorded <= %(known)s::timestamptz AND x.body::jsonb->'says'->>'drill' = e.uid::text
       GROUP BY 1) m),
   'signed', (SELECT json_build_object('at', x.recorded, 'person', x.person, 'says', x.body::jsonb->'says')
      FROM event x WHERE x.kind = 'drill_signed' AND x.id > e.id AND x.recorded <= %(known)s::timestamptz
       AND x.body::jsonb->'says'->>'drill' = e.uid::text ORDER BY x.id LIMIT 1)) ORDER BY e.id DESC), '[]')::text
  FROM (SELECT * FROM event b WHERE b.kind = 'drill_begun' AND b.recorded <= %(known)s::timestamptz
           AND {which} ORDER BY b.id DESC LIMIT 60) e
"""
BEGUN_ANY = BEGUN.replace("{which}", "(%(uid)s::text = '' OR b.uid::text = %(uid)s::text)")
BEGUN_FOR = BEGUN.replace("{which}", """EXISTS (SELECT FROM event_unit d
  WHERE d.event = b.id AND d.role = 'drilled' AND d.unit = ANY (%(units)s::bigint[]))""")
DRAWN = """
SELECT (SELECT uid::text FROM unit WHERE kind = 'lot' ORDER BY random() LIMIT 1),
  (SELECT text FROM serial_state WHERE hull IS NOT NULL ORDER BY random() LIMIT 1)
"""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a drill found. `said`: figure -> text, as it is kept; `unaccounted`: (what, which) of all that is neither in
    a place nor with somebody, and of the amount that no record explains."""

    as_known_on: datetime
    said: Mapping[str, str]
    unaccounted: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Drill:
    """A drill as its records say it: `marks` say when each direction's answer was in hand; `result` and `unaccounted`
    are those that were signed, empty while nobody has."""

    id: int
    uid: str
    lot: str
    hull: str
    begun: datetime
    person: str
    marks: Mapping[str, datetime]
    signed: datetime | None
    signed_by: str
    result: Mapping[str, str]
    unaccounted: tuple[tuple[str, str], ...]
    remark: str

    def minutes(self, until: datetime | None) -> int | None:
        """Whole minutes from the beginning, None where it has not come to that."""
        return None if until is None else int((until - self.begun).total_seconds() // 60)


@dataclass(frozen=True, slots=True)
class Traced:
    """Both walks of a drill, and the balance of its lot."""

    as_known_on: datetime
    forward: Answer
    back: Answer
    balance: Balance


def traced(lot: str, hull: str, as_known_on: datetime) -> Traced:
    """Trace the lot forward and the hull back, and balance the lot, as known then.

    Raises UnknownCodeError or AmbiguousCodeError (LookupErrors of one sentence), and TooWideError.
    """
    with one_picture():
        return Traced(
            as_known_on,
            genealogy(lot, "forward", as_known_on, most=MOST_UNITS),
            genealogy(hull, "back", as_known_on),
            balance_of(lot, as_known_on, most=MOST_UNITS),
        )


def found_by(lot: str, hull: str, as_known_on: datetime) -> Outcome:
    """What a drill of these finds, as known then. Raises what `traced` raises."""
    return outcome(traced(lot, hull, as_known_on))


def outcome(of: Traced) -> Outcome:
    """The figures of both walks and of the balance."""
    forward, back, balance = of.forward, of.back, of.balance
    said = {
        **_hulls(forward), **_lots(back),
        "broken": str(len(forward.gaps) + len(back.gaps)),
        "received": in_unit(balance.received, balance.uom) or "",
        "accounted": in_unit(balance.accounted, balance.uom) or "",
        "reconciled": percent(balance.reconciled) or "",
        "uom": UNIT_WORDS.get(balance.uom, balance.uom),
        "records": str(forward.tree_size), "digest": _digest(forward, back, balance),
    }  # fmt: skip
    lost = sorted(line.node.said for line in _of(forward, "hull") if line.place in (None, NOBODY))
    return Outcome(of.as_known_on, said, (*(("no place", plate) for plate in lost), *_unexplained(balance)))


def _of(answer: Answer, kind: str) -> list[Line]:
    return [line for line in answer.lines if line.node.kind == kind]


def _verdicts(lines: list[Line], verdict: Verdict) -> str:
    return str(sum(1 for line in lines if line.verdict == verdict))


def _hulls(forward: Answer) -> dict[str, str]:
    """How many hulls the lot went into, and how many of them are in the plant, gone, or nobody knows where."""
    hulls = _of(forward, "hull")
    nowhere = sum(1 for line in hulls if line.place in (None, NOBODY))
    gone = sum(1 for line in hulls if line.place != NOBODY and (line.place or "").startswith(GONE))
    return {
        "certain": _verdicts(hulls, "certain"), "may": _verdicts(hulls, "may"),
        "here": str(len(hulls) - gone - nowhere), "gone": str(gone), "nowhere": str(nowhere),
    }  # fmt: skip


def _lots(back: Answer) -> dict[str, str]:
    """How many lots went into the hull."""
    lots = _of(back, "lot")
    return {"lots": _verdicts(lots, "certain"), "lots may": _verdicts(lots, "may")}


def _unexplained(balance: Balance) -> list[tuple[str, str]]:
    """The amount that is neither in anything nor left, and what was found otherwise than the book said, by cause."""
    uom = UNIT_WORDS.get(balance.uom, balance.uom)
    found = [
        (one.way, f"{in_unit(one.bounds.best, balance.uom)} {uom}") for one in balance.differences if one.bounds.best
    ]
    left = balance.unexplained.best
    if left is None:
        return [*found, ("not known", uom)]
    return [*found, *([("unexplained", f"{in_unit(left, balance.uom)} {uom}")] if left else [])]


def _digest(forward: Answer, back: Answer, balance: Balance) -> str:
    """SHA-256 of all that the figures stand for: each unit with its verdict and place, and the whole balance."""
    told: list[Any] = [
        [line.node.uid, line.verdict, line.place, str(line.share.total.least), str(line.share.total.most)]
        for answer in (forward, back)
        for line in answer.lines
    ]
    text = json.dumps([told, as_document(balance)], sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def drills(as_known_on: datetime | None = None, uid: str = "") -> list[Drill]:
    """The last 60 drills that were begun by then, the newest first; the one of this uid alone, where one is named."""
    return [_drill(row) for row in fetch_json(BEGUN_ANY, {"known": known_by(as_known_on), "uid": uid})]


def drills_for(units: Collection[int], as_known_on: datetime | None = None) -> list[Drill]:
    """The last 60 drills that were begun by then for one of these units, the newest first."""
    if not units:
        return []
    return [_drill(row) for row in fetch_json(BEGUN_FOR, {"known": known_by(as_known_on), "units": id_array(units)})]


def _drill(row: Mapping[str, Any]) -> Drill:
    signed = row["signed"] or {}
    says = signed.get("says", {})
    marks = {way: datetime.fromisoformat(at) for way, at in (row["marks"] or {}).items()}
    return Drill(
        row["id"], row["uid"], row["says"]["lot"], row["says"]["hull"], datetime.fromisoformat(row["begun"]),
        row["person"] or "", marks, datetime.fromisoformat(signed["at"]) if signed else None,
        signed.get("person") or "", says.get("result", {}),
        tuple((what, which) for what, which in says.get("unaccounted", ())), says.get("remark", ""),
    )  # fmt: skip


def drawn_by_lot() -> tuple[str, str]:
    """(the uid of a lot, the plate of a hull), each drawn at random; "" where there is none."""
    lot, hull = fetch_rows(DRAWN, {})[0]
    return lot or "", hull or ""
