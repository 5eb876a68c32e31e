"""What a person must look at: all of it, each with the bag, the hull and the order it is about."""

from typing import Any

from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes import printed
from trace.genealogy.live import label_now, live
from trace.pages.open_lists.listed import Line, OpenList, rows, thing_url
from trace.pages.units.unit import kind_word
from trace.readmodels.rows import moment
from trace.sheets.addresses import hull_url
from trace.speech import names_of

COUNT = "SELECT count(*), min(e.happened) FROM discrepancy d JOIN event e ON e.id = d.event WHERE d.closed_by IS NULL"
# A charge, load or moulding is looked for in the hull it became; a pack by the hulls in it.
QUESTIONS = f"""
WITH RECURSIVE shown AS MATERIALIZED (
  SELECT d.event, d.n, d.kind, d.unit FROM discrepancy d WHERE d.closed_by IS NULL
   ORDER BY d.event DESC, d.n OFFSET %(skipped)s LIMIT %(most)s),
 down(start, unit) AS (
  SELECT s.unit, s.unit FROM shown s JOIN unit u ON u.id = s.unit AND u.kind IN ('charge', 'load', 'moulding', 'part')
  UNION
  SELECT w.start, e.child FROM down w JOIN edge e ON e.parent = w.unit
   WHERE e.role IN ('charge', 'cavity', 'cut', 'bind', 'join') AND {live("e")}),
 hulls AS (
  SELECT w.start AS unit, t.text FROM down w JOIN serial_state t ON t.hull = w.unit
  UNION
  SELECT s.unit, t.text FROM shown s JOIN edge e ON e.child = s.unit AND e.role = 'pack' AND {live("e")}
    JOIN serial_state t ON t.hull = e.parent)
SELECT v.uid AS event, s.n, s.kind, v.kind AS act, v.person, v.happened, u.uid, u.kind AS thing, u.lot_no,
  u.about->>'material' AS material, u.about->>'order' AS works,
  (SELECT text FROM serial_state WHERE hull = u.id) AS serial,
  {label_now("l.unit = u.id OR l.carrier = u.carrier")} AS code,
  (SELECT json_agg(DISTINCT h.text) FROM hulls h WHERE h.unit = s.unit) AS hulls
FROM shown s JOIN event v ON v.id = s.event LEFT JOIN unit u ON u.id = s.unit ORDER BY s.event DESC, s.n
"""


def lines(skipped: int, most: int) -> list[Line]:
    """Newest first."""
    found = rows(QUESTIONS, {"skipped": skipped, "most": most})
    names = names_of({one["person"] for one in found if one["person"]})
    return [_line(one, names) for one in found]


def _line(one: dict[str, Any], names: dict[str, str]) -> Line:
    name = one["serial"] or one["lot_no"]
    url = thing_url(one["thing"], one["serial"], one["code"], one["uid"])
    codes = [(text, url) for text in (printed(one["code"]) if one["code"] else "", name or "") if text]
    if one["thing"] and not codes:
        codes = [(kind_word(one["thing"]), url)]
    hulls = [(text, hull_url(text)) for text in one["hulls"] or [] if text != one["serial"]]
    what = kind_word(one["thing"]) if one["thing"] else ""
    return Line(
        what=one["kind"],
        since=moment(one["happened"]),
        codes=(*codes, *hulls),
        detail=", ".join(str(x) for x in (one["material"], what if codes else "", one["works"]) if x),
        who=names.get(one["person"] or "", ""),
        do=_("Say what came of it"),
        do_url=f"{reverse('station', args=['discrepancies'])}?"
        + urlencode({"discrepancy": f"{one['event']}:{one['n']}"}),
    )


TO_LOOK_AT = OpenList(
    "questions", gettext_lazy("What needs a look"), gettext_lazy("What the records could not explain"),
    gettext_lazy("Nothing waits for a person's look."), gettext_lazy("newest first"), COUNT, lines,
)  # fmt: skip
