"""Recalls: which hulls went to whom, what each consignee has answered, and how much of it is put right by now.

A reply names hulls by their plates, or counts them where nobody read the plates. Of a hull the last word counts, of the
hulls that no reply names the last count.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from trace.codes.recall_notice import FIELDS
from trace.genealogy.containment import looked_for
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.prepared import fetch_json, fetch_rows

# What a consignee can answer of a hull: it is there and set aside; put right (repaired, replaced or paid back);
# destroyed; not there any more.
OUTCOMES = ("found", "corrected", "destroyed", "not found")
RECALLED, REPLIED = "recalled", "replied"

SENT = f"""
SELECT h.unit, COALESCE(p.pack, ''), COALESCE(c.about->>'order', ''), COALESCE(c.about->>'gone', ''), v.happened,
  COALESCE(v.body::jsonb->'says'->>'vehicle', '')
FROM (SELECT unnest(%(ids)s::bigint[]) AS unit) h
LEFT JOIN LATERAL (
  SELECT e.child, (SELECT l.code::text FROM label l JOIN event x ON x.id = l.event
     WHERE l.unit = e.child AND x.recorded <= %(known)s::timestamptz ORDER BY l.event DESC, l.code LIMIT 1) AS pack
   FROM edge e WHERE e.parent = h.unit AND e.role = 'pack' AND NOT e.aside AND {LIVE}
   ORDER BY e.id DESC LIMIT 1) p ON true
JOIN LATERAL (
  SELECT e.child, e.event FROM edge e WHERE e.parent IN (h.unit, p.child) AND e.role = 'ship' AND NOT e.aside AND {LIVE}
   ORDER BY e.id DESC LIMIT 1) s ON true
JOIN unit c ON c.id = s.child JOIN event v ON v.id = s.event
"""
BEGUN = """
SELECT COALESCE(json_agg(json_build_object('id', e.id, 'uid', e.uid, 'begun', e.happened, 'recorded', e.recorded,
   'person', e.person, 'says', e.body::jsonb->'says') ORDER BY e.id DESC), '[]')::text
  FROM (SELECT * FROM event b WHERE b.kind = 'recall_begun' AND b.recorded <= %(known)s::timestamptz
           AND (%(uid)s::text = '' OR b.uid::text = %(uid)s::text) ORDER BY b.id DESC LIMIT 60) e
"""
REPLIES = """
SELECT COALESCE(json_agg(json_build_object('happened', e.happened, 'person', e.person, 'says', e.body::jsonb->'says')
   ORDER BY e.happened, e.id), '[]')::text
  FROM event e WHERE e.kind = 'recall_replied' AND e.id > %(from)s::bigint AND e.recorded <= %(known)s::timestamptz
   AND e.body::jsonb->'says'->>'recall' = %(uid)s::text
"""


@dataclass(frozen=True, slots=True)
class Recall:
    """A recall as its first record says it. `notice`: the digests of its texts by field; `checked`: the codes of what
    was ticked; `discovered`: the day on which the defect was found, as typed; the rest as of a walk's Begun."""

    id: int
    uid: str
    begun: datetime
    person: str
    hold: str
    question: tuple[str, ...]
    known_on: str
    may: frozenset[str]
    discovered: str
    remedies: tuple[str, ...]
    checked: frozenset[str]
    notice: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Sent:
    """How a hull left: in which pack, on which order, when (`day` where only that is known) and on which vehicle."""

    pack: str
    order: str
    day: str
    happened: datetime
    vehicle: str


@dataclass(frozen=True, slots=True)
class Reply:
    """One reply sheet: plate -> outcome, outcome -> how many of those not named; `contact` and `remark` are digests."""

    consignee: str
    happened: datetime
    person: str
    day: str
    results: Mapping[str, str]
    counts: Mapping[str, int]
    contact: str
    remark: str


@dataclass(frozen=True, slots=True)
class Answered:
    """How the hulls of one consignee stand: of `sent` hulls so many have each outcome, and nobody said of the rest."""

    sent: int
    outcomes: Mapping[str, int]
    named: Mapping[str, str]
    replies: int

    def of(self, outcome: str) -> int:
        return self.outcomes.get(outcome, 0)

    @property
    def open(self) -> int:
        """Of how many hulls nobody has said anything."""
        return max(0, self.sent - sum(self.outcomes.values()))


def recalls(as_known_on: datetime | None = None, uid: str = "") -> list[Recall]:
    """The last 60 recalls that were begun by then, the newest first; the one of this uid alone, where one is named."""
    return [_recall(row) for row in fetch_json(BEGUN, {"known": known_by(as_known_on), "uid": uid})]


def _recall(row: Mapping[str, Any]) -> Recall:
    says = row["says"]
    return Recall(
        row["id"], row["uid"], datetime.fromisoformat(row["begun"]), row["person"] or "", says["hold"],
        tuple(says["question"]), says["known_on"], frozenset(says["may"]), says["discovered"],
        tuple(says["remedies"]), frozenset(says["checked"]),
        {name: says[name] for name in FIELDS},
    )  # fmt: skip


def replies(recall: Recall, as_known_on: datetime | None = None) -> list[Reply]:
    """Every reply sheet of a recall, in the order in which they came."""
    rows = fetch_json(REPLIES, {"uid": recall.uid, "from": recall.id, "known": known_by(as_known_on)})
    return [
        Reply(
            row["says"]["consignee"], datetime.fromisoformat(row["happened"]), row["person"] or "", row["says"]["day"],
            row["says"]["results"], {name: int(n) for name, n in row["says"]["counts"].items()},
            row["says"]["contact"], row["says"]["remark"],
        )
        for row in rows
    ]  # fmt: skip


def sent(hulls: Collection[int], as_known_on: datetime | None = None) -> dict[int, Sent]:
    """How each of these hulls left; those that are still here are left out."""
    rows = fetch_rows(SENT, {"ids": id_array(hulls), "known": known_by(as_known_on)})
    return {
        unit: Sent(pack, order, day, happened, vehicle) for unit, pack, order, day, happened, vehicle in rows
    }


def gone_by_consignee(hulls: Collection[int], as_known_on: datetime | None = None) -> dict[str, list[str]]:
    """Consignee's key -> plates of the hulls among these that have gone to them, as known then."""
    found: dict[str, list[str]] = {}
    for one in looked_for(hulls, (), as_known_on):
        if one.gone:
            found.setdefault(one.gone, []).append(one.node.code)
    return found


def answered(plates: Collection[str], said: Iterable[Reply]) -> Answered:
    """How the hulls of one consignee stand after these replies, which are in the order in which they came."""
    named: dict[str, str] = {}
    counts: Mapping[str, int] = {}
    number = 0
    for reply in said:
        number += 1
        named |= {plate: outcome for plate, outcome in reply.results.items() if plate in plates}
        counts = reply.counts or counts
    totals = Counter(named.values())
    totals.update(counts)
    return Answered(len(plates), dict(totals), named, number)


def by_consignee(gone: Mapping[str, Sequence[str]], said: Sequence[Reply]) -> dict[str, Answered]:
    """Consignee's key -> how their hulls stand."""
    return {key: answered(plates, [one for one in said if one.consignee == key]) for key, plates in gone.items()}


def day_after(day: str, days: int) -> date | None:
    """The day so many days after a day as typed; None where that is none."""
    try:
        return date.fromordinal(date.fromisoformat(day).toordinal() + days)
    except (ValueError, OverflowError):
        return None
