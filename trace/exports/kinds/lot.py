"""The paper of one lot: what came, what its certificate says, every hull it is or may be in, and how the amounts add up."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.codes import in_order, named_together
from trace.exports.asked import Asked, Reader, for_reader
from trace.exports.kinds.balances import balance_rows, columns
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import (
    again,
    amount,
    history_table,
    hold_table,
    plant_name,
    told_tables,
    tree_table,
    unit_of,
)
from trace.exports.paper import Column, Facts, Paper, Part, Picture, Row, Said, Streamed, Table
from trace.genealogy.answer import Line
from trace.genealogy.reasons import stamped
from trace.sheets.contracts import LotSheet, grouped
from trace.sheets.lots.gathered import GatheredLot, gather_lot
from trace.sheets.lots.sheet import lot_sheet
from trace.sheets.lots.went import model_of


def lot_paper(asked: Asked) -> Paper:
    """Raises LookupError where nobody knew such a lot then, or where several go by the number."""
    gathered = gather_lot(asked.words["number"], asked.as_known_on, whole=True)
    gathered = replace(gathered, known=for_reader(gathered.known, asked.reader))
    sheet = lot_sheet(gathered)
    return Paper(
        kind="lot",
        what=_("Lot report: %(material)s") % {"material": sheet.material},
        title=sheet.lot,
        question=(("number", asked.words["number"]),),
        as_known_on=asked.as_known_on,
        records=sheet.records_count,
        gaps=sheet.gaps,
        parts=tuple(_parts(gathered, sheet, asked.reader, asked.as_known_on)),
        caution=sheet.caution,
        plant=plant_name(asked.as_known_on),
    )


def _parts(gathered: GatheredLot, sheet: LotSheet, reader: Reader, known: datetime) -> Iterator[Part]:
    if sheet.holds:
        yield Said(_("On hold"), tuple(f"{h.text}. {h.effect or _('Do not use, pack or ship.')}" for h in sheet.holds), "stop")
    yield Facts("", (
        (_("Material or part"), sheet.material),
        (_("Supplier"), sheet.supplier),
        (_("Received"), stamped(sheet.received) if sheet.received else ""),
        *(((_("Use by"), f"{sheet.expires:%-d %b %Y}"),) if sheet.expires else ()),
        (_("Standing"), sheet.standing),
        (_("What is left stands at"), sheet.place.text if sheet.place else ""),
        *(((_("Mixed into"), sheet.place.detail),) if sheet.place and sheet.place.detail else ()),
        (_("Hulls that hold it"), _("%(certain)s certain, %(may)s may; %(inside)s in the plant, %(outside)s gone") % {
            "certain": grouped(sheet.certain), "may": grouped(sheet.may), "inside": grouped(sheet.in_plant),
            "outside": grouped(sheet.outside),
        }),
        *(((_("Other hulls"), sheet.cannot_words),) if sheet.cannot_words else ()),
    ))  # fmt: skip
    if sheet.drawing:
        yield Picture(_("What is left, and where it went"), sheet.drawing.wide)
    yield Table("balances", _("Mass balance"), _("One line of the lot's balance."), columns(), tuple(balance_rows(gathered)))
    yield certificate_values(sheet)
    yield containers(sheet)
    yield hulls(gathered)
    yield hold_table(sheet.holds)
    yield from told_tables(sheet.history)
    yield tree_table("went_on", _("What it went into"), _("One way by which it went on."), gathered.answer)
    yield history_table("history", _("What was done with it"), _("One act with the lot as a whole."), sheet.history)
    yield again(_("lot %(number)s, as known on %(on)s") % {"number": sheet.lot, "on": known.isoformat()}, sheet.records, reader)


def certificate_values(sheet: LotSheet) -> Table:
    """Its certificate's values, against the limits."""
    return Table("certificate_values", _("Its certificate, against the limits then"), _("One value of the newest certificate."), (
        Column("quantity", _("Quantity"), _("What the certificate tells of."), wide=1.6),
        Column("value", _("Value"), _("The value on it; not recorded: it says none."), wide=1.2),
        Column("limits", _("Limits"), _("What the plant took then."), wide=1.8),
        Column("source", _("Source"), _("Where the value is from."), wide=1.4),
        Column("outside", _("Outside"), _("It is not within the limits."), "flag", wide=0.8),
    ), tuple((t.quantity, t.value or None, t.limits, t.source, t.outside) for t in sheet.tests), _("No certificate is recorded."))  # fmt: skip


