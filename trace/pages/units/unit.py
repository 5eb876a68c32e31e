"""One unit that is neither hull nor lot: a pack, charge, load, moulding, plate, what a tub holds."""

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any

from django.db import connection
from django.utils.translation import gettext as _

from trace.codes import printed
from trace.genealogy.answer import one_picture, what_was_known
from trace.genealogy.find import find_unit
from trace.genealogy.graph import Node
from trace.genealogy.live import WITHDRAWN, known_by
from trace.genealogy.missing import open_gaps
from trace.genealogy.places import places
from trace.genealogy.walk import nodes
from trace.pages.sheets import LinkLine, UnitSheet
from trace.pages.units.drawn_unit import drawn_unit, gathered_of
from trace.recording.acts import hold_words
from trace.sheets.addresses import hull_url, lot_url, unit_url
from trace.sheets.asks import like, same
from trace.sheets.contracts import HoldLine, PlaceLine, side_by_side
from trace.sheets.facts.amounts import in_trade_unit, said
from trace.sheets.facts.days import day_said
from trace.sheets.facts.entries import answers, entries
from trace.sheets.facts.holding import held, laid
from trace.sheets.facts.known import Known, known_of
from trace.sheets.hulls.history import history
from trace.sheets.hulls.lots import status_of
from trace.sheets.hulls.sheet import caution
from trace.sheets.lots.gathered import SUBJECTS

# One step up and down; a withdrawn edge is shown as such.
NEAR = f"""
SELECT e.child, e.parent, e.role, e.layer, e.position, e.amount, e.uom,
  {WITHDRAWN}
FROM edge e WHERE (e.child = %(unit)s OR e.parent = %(unit)s) AND e.recorded <= %(known)s::timestamptz
ORDER BY e.id LIMIT 400
"""
NEVER_SHOWN = frozenset({"shown", "tare", "how", "load", "lot", "recipe"})


class ElsewhereError(Exception):
    """The unit has a sheet of its own kind: `node` is a hull, a lot or what is in a container."""

    def __init__(self, node: Node) -> None:
        super().__init__(node.code)
        self.node = node


# What hulls may be made of, so that they can be asked for by it.
GOES_ON = frozenset({"blend", "charge", "load", "moulding", "part", "regrind"})


def unit_sheet(code: str, as_known_on: datetime | None = None) -> UnitSheet:
    """The sheet of the unit that a code stood for. Raises as find_unit; ElsewhereError."""
    with one_picture():
        at, size = what_was_known(as_known_on)
        unit = find_unit(code, at)
        with connection.cursor() as cursor:
            cursor.execute(NEAR, {"unit": unit, "known": known_by(at)})
            near = cursor.fetchall()
        around = nodes({unit, *(row[0] for row in near), *(row[1] for row in near)}, at)
        node = around[unit]
        if node.kind == "hull" or node.kind in SUBJECTS:
            raise ElsewhereError(node)
        told = entries(inner={unit}, as_known_on=at)
        holds = laid([unit], at)
        answered = answers([e.id for e in told if e.flagged])
        place = places([unit], at).get(unit)
        known = known_of(told, [node.about], holds, answered.values(), [place], at)
        under = unit in held([unit], as_known_on and at)
        gaps = open_gaps(at, [unit])
        gathered = gathered_of(node.kind, code, as_known_on)
    inside = tuple(_link(around[row[1]], row, as_known_on) for row in near if row[0] == unit and row[1] in around)
    status = status_of(told, node.uid)
    return UnitSheet(
        name=name_of(node),
        kind=kind_word(node.kind),
        code=", ".join(printed(c) for c in node.labels),
        as_known_on=at,
        records_count=size,
        caution=caution(),
        cause=(f"holds={node.uid}",) if node.kind in GOES_ON else (),
        facts=_facts(node, known, status, under, _charged(node, near)),
        gaps=tuple(_("No record of its %(what)s %(which)s.") % {"what": g.what, "which": g.which} for g in gaps),
        holds=side_by_side(
            HoldLine(
                known.notes.text(h.why) or _of_rule(h.rule, known), known.person(h.person), h.happened, rule=h.rule
            )
            for h in holds
        ),
        place=PlaceLine(known.place(place)) if place else None,
        drawn=drawn_unit(node, status, inside, gathered),
        inside=inside,
        into=tuple(_link(around[row[0]], row, as_known_on) for row in near if row[1] == unit and row[0] in around),
        history=history(told, known, answered),
    )


