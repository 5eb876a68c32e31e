"""What a shift leaves to the next: what is open on the floor now, and which shifts were handed over and accepted."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from trace.codes.plant_day import Calendar, Shift
from trace.genealogy.live import held_name, label_now
from trace.genealogy.prepared import fetch_rows
from trace.readmodels.rows import moment

# In the order of the page. A sort names at most MOST of its things, the oldest first, and counts all.
SORTS = ("tubs", "loaded", "cooking", "waiting", "holds", "questions")
MOST = 100
# So long after its end a shift is still handed over, and how long the next may take to accept it where the plant sets
# nothing: common practice, no source.
STILL = timedelta(hours=1)
ACCEPT_MINUTES = 30

# Holds that concern the floor: on what is still to be used, on what is in a mould or waits for its plate, on scopes.
ON_THE_FLOOR = """(u.kind IN ('lot', 'content', 'blend', 'charge') OR h.rule LIKE 'scope %%'
   OR EXISTS (SELECT FROM mould_state m WHERE m.load = u.id)
   OR EXISTS (SELECT FROM unit_state s WHERE s.unit = u.id AND s.status = 'to bind'))"""
LEFT = f"""
WITH left_over(sort, key, name, detail, since, person) AS (
  SELECT 'tubs', u.uid::text, {label_now("l.carrier = c.id")},
    concat_ws(', ', u.about->>'layer', u.about->>'material', u.about->>'order'), e.happened, e.person
    FROM carrier_state k JOIN carrier c ON c.id = k.carrier AND c.kind IN ('tub', 'drop_box')
    JOIN unit u ON u.id = k.content AND u.kind = 'charge' JOIN event e ON e.id = u.event
  UNION ALL
  SELECT CASE WHEN m.stage IN ('open', 'closed') THEN 'loaded' WHEN m.stage = 'to demould' THEN 'waiting'
      ELSE 'cooking' END, u.uid::text, r.key,
    concat_ws(', ', m.stage, m.arm, (SELECT number FROM cycle WHERE id = m.cycle), m.order), e.happened, e.person
    FROM mould_state m JOIN resource r ON r.id = m.mould JOIN unit u ON u.id = m.load JOIN event e ON e.id = u.event
  UNION ALL
  SELECT CASE WHEN s.status = 'to bind' THEN 'waiting' ELSE 'cooking' END, u.uid::text,
    COALESCE((SELECT text FROM serial_state WHERE hull = u.id), u.lot_no, u.kind),
    concat_ws(', ', s.status, u.about->>'mould', u.about->>'order'), COALESCE(s.status_at, e.happened), e.person
    FROM unit_state s JOIN unit u ON u.id = s.unit JOIN event e ON e.id = u.event
   WHERE s.status IN ('to bind', 'in oven again', 'cooling again')
  UNION ALL
  SELECT 'holds', min(h.uid::text), min({held_name("u")}), min(h.rule), min(e.happened), min(e.person)
    FROM hold h JOIN unit u ON u.id = h.unit JOIN event e ON e.id = h.event
   WHERE NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id AND (r.unit IS NULL OR r.unit = h.unit))
     AND {ON_THE_FLOOR}
   GROUP BY CASE WHEN h.rule LIKE 'scope %%' THEN h.rule ELSE h.uid::text END
  UNION ALL
  SELECT 'questions', v.uid::text || ' ' || d.n, d.kind, COALESCE({held_name("u")}, ''), v.happened, v.person
    FROM discrepancy d JOIN event v ON v.id = d.event LEFT JOIN unit u ON u.id = d.unit WHERE d.closed_by IS NULL)
SELECT sort, key, name, detail, since, person, n::int FROM (
  SELECT *, count(*) OVER (PARTITION BY sort) AS n, row_number() OVER (PARTITION BY sort ORDER BY since, key) AS at
    FROM left_over) numbered
 WHERE at <= {MOST} ORDER BY since, key
"""
HANDED = """
SELECT e.uid::text, e.person, e.happened, e.body::jsonb->'says', a.person, a.happened
  FROM (SELECT * FROM event x WHERE x.kind = 'shift_handed_over' AND (%(uid)s::text = '' OR x.uid::text = %(uid)s::text)
         ORDER BY x.id DESC LIMIT %(most)s::int) e
  LEFT JOIN LATERAL (SELECT y.person, y.happened FROM event y WHERE y.kind = 'shift_accepted' AND y.id > e.id
     AND y.body::jsonb #>> '{says,handover}' = e.uid::text ORDER BY y.id LIMIT 1) a ON true
 ORDER BY e.id DESC
"""


@dataclass(frozen=True, slots=True)
class LeftOver:
    """One thing that a shift leaves. `key`: its uid; of an open question that of its event, with its number."""

    sort: str
    key: str
    name: str
    detail: str
    since: datetime
    person: str


@dataclass(frozen=True, slots=True)
class Left:
    """All that a shift leaves: the things named, and how many there are of each sort."""

    things: tuple[LeftOver, ...]
    counts: dict[str, int]

    def of(self, sort: str) -> list[LeftOver]:
        return [one for one in self.things if one.sort == sort]

    def keys(self, sort: str) -> tuple[str, ...]:
        return tuple(one.key for one in self.of(sort))


@dataclass(frozen=True, slots=True)
class Handed:
    """A shift that was handed over: by whom and when, what it says, and who accepted it and when."""

    uid: str
    person: str
    when: datetime
    says: dict[str, Any]
    by: str
    accepted: datetime | None


def left_now() -> Left:
    """What is open on the floor now."""
    things, counts = [], dict.fromkeys(SORTS, 0)
    for sort, key, name, detail, since, person, n in fetch_rows(LEFT, {}):
        things.append(LeftOver(sort, key, name or "?", detail, _moment(since), person or ""))
        counts[sort] = n
    return Left(tuple(things), counts)


def _moment(value: Any) -> datetime:
    return moment(value) if isinstance(value, str) else value


def handed(uid: str = "", most: int = 60) -> list[Handed]:
    """The shifts handed over, the newest first; that of this uid alone."""
    rows = fetch_rows(HANDED, {"uid": uid, "most": most})
    return [
        Handed(one, who or "", _moment(when), says, by or "", _moment(at) if at else None)
        for one, who, when, says, by, at in rows
    ]


def leaving(calendar: Calendar, now: datetime) -> tuple[Shift | None, datetime]:
    """The shift that is handed over now (None where none is worked), and when the next one begins."""
    [ends] = calendar.ends_after(now - STILL, 1)
    return calendar.shift(ends - timedelta(microseconds=1)), next(_begins(calendar, ends), ends)


def _begins(calendar: Calendar, after: datetime) -> Iterator[datetime]:
    """When a shift begins after one has ended, holidays passed over."""
    for day in range(60):
        found = [one.begins for one in calendar.shifts(calendar.day(after) + timedelta(days=day))]
        yield from sorted(begins for begins in found if begins >= after)
