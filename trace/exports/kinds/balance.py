"""The paper of a balance: what came of a lot, a container or a vessel, each way out, what is missing, and every record."""

from collections.abc import Iterator

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.exports.asked import Asked, Reader
from trace.exports.kinds.kind import PaperKind
from trace.exports.kinds.lines import again, amount, plant_name, unit_of
from trace.exports.paper import Column, Facts, Paper, Part, Row, Streamed, Table
from trace.genealogy.balance.documents import amount_shown, cause_words, off_by_shown, percent, way_words
from trace.genealogy.balance.figures import Balance, Figure
from trace.genealogy.balance.subjects import balance_of
from trace.sheets.contracts import grouped
from trace.sheets.hulls.sheet import caution


def balance_paper(asked: Asked) -> Paper:
    """Raises LookupError where nobody knew such a lot, container or vessel then."""
    found = balance_of(asked.words["number"], asked.as_known_on)
    return Paper(
        kind="balance",
        what=_("Balance: %(material)s") % {"material": found.material or _("material not known")},
        title=found.name,
        question=(("number", asked.words["number"]),),
        as_known_on=asked.as_known_on,
        records=found.tree_size,
        gaps=tuple(dict.fromkeys(gap.said for gap in found.gaps)),
        parts=tuple(_parts(found, asked.reader)),
        caution=caution(),
        plant=plant_name(asked.as_known_on),
    )


def _parts(found: Balance, reader: Reader) -> Iterator[Part]:
    unit = unit_of(found.uom)
    share = percent(found.reconciled)
    missing = found.unexplained
    yield Facts("", (
        (_("Received"), f"{amount(found.received, found.uom)} {unit}" if found.received is not None else ""),
        (_("Accounted for"), f"{share} %" if share is not None else ""),
        (_("Nobody can account for"), " – ".join(amount_shown(found, x) for x in (missing.least, missing.most) if x is not None) + f" {unit}"),
        (_("Weighing alone may be off by"), _("± %(much)s %(unit)s (about 95 %%; JCGM 100:2008)") % {
            "much": off_by_shown(found), "unit": unit,
        }),
        (_("Counted"), _("somebody looked what is left") if found.counted else _("nobody looked what is left")),
    ))  # fmt: skip
    yield ways_table(tuple(way_rows(found)))
    yield records_table(Streamed(record_count(found), lambda: record_rows(found)))
    yield Table("uncertainty", _("Why amounts may be off by weighing"), _("One reason."), (
        Column("what", _("What"), _("The reason."), wide=2),
        Column("of", _("Of"), _("The instrument or the labels."), wide=2),
        Column("count", _("Readings"), _("How many readings."), "count", wide=1),
        Column("standard", _("Standard uncertainty"), _("Of all of them together."), "number", wide=1.4, off_by="standard"),
        measure(),
    ), tuple((s.what, s.of, s.count, amount(round(s.standard), found.uom), unit) for s in found.uncertainty.sources), _("No scale is named."))  # fmt: skip
    question = _("balance %(number)s, as known on %(on)s") % {"number": found.code, "on": found.as_known_on.isoformat()}
    yield again(question, grouped(found.tree_size), reader)


def ways_table(rows: tuple[Row, ...], *first: Column) -> Table:
    """The lines of balances; `first`: columns before those of way_rows."""
    return Table("ways", _("What came, and where it is"), _("One line of a balance."), (
        *first,
        Column("side", _("Side"), _("came, went, or a difference to the book."), wide=1),
        Column("way", _("Way"), _("Which way."), wide=2.6),
        Column("least", _("Least"), _("Least, however every vessel mixed."), "number", wide=1),
        Column("best", _("Likely"), _("With every vessel fully mixed: these add up to what came."), "number", wide=1),
        Column("most", _("Most"), _("Most, however every vessel mixed."), "number", wide=1, none=_("no bound")),
        measure(),
    ), rows)  # fmt: skip


def records_table(rows: Streamed, *first: Column) -> Table:
    """The records that balances add up; `first`: columns before those of record_rows."""
    return Table("records", _("The records that these figures add up"), _("One record."), (
        *first,
        Column("happened", _("Happened"), _("When it happened."), "time", wide=1.3),
        Column("way", _("Way"), _("The line of the balance that it belongs to."), wide=1.6),
        Column("what", _("What"), _("What was done."), wide=1.2),
        Column("out_of", _("Out of"), _("The container or filling that it was taken from."), wide=1.4),
        Column("code", _("Into or as"), _("What it went into, or came as."), wide=1.7),
        Column("amount", _("Amount"), _("How much, as recorded."), "number", wide=1),
        measure(),
        Column("unit", _("Identifier"), _("The identifier of what it went into.")),
        Column("event", _("Event"), _("The identifier of the record.")),
    ), rows)  # fmt: skip


def measure() -> Column:
    return Column("unit_of_measure", _("Unit"), _("kg, pieces or m."), wide=0.7)


def _sides(found: Balance) -> Iterator[tuple[str, str, Figure]]:
    words, causes = way_words(found.subject), cause_words()
    for side, figures in ((_("came"), found.came), (_("went"), found.ends)):
        yield from ((side, words.get(figure.way, figure.way), figure) for figure in figures)
    yield from ((_("difference"), causes.get(figure.way, figure.way), figure) for figure in found.differences)


def way_rows(found: Balance) -> Iterator[Row]:
    """Each way of a balance: side, way, least, likely, most, unit."""
    for side, way, figure in _sides(found):
        amounts = (amount(x, found.uom) for x in (figure.bounds.least, figure.bounds.best, figure.bounds.most))
        yield (side, way, *amounts, unit_of(found.uom))


def record_count(found: Balance) -> int:
    return sum(len(part.records) for _side, _way, figure in _sides(found) for part in figure.parts)


def record_rows(found: Balance) -> Iterator[Row]:
    """Each record that a balance adds up, with its way."""
    for _side, way, figure in _sides(found):
        for part in figure.parts:
            for record in part.records:
                yield (
                    record.happened, way, record.what, part.code, record.code, amount(record.amount, found.uom),
                    unit_of(found.uom), record.unit, record.event,
                )  # fmt: skip


KIND = PaperKind(
    name="balance",
    prefix="BR",
    title=gettext_lazy("Balance report"),
    asks={"number": gettext_lazy("a lot's number, or the label of a container or a vessel")},
    make=balance_paper,
    page="balance",
)
