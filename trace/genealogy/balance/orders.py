"""The balance of a works order: what was weighed and placed for it, by material, and where that is now."""

from collections.abc import Mapping
from datetime import datetime
from fractions import Fraction

from django.utils.translation import gettext as _

from trace.genealogy.answer import one_picture, what_was_known
from trace.genealogy.balance.drawn import Asked, Measure, ends_of, line_in, lines_out, measure_of, powder_first
from trace.genealogy.balance.ends import Ends
from trace.genealogy.balance.figures import Balance
from trace.genealogy.balance.records import Said, edges_into, said_by
from trace.genealogy.balance.subjects import NoBalanceError
from trace.genealogy.balance.weighed import of_draws
from trace.genealogy.graph import Edge, Node
from trace.genealogy.live import known_by
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import nodes

# The charges and loads that acts for the order made.
MADE_FOR = """
SELECT DISTINCT u.id FROM event_resource x JOIN resource r ON r.id = x.resource
JOIN event e ON e.id = x.event AND e.recorded <= %(known)s::timestamptz JOIN unit u ON u.event = e.id
WHERE r.kind = 'works_order' AND r.key = %(key)s::text AND u.kind IN ('charge', 'load')
"""
THERE = """
SELECT r.key FROM resource r JOIN event e ON e.id = r.event AND e.recorded <= %(known)s::timestamptz
WHERE r.kind = 'works_order' AND upper(r.key) = upper(%(key)s::text)
"""
WEIGHED = frozenset({"draw", "ingredient"})
PLACED = frozenset({"insert", "graphic"})


def order_named(key: str, as_known_on: datetime | None = None) -> str | None:
    """The key of the works order that a text names; None where it names none."""
    rows = fetch_rows(THERE, {"key": key.strip()[:100], "known": known_by(as_known_on)})
    return rows[0][0] if rows else None


def balances_of_order(key: str, as_known_on: datetime | None = None) -> list[Balance]:
    """One for each material, powder first. Raises NoBalanceError where the plant has no such order."""
    with one_picture():
        known, size = what_was_known(as_known_on)
        name = order_named(key, known)
        if name is None:
            raise NoBalanceError(_("No works order %(key)s is known.") % {"key": key[:40]})
        made = [unit for (unit,) in fetch_rows(MADE_FOR, {"key": name, "known": known_by(known)})]
        every = [e for e in edges_into(made, known) if e.role in WEIGHED | PLACED]
        units, said = nodes({e.parent for e in every}, known), said_by(every)
        ends = ends_of({e.child for e in every}, known)
        by_measure: dict[Measure, list[Edge]] = {}
        for edge in every:
            by_measure.setdefault(measure_of(units[edge.parent], edge.uom), []).append(edge)
        asked = Asked("works order", name, known, size)
        return [
            _of_material(asked, measure, edges, units, ends, said)
            for measure, edges in sorted(by_measure.items(), key=powder_first)
        ]


def _of_material(
    asked: Asked, measure: Measure, edges: list[Edge], units: Mapping[int, Node], ends: Ends, said: Mapping[int, Said]
) -> Balance:
    told = [edge for edge in edges if edge.amount is not None]
    came = [line_in("weighed" if e.role in WEIGHED else "placed", e, units[e.parent], said[e.id]) for e in told]
    ways = lines_out(told, units, ends, said)
    weighed = [(edge, Fraction(1)) for edge in told if edge.role in WEIGHED and edge.uom == "mg"]
    # Nothing is unexplained of what was weighed itself: this is how far its sum may be off.
    off = of_draws(weighed, ends.graph.nodes, asked.known)
    return asked.balance(measure, came, ways, [], 0, unrecorded=len(edges) - len(told), uncertainty=off)
