"""The dispersion of all lots over the hulls of some plant days, as known on a day; as a document and as lines."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext as _

from trace.genealogy.answer import one_picture, what_was_known
from trace.genealogy.built import all_hulls, microseconds
from trace.genealogy.dispersion import Dispersion, dispersion_of
from trace.genealogy.documents import utc
from trace.genealogy.graph import Node
from trace.genealogy.plan_documents import mean_said
from trace.genealogy.plant_days import plant_days
from trace.genealogy.walk import nodes


class ManyHullsError(Exception):
    """More hulls than are reckoned with while somebody waits; the text is one sentence."""


@dataclass(frozen=True, slots=True)
class Spread:
    """`lots` by how many hulls each reached, the most first. A hull that may have been made on these days counts."""

    first: date | None
    last: date | None
    as_known_on: datetime
    tree_size: int
    found: Dispersion
    lots: tuple[Node, ...]

    @property
    def hulls(self) -> int:
        return len(self.found.up)


def spread_of(
    first: date | None = None, last: date | None = None, as_known_on: datetime | None = None, *, most: int | None = None
) -> Spread:
    """Of the hulls that left their mould on these plant days, both counted; None: no bound on that side. Raises
    UnknownCodeError where nothing was recorded by then, ManyHullsError for more than `most` hulls."""
    with one_picture():
        known, size = what_was_known(as_known_on)
        begins, ends = (None if end is None else microseconds(end) for end in plant_days(known).span(first, last))
        hulls = [
            hull.id
            for hull in all_hulls(known).values()
            if (begins is None or hull.last >= begins) and (ends is None or hull.first < ends)
        ]
        if most is not None and len(hulls) > most:
            raise ManyHullsError(_("More than %(most)d hulls were made on these days.") % {"most": most})
        found = dispersion_of(hulls, known)
        lots = nodes(found.down, known)
        order = sorted(lots.values(), key=lambda lot: (-found.down[lot.id], lot.uid))
        return Spread(first, last, known, size, found, tuple(order))


def as_document(spread: Spread) -> dict[str, Any]:
    """{first, last, as_known_on, tree_size, hulls, links, worst, mean, lots}."""
    return {
        "first": spread.first.isoformat() if spread.first else None,
        "last": spread.last.isoformat() if spread.last else None,
        "as_known_on": utc(spread.as_known_on),
        "tree_size": spread.tree_size,
        "hulls": spread.hulls,
        "links": spread.found.links,
        "worst": spread.found.worst,
        "mean": mean_said(spread.found.mean),
        "lots": [
            {
                "id": lot.uid, "lot": lot.lot_no, "material": lot.about.get("material"),
                "hulls": spread.found.down[lot.id],
            }
            for lot in spread.lots
        ],
    }


def as_lines(spread: Spread) -> Iterator[str]:
    yield _("%(hulls)d hulls, %(lots)d lots, %(links)d links between them") % {
        "hulls": spread.hulls, "lots": len(spread.lots), "links": spread.found.links,
    }  # fmt: skip
    yield _("A recall of one lot takes %(worst)d hulls at the worst, %(mean)s on average.") % {
        "worst": spread.found.worst, "mean": mean_said(spread.found.mean),
    }  # fmt: skip
    for lot in spread.lots:
        yield f"  {lot.about.get('material') or '?'} {lot.lot_no or lot.said}: {spread.found.down[lot.id]}"
