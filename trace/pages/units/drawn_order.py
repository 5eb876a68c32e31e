"""How a works order is drawn: what is ordered, made, packed, gone and under way, on one axis of pieces."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from trace.drawings.strips import Strip, strips
from trace.genealogy.live import LIVE, known_by
from trace.genealogy.places import GONE, packs_of, places
from trace.genealogy.prepared import fetch_rows
from trace.pages.sheets import Drawn

# The loads that were made ready for the order, and what became of them on the ways on which a whole goes on.
MADE_OF = f"""
WITH RECURSIVE w(unit) AS (
  SELECT u.id FROM event_resource x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
    JOIN unit u ON u.event = v.id AND u.kind = 'load' WHERE x.resource = %(thing)s::bigint
  UNION
  SELECT c.child FROM w, LATERAL (SELECT e.child FROM edge e WHERE e.parent = w.unit
     AND e.role IN ('cavity', 'cut', 'join', 'bind') AND NOT e.aside AND {LIVE} OFFSET 0) c)
SELECT u.id, u.kind, COALESCE(u.about->>'mould', ''),
  COALESCE((SELECT s->>'status' FROM event_unit x
     JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
     CROSS JOIN LATERAL jsonb_array_elements(COALESCE(v.body::jsonb->'rows'->'statuses', '[]')) AS s
     WHERE x.unit = u.id AND x.role = 'status' AND s->>'unit' = u.uid::text ORDER BY v.id DESC LIMIT 1), ''),
  EXISTS (SELECT FROM edge e WHERE e.parent = u.id AND e.role IN ('cavity', 'cut', 'join', 'bind')
     AND NOT e.aside AND {LIVE})
FROM w JOIN unit u ON u.id = w.unit ORDER BY u.id
"""
# What is no longer under way though nothing came of it.
OVER = ("given up", "aborted", "scrapped")


@dataclass(frozen=True, slots=True)
class _Made:
    """One load, moulding, part or hull of an order."""

    id: int
    kind: str
    mould: str
    status: str
    went_on: bool

    @property
    def whole(self) -> bool:
        return self.kind == "hull" and self.status != "scrapped"

    @property
    def lost(self) -> bool:
        return self.status == "scrapped" and self.kind != "load" and not self.went_on

    @property
    def under_way(self) -> bool:
        return self.kind != "hull" and not self.went_on and self.status not in OVER


def drawn_order(thing: int, body: Mapping[str, Any], asked: datetime | None) -> Drawn:
    """The strips of the order, and the same in numbers; as known on a day."""
    shown = list(_shown(thing, _whole(body.get("quantity")), asked))
    title = _("Ordered, made, packed, under way")
    return Drawn(
        title, (_("Pieces"), _("Number"), _("Which")),
        tuple(((strip.label, ""), (str(strip.count), ""), (words, "")) for strip, words in shown),
        sketch=strips([strip for strip, _words in shown], title),
    )  # fmt: skip


def _shown(thing: int, ordered: int | None, asked: datetime | None) -> Iterator[tuple[Strip, str]]:
    """Each strip with what is said beside its number."""
    every = [_Made(*row) for row in fetch_rows(MADE_OF, {"thing": thing, "known": known_by(asked)})]
    hulls = [one for one in every if one.whole]
    at = places([one.id for one in hulls], asked)
    left = {one.id for one in hulls if at.get(one.id, "").startswith(GONE)}
    packed = len(packs_of([one.id for one in hulls], asked).keys() - left)
    under_way = [one for one in every if one.under_way]
    made, gone = len(hulls), len(left)
    yield Strip(_("ordered"), ordered or 0, dashed=True), "" if ordered else _("how many is not recorded")
    yield Strip(_("made"), made), _of(made, ordered)
    yield Strip(_("gone"), gone), ""
    yield Strip(_("packed, here"), packed, gone), ""
    yield Strip(_("not packed"), made - gone - packed, gone + packed), ""
    yield Strip(_("under way"), len(under_way), made, dashed=True), _under_way(under_way)
    yield Strip(_("scrapped"), sum(one.lost for one in every)), ""


def _whole(text: object) -> int | None:
    return int(str(text)) if str(text).isdecimal() else None


def _of(made: int, ordered: int | None) -> str:
    if not ordered:
        return ""
    left = ordered - made
    if left < 0:
        return _("%(n)d more than ordered") % {"n": -left}
    return _("%(n)d still to make, with what is under way") % {"n": left} if left else _("all of them")


def _under_way(units: Sequence[_Made]) -> str:
    """In which moulds, and how many are out of theirs and have no plate yet."""
    loads = Counter(one.mould for one in units if one.kind == "load")
    said = [_("in %(mould)s") % {"mould": mould or _("a mould")} for mould in sorted(loads)]
    out = len(units) - sum(loads.values())
    return ", ".join([*said, *([_("%(n)d without a plate") % {"n": out}] if out else [])])
