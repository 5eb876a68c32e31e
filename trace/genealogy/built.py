"""Every hull known on a day: what it was made as, and when it left its mould: a moment, or a span where nobody recorded
it to the second.
"""

import json
from calendar import monthrange
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, NamedTuple

from django.utils import timezone

from trace.genealogy.live import LIVE, known_by
from trace.genealogy.made_as import exchanged
from trace.genealogy.prepared import fetch_rows

# A hull joined of several mouldings is as old as the last of them.
BUILT = f"""
SELECT u.id, u.uid::text, u.about::text, h.happened, m.happened, m.unsure, m.several > 1
FROM unit u JOIN event h ON h.id = u.event AND h.recorded <= %(known)s::timestamptz
LEFT JOIN LATERAL (
  SELECT v.happened, COALESCE(v.unsure_ms, 0) AS unsure, count(*) OVER () AS several FROM edge e
  JOIN unit p ON p.id = e.parent JOIN event v ON v.id = p.event
  WHERE e.child = u.id AND e.role IN ('bind', 'join') AND NOT e.aside AND {LIVE}
  ORDER BY v.happened DESC, p.id DESC LIMIT 1) m ON true
WHERE u.kind = 'hull' ORDER BY u.id
"""
EARLIEST = datetime(1900, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Built:
    """The hull was made at some moment from `first` to `last`."""

    first: datetime
    last: datetime


class Hull(NamedTuple):
    """One hull. `about`: what it was made as (model, recipe, colour, cavity …), of one that was `joined` of several
    mouldings the first of them."""

    id: int
    uid: str
    about: Mapping[str, Any]
    built: Built
    joined: bool = False


def all_hulls(as_known_on: datetime | None = None) -> dict[int, Hull]:
    """Every hull known by then, by id."""
    rows = fetch_rows(BUILT, {"known": known_by(as_known_on)})
    others = exchanged([row[0] for row in rows], as_known_on)
    # Many hulls were made as the same thing: each text is read once.
    read = {text: json.loads(text) for text in {row[2] for row in rows}.union(others.values())}
    return {
        hull: Hull(
            hull, uid, read[others.get(hull, text)], _built(read[text].get("made"), named, left, unsure), bool(joined)
        )
        for hull, uid, text, named, left, unsure, joined in rows
    }


def _built(made: str | None, named: datetime, left: datetime | None, unsure: int | None) -> Built:
    if left is not None:
        doubt = timedelta(milliseconds=unsure or 0)
        return Built(left - doubt, left + doubt)
    # One made before records began: its record may say a day, a month, a year, or nothing.
    return _said(made or "", named)


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
