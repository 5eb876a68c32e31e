"""What a person must look at: all of it, each with the bag, the hull and the order it is about."""

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext_lazy

from trace.codes import printed
from trace.genealogy.live import label_now, live, person_name
from trace.pages.open_lists.listed import Line, OpenList, rows, thing_url
from trace.pages.open_lists.picking import coded, in_order, keys_of
from trace.pages.open_lists.to_close import CLOSE
from trace.pages.units.unit import kind_word
from trace.readmodels.rows import moment
from trace.sheets.addresses import hull_url
from trace.speech import names_of

COUNT = "SELECT count(*), min(e.happened) FROM discrepancy d JOIN event e ON e.id = d.event WHERE d.closed_by IS NULL"
PICKS = f"""
SELECT v.uid || ':' || d.n AS key, v.happened AS since, d.kind AS kind,
  concat_ws(' ', d.kind, u.about->>'material', u.lot_no, (SELECT text FROM serial_state WHERE hull = u.id),
    u.about->>'order', {person_name("v.person")},
    {coded(label_now("l.unit = u.id OR l.carrier = u.carrier"))}) AS words
FROM discrepancy d JOIN event v ON v.id = d.event LEFT JOIN unit u ON u.id = d.unit WHERE d.closed_by IS NULL
"""
# A charge, load or moulding is looked for in the hull it became; a pack by the hulls in it.
QUESTIONS = f"""
WITH RECURSIVE shown AS MATERIALIZED (
  SELECT d.event, d.n, d.kind, d.unit FROM unnest(%(events)s::uuid[], %(numbers)s::int[]) AS w(uid, n)
    JOIN event x ON x.uid = w.uid JOIN discrepancy d ON d.event = x.id AND d.n = w.n AND d.closed_by IS NULL),
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
SELECT v.uid || ':' || s.n AS key, s.kind, v.kind AS act, v.person, v.happened, u.uid, u.kind AS thing, u.lot_no,
  u.about->>'material' AS material, u.about->>'order' AS works,
  (SELECT text FROM serial_state WHERE hull = u.id) AS serial,
  {label_now("l.unit = u.id OR l.carrier = u.carrier")} AS code,
  (SELECT json_agg(DISTINCT h.text) FROM hulls h WHERE h.unit = s.unit) AS hulls
FROM shown s JOIN event v ON v.id = s.event LEFT JOIN unit u ON u.id = s.unit
"""


def lines(skipped: int, most: int) -> list[Line]:
    """Oldest first."""
    return of(keys_of(PICKS, skipped, most))


def of(keys: Sequence[str]) -> list[Line]:
    """The questions of these keys (event uid:n), in their order."""
    parts = [key.partition(":") for key in keys]
    values = {"events": [event for event, _colon, _n in parts], "numbers": [int(n) for _event, _colon, n in parts]}
    found = in_order(keys, rows(QUESTIONS, values))
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
        key=str(one["key"]),
    )


TO_LOOK_AT = OpenList(
    "questions", gettext_lazy("What needs a look"), gettext_lazy("What the records could not explain"),
    gettext_lazy("Nothing waits for a person's look."), gettext_lazy("oldest first"), COUNT, lines,
    PICKS, of, acts=(CLOSE,), where="moulding",
)  # fmt: skip
