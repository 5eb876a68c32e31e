"""How much was charged of one layer: the kilograms that were tipped into each load for it, as known on a day."""

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from decimal import Decimal

from trace.genealogy.amounts import Verdict
from trace.genealogy.cause_words import WEIGHED
from trace.genealogy.causes import Within
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.missing import Gap
from trace.genealogy.prepared import fetch_rows

# What was tipped for a layer that nobody said may be of any.
CHARGED = f"""
SELECT e.child, CASE WHEN e.layer IS NOT NULL THEN e.amount END FROM edge e
WHERE e.child = ANY (%(units)s::bigint[]) AND e.role = 'charge' AND COALESCE(e.layer, %(layer)s::text) = %(layer)s::text
  AND NOT e.aside AND {LIVE} ORDER BY e.id
"""
# These name the layer that lacks something, so that the others are whole.
OF_A_LAYER = frozenset({"layer", "weighing"})


def layer_masses(
    layer: str, units: Collection[int], gaps: Collection[Gap], as_known_on: datetime | None = None
) -> Mapping[int, Decimal | None]:
    """By unit the kilograms charged for the layer, together where there were several charges of it; None where the
    records do not say all of it. Units that had no charge of it, and lack none, are left out."""
    values = {"units": id_array(units), "layer": layer, "known": known_by(as_known_on)}
    found = summed(fetch_rows(CHARGED, values))
    return {**found, **dict.fromkeys((gap.unit for gap in gaps if leaves_open(gap.what, gap.which, layer)), None)}


def summed(charges: Iterable[tuple[int, int | None]]) -> dict[int, Decimal | None]:
    """The kilograms of each load out of the mg of its charges; None where one of them is not known."""
    found: dict[int, Decimal | None] = {}
    for load, mg in charges:
        before = found.get(load, Decimal(0))
        found[load] = None if mg is None or before is None else before + Decimal(mg).scaleb(-6)
    return found


def leaves_open(what: str, which: str, layer: str) -> bool:
    """Whether a gap leaves open how much of the layer was charged."""
    return what in WEIGHED and (what not in OF_A_LAYER or which in (layer, ""))


def verdict_of(cause: Within, masses: Collection[Decimal | None]) -> Verdict:
    """Of a hull by what was charged for each load that it came of."""
    if any(mass is not None and cause.takes(mass) for mass in masses):
        return "certain"
    return "may" if None in masses else "cannot"
