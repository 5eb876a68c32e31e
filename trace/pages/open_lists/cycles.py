"""Open cycles: what was sent into an oven and has not come out of its mould yet."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.genealogy.live import person_name
from trace.pages.open_lists.listed import Line, OpenList, rows
from trace.pages.open_lists.picking import in_order, keys_of
from trace.readmodels.rows import moment
from trace.recording.acts.cook import COOLING_AGAIN, IN_AGAIN
from trace.sheets.addresses import unit_url
from trace.speech import names_of

# A cycle is open while a mould is in it, or a moulding that is cooked again.
OPEN = f"""
  SELECT m.cycle, r.key AS thing, m.stage, m.order AS works FROM mould_state m JOIN resource r ON r.id = m.mould
   WHERE m.cycle IS NOT NULL AND m.stage IN ('in oven', 'cooling', 'to demould')
  UNION ALL
  SELECT (SELECT max(k.cycle) FROM cook k WHERE k.unit = s.unit),
    COALESCE((SELECT text FROM serial_state WHERE hull = u.id), u.lot_no, u.kind), s.status, u.about->>'order'
    FROM unit_state s JOIN unit u ON u.id = s.unit WHERE s.status IN ('{IN_AGAIN}', '{COOLING_AGAIN}')
"""
COUNT = f"""SELECT count(DISTINCT o.cycle), min(e.happened) FROM ({OPEN}) o
  JOIN cycle c ON c.id = o.cycle JOIN event e ON e.id = c.event"""
MACHINES = """(SELECT string_agg(r.key, ', ' ORDER BY x.role DESC) FROM event_resource x
  JOIN resource r ON r.id = x.resource WHERE x.event = e.id AND x.role IN ('oven', 'arm'))"""
# A cycle is as far as the first of what is in it.
PICKS = f"""
WITH o AS MATERIALIZED ({OPEN})
SELECT c.uid::text AS key, e.happened AS since,
  (SELECT min(o.stage) FROM o WHERE o.cycle = c.id) AS kind,
  concat_ws(' ', c.number, {MACHINES}, {person_name("e.person")},
    (SELECT string_agg(concat_ws(' ', o.thing, o.stage, o.works), ' ') FROM o WHERE o.cycle = c.id)) AS words
FROM cycle c JOIN event e ON e.id = c.event WHERE c.id IN (SELECT cycle FROM o)
"""
CYCLES = f"""
WITH o AS MATERIALIZED ({OPEN})
SELECT c.uid::text AS key, c.number, e.happened, e.person, {MACHINES} AS machines,
  (SELECT json_agg(json_build_object('thing', o.thing, 'stage', o.stage, 'works', o.works) ORDER BY o.thing)
     FROM o WHERE o.cycle = c.id) AS inside
FROM cycle c JOIN event e ON e.id = c.event WHERE c.uid = ANY (%(keys)s::uuid[])
"""


def lines(skipped: int, most: int) -> list[Line]:
    """Oldest first: the one that was perhaps forgotten."""
    return of(keys_of(PICKS, skipped, most))


def of(keys: Sequence[str]) -> list[Line]:
    """The cycles of these uids, in their order."""
    found = in_order(keys, rows(CYCLES, {"keys": list(keys)}))
    names = names_of({one["person"] for one in found if one["person"]})
    return [
        Line(
            what=_("Cycle %(number)s, %(machines)s") % {"number": one["number"], "machines": one["machines"] or "?"},
            since=moment(one["happened"]),
            codes=tuple((str(x["thing"]), unit_url(str(x["thing"]))) for x in one["inside"]),
            detail=", ".join(
                dict.fromkeys(
                    " ".join(part for part in (x["stage"], x["works"] and f"({x['works']})") if part)
                    for x in one["inside"]
                )
            ),
            who=names.get(one["person"] or "", ""),
        )
        for one in found
    ]


OPEN_CYCLES = OpenList(
    "cycles", gettext_lazy("Open cycles"), gettext_lazy("In an oven, cooling, or not demoulded yet"),
    gettext_lazy("No cycle is open."), gettext_lazy("oldest first"), COUNT, lines,
    PICKS, of, where="moulding",
)  # fmt: skip
