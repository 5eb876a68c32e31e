"""The mass balance of lots as a table: what came, each way it went, what the book says is left."""

from collections.abc import Iterable, Iterator
from datetime import datetime

from django.utils.translation import gettext as _

from trace.exports.paper import Column, Row, Table
from trace.genealogy.graph import Node
from trace.sheets.facts.amounts import unit_word
from trace.sheets.lots.balance import balance
from trace.sheets.lots.gathered import GatheredLot, gather_lot


def balance_table(lots: Iterable[Node], known: datetime) -> Table:
    """One line a way; a lot of which nobody recorded how much came has one row that says so."""
    ordered = sorted(lots, key=lambda n: (str(n.about.get("material")), n.lot_no or "", n.uid))
    rows = [row for node in ordered for row in balance_rows(gather_lot(node.uid, known))]
    return Table("balances", _("Mass balance of each lot"), _("One line of one lot's balance."), columns(), tuple(rows))


def columns() -> tuple[Column, ...]:
    return (
        Column("lot", _("Lot"), _("The supplier's number of the lot."), wide=1.2),
        Column("material", _("Material or part"), _("What it is."), wide=1.6),
        Column("line", _("Line"), _("What came, each way out, what must be left."), wide=2.4),
        Column("amount", _("Amount"), _("How much; what went out is negative."), "number", wide=1.2),
        Column("unit_of_measure", _("Unit"), _("kg, pieces or m."), wide=0.7),
        Column("total", _("Sum"), _("The line is what the others add up to."), "flag", wide=0.6),
        Column("note", _("Note"), _("What is not in it."), wide=2.6),
    )


def balance_rows(gathered: GatheredLot) -> Iterator[Row]:
    lot = gathered.lot.lot_no or gathered.lot.said
    material = str(gathered.lot.about.get("material") or "")
    unit = unit_word(gathered.lines[gathered.lot.id].uom)
    lines = balance(gathered)
    for line in lines:
        yield (lot, material, line.name, line.amount, unit, line.total, line.note)
    if not lines:
        yield (lot, material, _("received"), None, unit, False, _("Nobody recorded how much came."))
