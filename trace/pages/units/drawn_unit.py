"""How a unit is drawn: a charge as its tub, a load and a moulding as plan and wall, a pack with what is in it."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from trace.drawings import Share, container_drawings
from trace.drawings.sketch import Cell, rows_of
from trace.genealogy.graph import Node
from trace.pages.sheets import Drawn, LinkLine
from trace.sheets.facts.amounts import in_trade_unit, unit_word
from trace.sheets.hulls.gathered import Gathered, gather_making
from trace.sheets.hulls.layers import wall
from trace.sheets.hulls.lots import name
from trace.sheets.hulls.placed import plan

MAKING = ("load", "moulding", "part")


def drawn_unit(node: Node, status: str, inside: Sequence[LinkLine], gathered: Gathered | None) -> Drawn | None:
    """The drawing of a unit with the table beside it; None for what has no look of its own."""
    if node.kind == "charge" and gathered is not None:
        return _charge(node, status, gathered)
    if node.kind in MAKING and gathered is not None:
        sheet = Drawn(_("Mould plan and wall"), plan=plan(gathered), wall=wall(gathered))
        return sheet if sheet.plan or sheet.wall else None
    if node.kind in ("pack", "consignment"):
        return _held_in(node.kind, inside)
    if node.kind == "plate":
        text = node.serial or node.said
        sketch = rows_of("plate", [Cell(text, status)], "none", _("The plate"))
        return Drawn(_("The plate"), (_("Number"), _("It is")), (((text, ""), (status or "?", "")),), sketch=sketch)
    return None


def gathered_of(kind: str, code: str, asked: datetime | None) -> Gathered | None:
    """What a drawing of this kind is drawn from."""
    return gather_making(code, asked) if kind in ("charge", *MAKING) else None


def _charge(node: Node, status: str, gathered: Gathered) -> Drawn | None:
    """The tub with its powder, and what of it came from which lot."""
    if node.amount is None:
        return None
    amount, uom = in_trade_unit(node.amount, node.uom), unit_word(node.uom)
    lots = [line for line in gathered.lines.values() if line.node.kind == "lot"]
    shares = [
        Share(
            _("lot %(lot)s") % {"lot": name(line.node)}, line.share.total.verdict,
            in_trade_unit(line.share.total.least, node.uom),
            amount if line.share.total.most is None else in_trade_unit(line.share.total.most, node.uom),
        )
        for line in lots
    ]  # fmt: skip
    left = Decimal(0) if status in ("tipped", "used up", "used", "scrapped") else amount
    colour = str(gathered.plant.newest("material", node.about.get("material")).get("colour") or "")
    words = {"certain": _("certain"), "may": _("may"), "cannot": _("cannot")}
    return Drawn(
        _("The tub"), (_("Lot"), _("In it"), _("Least"), _("Most")),
        tuple(
            ((share.label, ""), (words[share.verdict], ""), (f"{share.least} {uom}", ""), (f"{share.most} {uom}", ""))
            for share in shares
        ),
        container=container_drawings("drum", filled=amount, left=left, unit=uom, colour=colour, shares=shares),
    )  # fmt: skip


def _held_in(kind: str, inside: Sequence[LinkLine]) -> Drawn | None:
    """The hulls of a pack in their crate, the packs of a consignment on their lorry; withdrawn ones are dashed."""
    kinds = tuple(f"{word} " for word in (_("hull"), _("pack")))
    cells = [
        Cell(next((one.name[len(w) :] for w in kinds if one.name.startswith(w)), one.name), "",
             "open" if one.withdrawn else "done")
        for one in inside
    ]  # fmt: skip
    title = _("What is in the pack") if kind == "pack" else _("What is on the lorry")
    sketch = rows_of("hull" if kind == "pack" else "pack", cells, "pack" if kind == "pack" else "lorry", title)
    # What went in is listed on the page anyhow: that is its table.
    return Drawn(title, sketch=sketch) if cells else None
