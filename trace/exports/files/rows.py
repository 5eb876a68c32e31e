"""What a table's cells are in a spreadsheet: text that no program takes for a formula, numbers that stay numbers."""

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.exports.paper import Beside, Cell, Column, Facts, Paper, Part, Row, Said, Table

# What spreadsheet programs begin a formula with, also in full width and after blanks (OWASP ASVS 5.0.0, 1.2.10).
FORMULA = "=+-@\t\r\n\0＝＋－＠"


def harmless(text: str) -> str:
    """Text with an apostrophe before it where a program that reads CSV could take it for a formula."""
    return f"'{text}" if text.lstrip(" \u00a0")[:1] in tuple(FORMULA) and text.strip() else text


def written(cell: Cell) -> str:
    """A cell as text for CSV. “” is both “not recorded” and “nothing to say”, but for a flag: yes or no."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, datetime):
        return timezone.localtime(cell).isoformat()
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, Decimal):
        return f"{cell:f}"
    return harmless(str(cell))


def all_tables(paper: Paper) -> Iterator[Table]:
    """What the paper says of itself, its tables, and at last what each column is."""
    yield _of_itself(paper)
    yield from paper.tables()
    yield described(paper)


def _of_itself(paper: Paper) -> Table:
    rows: list[Row] = [
        ("title", f"{paper.what}: {paper.title}"), ("plant", paper.plant),
        ("as known on", timezone.localtime(paper.as_known_on).isoformat()), ("records", str(paper.records)),
        *((f"question: {name}", value) for name, value in paper.question),
        ("caution", paper.caution),
        *(("lacks or leaves in doubt", gap) for gap in paper.gaps),
        *(row for part in paper.parts for row in _said(part)),
    ]  # fmt: skip
    return Table("paper", _("Paper"), _("One thing that the paper says of itself."), (
        Column("what", _("What"), _("What is told.")), Column("value", _("Value"), _("What it is.")),
    ), tuple(rows))  # fmt: skip


def _said(part: Part) -> Iterator[Row]:
    """Facts and sentences of one part."""
    match part:
        case Beside(left, right):
            yield from _said(left)
            yield from _said(right)
        case Facts(title, pairs):
            yield from ((" · ".join(filter(None, (title, what))), value) for what, value in pairs)
        case Said(title, lines):
            yield from ((title, line) for line in lines)


def described(paper: Paper) -> Table:
    """Every column of every table: its name, what it is, how it is written, and its unit."""
    kinds = {
        "text": _("text"), "number": _("number"), "count": _("whole number"), "time": _("time, ISO 8601"),
        "day": _("day, ISO 8601"), "flag": _("yes or no"), "verdict": _("certain, may or cannot"),
    }  # fmt: skip
    return Table("columns", _("Columns"), _("One column of one table."), tuple(
        Column(name, title, title) for name, title in (
            ("table", _("Table")), ("row", _("What one row is")), ("column", _("Column")), ("title", _("Title")),
            ("about", _("What it is")), ("kind", _("Kind")), ("unit", _("Unit")),
        )
    ), tuple(
        (table.name, table.about, c.name, c.title, c.about, kinds[c.kind], c.unit)
        for table in paper.tables() for c in table.columns
    ))  # fmt: skip