def _of_rule(rule: str, known: Known) -> str:
    """Why a hold without a reason of its own was laid: of a scope's, what the hulls share."""
    return known.spoken(hold_words.reason({"why": "", "rule": rule})) if rule.startswith("scope ") else rule


def name_of(node: Node) -> str:
    """What people call it: its serial, number, label, mould or order; where it has none, what it is."""
    return node.serial or node.lot_no or (kind_word(node.kind) if node.said == node.uid else node.said)


def kind_word(kind: str) -> str:
    words = {
        "lot": _("lot"), "content": _("content of a container"), "blend": _("blend"), "charge": _("charge"),
        "load": _("loaded mould"), "moulding": _("moulding"), "part": _("part"), "plate": _("plate"),
        "hull": _("hull"), "pack": _("pack"), "consignment": _("consignment"), "sample": _("sample"),
        "scrap": _("scrap"), "regrind": _("regrind"), "return": _("what went back to a supplier"),
    }  # fmt: skip
    return words.get(kind, kind)


# What of how a unit was made is a cause of hulls: by its name in the record.
CAUSES = {
    "product": "model", "colour": "colour", "cavity": "cavity", "order": "works-order", "mould": "mould",
    "supplier": "supplier", "arm": "arm",
}  # fmt: skip


def _charged(node: Node, near: Collection[Sequence[Any]]) -> str:
    """The cause of hulls for which about as much was charged of the layer as this was, once it has been tipped."""
    for _child, parent, role, layer, _position, amount, _uom, withdrawn in near:
        if parent == node.id and role == "charge" and layer and amount is not None and not withdrawn:
            return like("charged", in_trade_unit(amount, "mg"), layer)
    return ""


def _facts(
    node: Node, known: Known, status: str, under: bool, charged: str
) -> tuple[tuple[str, str, str], ...]:
    found = [(_("state"), _("on hold") + (f", {status}" if status else "") if under else status, "")]
    if node.amount is not None:
        found.append((_("amount"), said(node.amount, node.uom), charged))
    found += _recipe(node)
    for key, value in node.about.items():
        if key not in NEVER_SHOWN and value is not None:
            body = known.plant.newest(key, value)
            named = key in ("product", "supplier") and body.get("name")
            words = f"{body['name']} ({value})" if named else day_said(value)
            cause = same(CAUSES[key], value) if key in CAUSES else ""
            found.append((key.replace("_", " "), words, cause))
    return tuple(one for one in found if one[1])


def _recipe(node: Node) -> list[tuple[str, str, str]]:
    """The revision by which it was made, where it says one."""
    words = {"product": node.about.get("product"), "n": node.about.get("recipe")}
    if not all(words.values()):
        return []
    return [(_("recipe"), _("%(product)s rev %(n)s") % words, same("recipe", "/".join(map(str, words.values()))))]


def _link(node: Node, row: Collection[object], asked: datetime | None) -> LinkLine:
    _child, _parent, role, layer, position, amount, uom, withdrawn = row
    where = layer or position
    code = node.labels[0] if node.labels else node.uid
    if node.kind == "hull":
        url = hull_url(node.serial or node.code, asked)
    elif node.kind in SUBJECTS:
        url = lot_url(code, asked)
    else:
        url = unit_url(code, asked)
    kind, name = kind_word(node.kind), name_of(node)
    return LinkLine(
        name=kind if name == kind else f"{kind} {name}", how=f"{role}, {where}" if where else str(role),
        amount=said(int(str(amount)), str(uom)) if amount is not None else "", withdrawn=bool(withdrawn), url=url,
    )  # fmt: skip
