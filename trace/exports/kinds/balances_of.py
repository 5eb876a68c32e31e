"""The paper of several balances: of a works order or of some plant days, each material with its ways and its records."""

from collections.abc import Iterator, Sequence
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.exports.asked import Asked, PaperError, Reader
from trace.exports.kinds.balance import measure, record_count, record_rows, records_table, way_rows, ways_table
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import again, amount, plant_name, unit_of
from trace.exports.paper import Column, Paper, Part, Row, Streamed, Table
from trace.genealogy.balance.days import balances_of_days
from trace.genealogy.balance.documents import percent
from trace.genealogy.balance.figures import Balance
from trace.genealogy.balance.orders import balances_of_order, order_named
from trace.sheets.contracts import grouped
from trace.sheets.hulls.sheet import caution

BETWEEN = ".."  # plant days: 2026-11-20..2026-11-25, as in the words of a scope


def balances_paper(asked: Asked) -> Paper:
    """Raises LookupError where nobody knew such an order then, PaperError where the text is neither."""
    text = asked.words["of"].strip()
    order = order_named(text, asked.as_known_on)
    first, last = (None, None) if order else _days(text)
    found = balances_of_order(order, asked.as_known_on) if order else balances_of_days(first, last, asked.as_known_on)
    of = order or f"{first or ''}{BETWEEN}{last or ''}"
    return Paper(
        kind="balances",
        what=_("Balances of a works order") if order else _("Balances of plant days"),
        title=of,
        question=(("of", of),),
        as_known_on=asked.as_known_on,
        records=max((one.tree_size for one in found), default=0),
        gaps=tuple(dict.fromkeys(gap.said for one in found for gap in one.gaps)),
        parts=tuple(_parts(of, found, asked.reader)),
        caution=caution(),
        plant=plant_name(asked.as_known_on),
    )


def _days(text: str) -> tuple[date | None, date | None]:
    """The first and the last plant day, None where that side is open; one day alone is both."""
    first, between, last = text.partition(BETWEEN)
    try:
        days = [date.fromisoformat(day) if day else None for day in (first, last if between else first)]
        if any(days):
            return days[0], days[1]
        raise ValueError(text)
    except ValueError:
        raise PaperError(
            _("“%(text)s” is no works order and no plant days: write them as in 2026-11-20..2026-11-25.") % {"text": text[:40]}
        ) from None


def _parts(of: str, found: Sequence[Balance], reader: Reader) -> Iterator[Part]:
    material = Column("material", _("Material"), _("What it is the balance of."), wide=1.4)
    yield Table("materials", _("By material"), _("One balance."), (
        material,
        Column("came", _("Came"), _("What came in, or was there at the start."), "number", wide=1),
        Column("accounted", _("Accounted for"), _("What the records account for, of what came."), "number", "%", 1),
        Column("least", _("Missing, least"), _("Least that nobody can account for; below nought: more than came."), "number", wide=1.2, off_by="off"),
        Column("most", _("Missing, most"), _("Most that nobody can account for."), "number", wide=1.2, off_by="off"),
        Column("off", _("Weighing ±"), _("How far weighing alone may be off, about 95 % (JCGM 100:2008)."), "number", wide=1.1, off_by="off"),
        measure(),
    ), tuple(map(_material, found)), _("nothing is recorded of it"))  # fmt: skip
    yield ways_table(tuple((one.material, *row) for one in found for row in way_rows(one)), material)
    yield records_table(Streamed(sum(map(record_count, found)), lambda: _records(found)), material)
    known = found[0].as_known_on if found else None
    question = _("balances %(of)s, as known on %(on)s") % {"of": of, "on": known.isoformat() if known else _("then")}
    yield again(question, grouped(max((one.tree_size for one in found), default=0)), reader)


def _material(found: Balance) -> Row:
    missing, uom = found.unexplained, found.uom
    amounts = (amount(x, uom) for x in (missing.least, missing.most, round(found.uncertainty.expanded)))
    return (found.material, amount(found.received, uom), percent(found.reconciled), *amounts, unit_of(uom))


def _records(found: Sequence[Balance]) -> Iterator[Row]:
    for one in found:
        yield from ((one.material, *row) for row in record_rows(one))


KIND = PaperKind(
    name="balances",
    prefix="BM",
    title=gettext_lazy("Balances by material"),
    asks={"of": gettext_lazy("a works order, or plant days as in 2026-11-20..2026-11-25")},
    make=balances_paper,
    page="balance",
)
