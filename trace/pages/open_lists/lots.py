"""Lots awaiting release: in quarantine, or released on a condition that was not met yet; released beside the list."""

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes import printed
from trace.genealogy.live import live, person_name
from trace.pages.open_lists.listed import Line, OpenList, rows
from trace.pages.open_lists.picking import coded, in_order, keys_of
from trace.pages.open_lists.to_release import RELEASE_LOT
from trace.readmodels.plantdata import newest
from trace.readmodels.rows import moment
from trace.sheets.addresses import lot_url
from trace.sheets.facts.amounts import said
from trace.speech import names_of

SHOWN = 6  # containers of one lot; the lot's own page has all of them
WAITING = "FROM unit_state s JOIN unit u ON u.id = s.unit AND u.kind = 'lot' JOIN event e ON e.id = u.event"
# One of which nothing came after all (its number was put right) waits for nothing.
WHERE = f"""WHERE s.status IN ('quarantine', 'conditionally released')
  AND EXISTS (SELECT FROM edge d WHERE d.parent = u.id AND d.role = 'receive' AND {live("d")})"""
COUNT = f"SELECT count(*), min(e.happened) {WAITING} {WHERE}"
# What is left of a lot is what its containers hold: each names its lot.
PICKS = f"""
SELECT u.uid::text AS key, e.happened AS since, s.status AS kind,
  concat_ws(' ', u.about->>'material', u.lot_no, u.about->>'supplier', {person_name("e.person")},
    (SELECT string_agg({coded("l.code")}, ' ') FROM edge d JOIN unit c ON c.id = d.child
       JOIN label l ON l.carrier = c.carrier WHERE d.parent = u.id AND d.role = 'receive')) AS words
{WAITING} {WHERE}
"""
LOTS = f"""
WITH shown AS MATERIALIZED (
  SELECT u.id, u.uid, u.lot_no, u.about, s.status, e.happened, e.person {WAITING} WHERE u.uid = ANY (%(keys)s::uuid[]))
SELECT s.uid AS key, s.uid, s.lot_no, s.about->>'material' AS material, s.about->>'supplier' AS supplier, s.status,
  s.happened, s.person,
  (SELECT json_agg(json_build_object('what', g.what, 'which', g.which)) FROM gap g WHERE g.unit = s.id) AS gaps,
  EXISTS (SELECT FROM event_unit x JOIN event v ON v.id = x.event AND v.kind = 'certified' WHERE x.unit = s.id) AS read,
  EXISTS (SELECT FROM unit_hold h WHERE h.unit = s.id) AS held,
  (SELECT json_build_object('amount', sum(b.balance), 'uom', min(c.uom), 'codes', json_agg(DISTINCT l.code))
     FROM edge d JOIN unit c ON c.id = d.child JOIN unit_state b ON b.unit = c.id
     LEFT JOIN label l ON l.carrier = c.carrier
    WHERE d.parent = s.id AND d.role = 'receive' AND {live("d")}) AS inside
FROM shown s
"""


def lines(skipped: int, most: int) -> list[Line]:
    """Oldest first."""
    return of(keys_of(PICKS, skipped, most))


def of(keys: Sequence[str]) -> list[Line]:
    """The lots of these uids, in their order."""
    found = in_order(keys, rows(LOTS, {"keys": list(keys)}))
    names = names_of({one["person"] for one in found if one["person"]})
    return [_line(one, names) for one in found]


def _line(one: dict[str, Any], names: dict[str, str]) -> Line:
    plant = newest()
    supplier = plant.body("supplier", one["supplier"]).get("name") or one["supplier"] or ""
    inside = one["inside"] or {}
    name = one["lot_no"] or _("number not known")
    boxes = [code for code in inside.get("codes") or [] if code]
    amount = inside.get("amount")
    more = _("and %(n)d containers more") % {"n": len(boxes) - SHOWN} if len(boxes) > SHOWN else ""
    return Line(
        what=", ".join(str(x) for x in (one["material"], supplier) if x),
        since=moment(one["happened"]),
        codes=((name, lot_url(one["uid"])), *((printed(code), lot_url(code)) for code in boxes[:SHOWN])),
        detail=", ".join(x for x in (_waits_for(one), more) if x),
        who=names.get(one["person"] or "", ""),
        amount=said(int(amount), inside["uom"]) if amount is not None and inside.get("uom") else "",
        stop=bool(one["held"]),
        key=str(one["key"]),
    )


def _waits_for(one: dict[str, Any]) -> str:
    """What is missing before it can be released, as far as the record says."""
    found = [" ".join(x for x in (_("no"), gap["what"], gap["which"]) if x) for gap in one["gaps"] or []]
    if not one["read"]:
        found.append(_("no certificate recorded"))
    if one["held"]:
        found.append(_("on hold"))
    if one["status"] == "conditionally released":
        found.append(_("conditionally released: to be confirmed"))
    return ", ".join(found) or _("to be decided")


LOTS_WAITING = OpenList(
    "lots", gettext_lazy("Lots awaiting release"), gettext_lazy("In quarantine, or released on a condition"),
    gettext_lazy("No lot awaits its release."), gettext_lazy("oldest first"), COUNT, lines,
    PICKS, of, acts=(RELEASE_LOT,), where="stores",
)  # fmt: skip
