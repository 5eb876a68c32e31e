"""Stock counts by scanning: which are open, what should stand in the place counted, what was seen and what was not."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.genealogy.live import held_name, label_now
from trace.genealogy.prepared import fetch_rows
from trace.readmodels.rows import moment

# How a count touches what it saw, what it did not expect there, and what it did not find.
SEEN, UNEXPECTED, MISSING = "stock seen", "stock unexpected", "stock missing"
COUNTS = """
SELECT e.id, e.uid::text, e.happened, e.person, e.body::jsonb #>> '{says,place}',
  (SELECT r.key FROM event_resource x JOIN resource r ON r.id = x.resource WHERE x.event = e.id AND x.role = 'place'),
  (SELECT min(y.happened) FROM event y WHERE y.kind = 'stock_count_ended' AND y.id > e.id
     AND y.body::jsonb #>> '{says,count}' = e.uid::text)
  FROM event e WHERE e.kind = 'stock_count_begun' AND (%(uid)s::text = '' OR e.uid::text = %(uid)s::text)
 ORDER BY e.id DESC LIMIT %(most)s::int
"""
# What stands there by the book and can be scanned: what is left in containers, hulls outside of packs, packs, samples.
# What was put there after the count began was scanned when it was.
STANDING = f"""
SELECT u.id, u.uid::text, u.kind, {held_name("u")},
  COALESCE({label_now("l.unit = u.id OR l.carrier = u.carrier")}, ''), s.balance, u.uom,
  EXISTS (SELECT FROM event v JOIN event_unit x ON x.event = v.id AND x.unit = u.id AND x.role = '{SEEN}'
     WHERE v.kind = 'stock_seen' AND v.id > %(begun)s::bigint AND v.body::jsonb #>> '{{says,count}}' = %(uid)s::text),
  p.since > %(at)s::timestamptz
  FROM place_now p JOIN unit u ON u.id = p.unit JOIN unit_state s ON s.unit = u.id
 WHERE p.place = %(place)s::text AND s.status IS DISTINCT FROM 'packed'
   AND COALESCE(s.status, '') NOT IN ('scrapped', 'dispatched', 'used up', 'given back', 'used in a test', 'discarded')
   AND (u.kind IN ('hull', 'pack', 'sample') OR (u.kind = 'content' AND EXISTS (
     SELECT FROM carrier_state k WHERE k.content = u.id)))
 ORDER BY 4, u.id
"""
STRANGERS = f"""
SELECT x.unit FROM event v JOIN event_unit x ON x.event = v.id AND x.role = '{UNEXPECTED}'
 WHERE v.kind = 'stock_seen' AND v.id > %(begun)s::bigint AND v.body::jsonb #>> '{{says,count}}' = %(uid)s::text
"""
PLACED = "SELECT unit, place FROM place_now WHERE unit = ANY (%(units)s::bigint[])"


@dataclass(frozen=True, slots=True)
class StockCount:
    """One count: of which place (its key), by whom and since when, and when it was ended."""

    id: int
    uid: str
    begun: datetime
    person: str
    place: str
    ended: datetime | None


@dataclass(frozen=True, slots=True)
class Standing:
    """One thing that stands in the place by the book. seen: by this count; strange: the book had it elsewhere until
    then; came: it was put there after the count began."""

    unit: int
    uid: str
    kind: str
    name: str
    code: str
    balance: int | None
    uom: str | None
    seen: bool
    strange: bool
    came: bool

    @property
    def missing(self) -> bool:
        return not (self.seen or self.came)


def stock_counts(uid: str = "", most: int = 60) -> list[StockCount]:
    """The counts, the newest first; that of this uid alone."""
    return [
        StockCount(number, one, _moment(at), who or "", place or said, _moment(over) if over else None)
        for number, one, at, who, said, place, over in fetch_rows(COUNTS, {"uid": uid, "most": most})
    ]


def standing(count: StockCount) -> list[Standing]:
    """What stands in the place now by the book, with what this count has seen of it."""
    values = {"begun": count.id, "uid": count.uid, "place": count.place, "at": count.begun.isoformat()}
    strange = {unit for (unit,) in fetch_rows(STRANGERS, {"begun": count.id, "uid": count.uid})}
    return [
        Standing(unit, one, kind, name, code, balance, uom, seen, unit in strange, came and not seen)
        for unit, one, kind, name, code, balance, uom, seen, came in fetch_rows(STANDING, values)
    ]


def stands_in(units: Iterable[int]) -> dict[int, str]:
    """Where these units stand by the book."""
    return dict(fetch_rows(PLACED, {"units": list(units)}))


def _moment(value: Any) -> datetime:
    return moment(value) if isinstance(value, str) else value