def containers(sheet: LotSheet) -> Table:
    """What it came in."""
    return Table("containers", _("Containers"), _("One container that it came in."), (
        Column("container", _("Container"), _("Its label."), wide=1.3),
        Column("kind", _("Kind"), _("What it is."), wide=1),
        Column("filled", _("Filled"), _("What came in it."), "number", wide=1),
        Column("left", _("Left by the book"), _("What the book says is in it."), "number", wide=1),
        Column("unit_of_measure", _("Unit"), _("kg, pieces or m."), wide=0.7),
        Column("place", _("Place"), _("Where it was."), wide=2),
        Column("standing", _("Standing"), _("How it stood."), wide=1.6),
    ), tuple((c.code, c.kind, c.filled, c.left, c.uom, c.place or None, c.standing) for c in sheet.containers))  # fmt: skip


def hulls(gathered: GatheredLot) -> Table:
    """All of them, however many: the paper is what a count is made from."""
    lines = sorted(gathered.hulls, key=lambda x: (x.verdict, x.node.serial or x.node.code, x.node.uid))
    return Table("hulls", _("The hulls that hold it or may, whole"), _("One hull that holds the lot or may."), (
        Column("hull", _("Hull"), _("The number on its plate."), wide=1.8),
        Column("verdict", _("Holds it"), _("Whether it holds the lot: certain or may."), "verdict", wide=0.9),
        Column("model", _("Model"), _("Model and colour."), wide=1.5),
        Column("where", _("In its"), _("The layers and positions of the lot."), wide=1.3),
        Column("least", _("Least"), _("Least of the lot in it."), "number", wide=0.8),
        Column("best", _("Likely"), _("How much of the lot, had everything mixed well."), "number"),
        Column("most", _("Most"), _("Most of the lot in it; empty: the records set no upper bound."), "number", wide=0.8, none=_("no bound")),
        Column("unit_of_measure", _("Unit"), _("kg, pieces or m."), wide=0.6),
        Column("made", _("Made"), _("When it was made."), "time", wide=1.2),
        Column("place", _("Place"), _("Where it was."), wide=2),
        Column("held", _("On hold"), _("It was under a hold."), "flag", wide=0.7),
        Column("uid", _("Identifier"), _("The hull's identifier, which never changes.")),
    ), Streamed(len(lines), lambda: (_hull_row(gathered, x) for x in lines)), _("None."))  # fmt: skip


def _hull_row(gathered: GatheredLot, x: Line) -> Row:
    return (
        x.node.serial or x.node.code, x.verdict, model_of(gathered, x),
        named_together(sorted((key for key in x.share.layers if key), key=in_order)),
        *_bounds(x), unit_of(x.uom), x.node.happened, gathered.known.place(x.place) if x.place else None,
        x.node.id in gathered.held, x.node.uid,
    )  # fmt: skip


def _bounds(line: Line) -> tuple[Decimal | None, Decimal | None, Decimal | None]:
    total = line.share.total
    return amount(total.least, line.uom), amount(total.best, line.uom), amount(total.most, line.uom)


KIND = PaperKind(
    name="lot",
    prefix="LR",
    title=gettext_lazy("Lot report"),
    asks={"number": gettext_lazy("its number, or a label of one of its containers")},
    make=lot_paper,
    page="lot",
)
