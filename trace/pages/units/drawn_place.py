"""How a place is drawn: what stands there, a rack as a rack; each thing with who put it there."""

from collections import Counter
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.drawings.sketch import Cell, Frame, Thing, rows_of
from trace.genealogy.graph import Node
from trace.genealogy.live import known_by
from trace.genealogy.places import Placed, packs_of, placed
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import nodes
from trace.pages.sheets import Drawn
from trace.sheets.addresses import hull_url, lot_url, unit_url
from trace.sheets.facts.holding import held
from trace.speech import names_of

MOST = 300
HERE = """
SELECT p.unit FROM place_now p JOIN unit u ON u.id = p.unit LEFT JOIN unit_state s ON s.unit = u.id
WHERE p.place = %(key)s::text AND (u.kind IN ('hull', 'part', 'pack') OR (u.kind = 'content' AND s.balance > 0))
  AND s.status IS DISTINCT FROM 'scrapped' ORDER BY p.unit DESC LIMIT %(most)s
"""
# Whatever an act put there by then: whether it still stood there is asked of each.
WAS_HERE = """
SELECT DISTINCT u.id FROM event_resource x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
JOIN event_unit y ON y.event = v.id AND y.role = 'placed' JOIN unit u ON u.id = y.unit
WHERE x.resource = %(thing)s::bigint AND u.kind IN ('hull', 'part', 'pack') AND NOT EXISTS (
  SELECT FROM event_unit z JOIN event s ON s.id = z.event AND s.recorded <= %(known)s::timestamptz
   WHERE z.unit = u.id AND z.role = 'scrapped') ORDER BY 1 DESC LIMIT 5000
"""
SHAPE: Mapping[str, Thing] = {"pack": "pack", "content": "box"}


def drawn_place(thing: int, key: str, body: Mapping[str, Any], asked: datetime | None) -> Drawn | None:
    """What stands in a place; of a past day hulls and packs alone, which acts put there by name."""
    rows = (
        fetch_rows(HERE, {"key": key, "most": MOST + 1}) if asked is None
        else fetch_rows(WAS_HERE, {"thing": thing, "known": known_by(asked)})
    )  # fmt: skip
    at = {unit: put for unit, put in placed([unit for (unit,) in rows], asked).items() if put.place == key}
    if asked is not None and not at:
        return None
    inside = {hull: pack for hull, pack in packs_of(list(at), asked).items() if pack in at}
    hulls = Counter(inside.values())
    found = nodes(at.keys() - inside.keys(), asked)
    on_hold = held(list(found), asked)
    people = names_of({put.person for put in at.values() if put.person})
    standing = sorted(found.values(), key=lambda one: (one.kind, one.said))
    title = _("What stands there") if asked is None else _("Hulls and packs that stood there")
    frame: Frame = "rack" if body.get("kind") == "rack" else "floor"
    cells = [_cell(one, hulls[one.id], held=one.id in on_hold) for one in standing]
    table = [_row(one, at[one.id], people, hulls[one.id], asked, held=one.id in on_hold) for one in standing[:MOST]]
    if len(standing) > MOST:
        table.append(((_("and more, not named here"), ""), ("", ""), ("", "")))
    if not standing:
        table = [((_("nothing, by the records"), ""), ("", ""), ("", ""))]
    head = (_("What"), _("Since"), _("Put there by"))
    return Drawn(title, head, tuple(table), sketch=rows_of("hull", cells, frame, title))


def _cell(one: Node, hulls: int, *, held: bool) -> Cell:
    below = _("on hold") if held else _hulls(hulls) or str(one.about.get("product") or one.about.get("material") or "")
    return Cell(one.said, below, "marked" if held else "done", SHAPE.get(one.kind))


def _hulls(n: int) -> str:
    return ngettext("%(n)d hull", "%(n)d hulls", n) % {"n": n} if n else ""


def _row(
    one: Node, put: Placed, people: Mapping[str, str], hulls: int, asked: datetime | None, *, held: bool
) -> tuple[tuple[str, str], ...]:
    words = [one.said, _hulls(hulls), str(one.about.get("product") or one.about.get("material") or "")]
    if held:
        words.append(_("on hold"))
    when = f"{timezone.localtime(put.happened):%-d %b %Y %H:%M}"
    return ((", ".join(word for word in words if word), _url(one, asked)), (when, ""), (people.get(put.person, ""), ""))


def _url(one: Node, asked: datetime | None) -> str:
    if one.kind == "hull":
        return hull_url(one.serial or one.code, asked)
    code = one.labels[0] if one.labels else one.uid
    return lot_url(code, asked) if one.kind == "content" else unit_url(code, asked)
