"""Every hull known on a day: what it was made as, and when it left its mould: a moment, or a span where nobody recorded
it to the second.
"""

import json
from calendar import monthrange
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from typing import Any, NamedTuple

from django.utils import timezone

from trace.genealogy.live import LIVE, known_by
from trace.genealogy.made_as import exchanged
from trace.genealogy.prepared import fetch_rows

MICROSECONDS = "(extract(epoch FROM {}.happened) * 1000000)::bigint"
# A hull joined of several mouldings is as old as the last of them; each is a row.
# One by one by key (OFFSET 0): reading all events to find these would take twice as long. A hull that was bound was
# named before, so that its own event is asked for only where there is no moulding. Times as numbers: to make a moment
# of each, of a hundred thousand hulls, takes longer than to read them.
BUILT = f"""
SELECT u.id, u.uid::text, u.about::text, COALESCE(m.at, h.at), m.unsure, m.id
FROM unit u
LEFT JOIN LATERAL (
  SELECT {MICROSECONDS.format("v")} AS at, v.unsure_ms AS unsure, p.id FROM edge e
  JOIN unit p ON p.id = e.parent JOIN event v ON v.id = p.event
  WHERE e.child = u.id AND e.role IN ('bind', 'join') AND NOT e.aside AND {LIVE} OFFSET 0) m ON true
LEFT JOIN LATERAL (
  SELECT {MICROSECONDS.format("v")} AS at FROM event v
  WHERE m.id IS NULL AND v.id = u.event AND v.recorded <= %(known)s::timestamptz OFFSET 0) h ON true
WHERE u.kind = 'hull' AND (m.id IS NOT NULL OR h.at IS NOT NULL)
"""
EARLIEST = datetime(1900, 1, 1, tzinfo=UTC)
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class Built:
    """The hull was made at some moment from `first` to `last`."""

    first: datetime
    last: datetime


class Hull(NamedTuple):
    """One hull. `about`: what it was made as (model, recipe, colour, cavity …), of one that was `joined` of several
    mouldings the first of them. It was made from `first` to `last`, in microseconds since 1970."""

    id: int
    uid: str
    about: Mapping[str, Any]
    first: int
    last: int
    joined: bool = False

    @property
    def built(self) -> Built:
        return Built(at(self.first), at(self.last))


# Half the time of Hull._make.
_hull = partial(tuple.__new__, Hull)


def at(microseconds: int) -> datetime:
    """The moment so many microseconds after the beginning of 1970."""
    return EPOCH + microseconds * MICROSECOND


def microseconds(moment: datetime) -> int:
    """A moment as hulls have it."""
    return (moment - EPOCH) // MICROSECOND


def all_hulls(as_known_on: datetime | None = None) -> dict[int, Hull]:
    """Every hull known by then, by id."""
    rows = fetch_rows(BUILT, {"known": known_by(as_known_on)})
    last: dict[int, tuple[int, int]] = {}
    joined = set[int]()
    for hull, _uid, _about, made, _unsure, moulding in rows:
        if hull in last:
            joined.add(hull)
        if moulding is not None:
            last[hull] = max(last.get(hull, (made, moulding)), (made, moulding))
    others = exchanged([row[0] for row in rows], as_known_on)
    # Many hulls were made as the same thing: each text is read once.
    read = {text: json.loads(text) for text in {row[2] for row in rows}.union(others.values())}
    return {
        hull: _hull((
            hull, uid, read[others.get(hull, text)],
            *(_named(read[text], made) if moulding is None else _left(made, unsure)), hull in joined,
        ))
        for hull, uid, text, made, unsure, moulding in rows
        if moulding is None or last[hull] == (made, moulding)
    }  # fmt: skip


def _left(made: int, unsure: int | None) -> tuple[int, int]:
    doubt = 1000 * (unsure or 0)
    return made - doubt, made + doubt


def _named(about: Mapping[str, Any], named: int) -> tuple[int, int]:
    """Of one made before records began: its record may say a day, a month, a year, or nothing."""
    built = _said(about.get("made") or "", at(named))
    return microseconds(built.first), microseconds(built.last)


def _said(made: str, named: datetime) -> Built:
    year, month, day = (*made.split("-"), "", "")[:3]
    try:
        low, high = (int(month), int(month)) if month else (1, 12)
        days = (int(day), int(day)) if day else (1, monthrange(int(year), high)[1])
        first, last = date(int(year), low, days[0]), date(int(year), high, days[1])
    except ValueError:
        return Built(EARLIEST, named)
    ended = timezone.make_aware(datetime.combine(last, time.max))
    return Built(timezone.make_aware(datetime.combine(first, time.min)), min(named, ended))
