"""What was told late, or put right, and changed what had been recorded: which bags, which hulls, and how."""

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from trace.codes import printed
from trace.genealogy.live import label_now, live, person_name
from trace.pages.open_lists.listed import Line, OpenList, rows
from trace.pages.open_lists.picking import in_order, keys_of
from trace.readmodels.rows import moment
from trace.recording.acts import act_words
from trace.sheets.addresses import hull_url, lot_url
from trace.sheets.facts.entries import LATE
from trace.speech import names_of

DAYS = 14
SHOWN = 8  # bags and hulls of one line; the history of each thing has all of it
CHANGED = f"""FROM event e WHERE e.recorded > now() - interval '{DAYS} days'
  AND (e.corrects IS NOT NULL OR e.recorded - e.happened > interval '{int(LATE.total_seconds())} seconds')
  AND EXISTS (SELECT FROM edge_void v WHERE v.event = e.id)"""
COUNT = f"SELECT count(*), min(e.recorded) {CHANGED}"
PICKS = f"""
SELECT e.uid::text AS key, e.recorded AS since, e.kind AS kind,
  concat_ws(' ', e.kind, {person_name("e.person")}) AS words
{CHANGED}
"""
# What it withdrew and what it put in the place of that: the bags these came out of, and the hulls they are in.
TOLD = f"""
WITH RECURSIVE shown AS MATERIALIZED (
  SELECT e.id, e.uid, e.kind, e.happened, e.recorded, e.person, e.corrects IS NOT NULL AS correction FROM event e
   WHERE e.uid = ANY (%(keys)s::uuid[])),
 touched AS (
  SELECT s.id AS told, d.child, d.parent FROM shown s JOIN edge_void v ON v.event = s.id JOIN edge d ON d.id = v.edge
  UNION SELECT s.id, d.child, d.parent FROM shown s JOIN edge d ON d.event = s.id),
 down(told, unit) AS (
  SELECT told, child FROM touched
  UNION SELECT w.told, e.child FROM down w JOIN edge e ON e.parent = w.unit
   WHERE e.role IN ('charge', 'cavity', 'cut', 'bind', 'join') AND {live("e")})
SELECT s.uid AS key, s.kind, s.happened, s.recorded, s.person, s.correction,
  (SELECT count(*) FROM edge_void v WHERE v.event = s.id) AS withdrawn,
  (SELECT count(*) FROM hold h WHERE h.event = s.id) AS holds,
  (SELECT json_agg(DISTINCT x.code) FROM (SELECT {label_now("l.carrier = p.carrier")} AS code FROM touched t
     JOIN unit p ON p.id = t.parent WHERE t.told = s.id AND p.carrier IS NOT NULL) x WHERE x.code IS NOT NULL) AS bags,
  (SELECT json_agg(DISTINCT t.text) FROM down w JOIN serial_state t ON t.hull = w.unit WHERE w.told = s.id) AS hulls
FROM shown s
"""


def lines(skipped: int, most: int) -> list[Line]:
    """Newest first."""
    return of(keys_of(PICKS, skipped, most, "newest"))


def of(keys: Sequence[str]) -> list[Line]:
    """What these events changed, in their order."""
    found = in_order(keys, rows(TOLD, {"keys": list(keys)}))
    names = names_of({one["person"] for one in found if one["person"]})
    return [_line(one, names.get(one["person"] or "", "")) for one in found]


def _line(one: dict[str, Any], who: str) -> Line:
    hulls, bags = one["hulls"] or [], one["bags"] or []
    codes = [(text, hull_url(text)) for text in hulls] + [(printed(code), lot_url(code)) for code in bags]
    n = one["withdrawn"]
    withdrawn = ngettext("%(n)d record withdrawn", "%(n)d records withdrawn", n) % {"n": n}
    held = ngettext("%(n)d hold laid by it", "%(n)d holds laid by it", one["holds"]) % {"n": one["holds"]}
    more = _("and %(n)d more") % {"n": len(codes) - SHOWN} if len(codes) > SHOWN else ""
    what = _("%(act)s: put right") if one["correction"] else _("%(act)s: told late, it was at %(when)s")
    return Line(
        what=(what % {"act": act_words(one["kind"]), "when": said_at(one["happened"])}).capitalize(),
        since=moment(one["recorded"]),
        codes=tuple(codes[:SHOWN]),
        detail=", ".join(x for x in (withdrawn, held if one["holds"] else "", more) if x),
        who=who,
        amount=ngettext("%(n)d hull", "%(n)d hulls", len(hulls)) % {"n": len(hulls)},
        key=str(one["key"]),
    )


def said_at(happened: str) -> str:
    return f"{moment(happened):%-d %b %Y %H:%M}"


CHANGED_LATE = OpenList(
    "late", gettext_lazy("Changed by what was told late"),
    gettext_lazy("Told late or put right in the last 14 days, with the bags and hulls it changed"),
    gettext_lazy("Nothing that was told late changed a record in the last 14 days."), gettext_lazy("newest first"),
    COUNT, lines, PICKS, of, act_words, first="newest",
)  # fmt: skip
