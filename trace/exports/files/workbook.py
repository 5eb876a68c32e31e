"""A paper as XLSX: a sheet a table, written row by row; text is text whatever it begins with, amounts are numbers."""

from collections.abc import Callable, Iterator
from datetime import UTC
from decimal import Decimal
from itertools import chain, islice
from typing import Any, BinaryIO

import xlsxwriter
from django.utils.translation import gettext as _

from trace.exports.asked import PaperError
from trace.exports.files.rows import FORMULA, all_tables, written
from trace.exports.paper import Cell, Column, Paper, Row, Table

MOST_ROWS = 1_048_575  # of one sheet, below its heading (ECMA-376)
MOST_SIGNS = 32_767  # of one cell
WIDEST = 60


def write_xlsx(paper: Paper, out: BinaryIO, step: Callable[[], None]) -> None:
    """The same tables as the CSV files. Times are texts with their offset, since a spreadsheet's own times have none.
    Raises PaperError for a text that no cell can hold."""
    book = xlsxwriter.Workbook(out, {
        "constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
    })  # fmt: skip
    made = paper.as_known_on.astimezone(UTC).replace(microsecond=0, tzinfo=None)
    book.set_properties({"title": f"{paper.what}: {paper.title}", "company": paper.plant, "created": made})
    try:
        writer = Writer(book)
        for table in all_tables(paper):
            rows = iter(table.rows)
            for n, first in enumerate(chain([next(rows, None)], rows)):
                # The next sheet begins where one is full.
                name = table.name[:28] if n == 0 else f"{table.name[:28]}_{n + 1}"
                some = islice(chain([first], rows), MOST_ROWS) if first is not None else iter(())
                writer.sheet(name, table, some, step)
    finally:
        book.close()  # else its temporary files stay open


class Writer:
    """One workbook with its few formats."""

    def __init__(self, book: Any) -> None:
        self.book = book
        self.head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.text = book.add_format({"valign": "top"})
        self.quoted = book.add_format({"valign": "top", "quote_prefix": True})
        self.numbers: dict[int, Any] = {}

    def sheet(self, name: str, table: Table, rows: Iterator[Row], step: Callable[[], None]) -> None:
        sheet = self.book.add_worksheet(name)
        sheet.freeze_panes(1, 0)
        for n, column in enumerate(table.columns):
            sheet.set_column(n, n, min(WIDEST, max(len(column.name) + 2, 12 + 20 * (column.kind == "text"))))
            sheet.write_string(0, n, column.name, self.head)
        for at, row in enumerate(rows, start=1):
            step()
            for n, (cell, column) in enumerate(zip(row, table.columns, strict=True)):
                self._cell(sheet, at, n, cell, column)

    def _cell(self, sheet: Any, at: int, n: int, cell: Cell, column: Column) -> None:
        if cell is None or cell == "":
            return
        if isinstance(cell, int | Decimal) and not isinstance(cell, bool):
            sheet.write_number(at, n, cell, self._number(cell))
            return
        text = str(cell) if isinstance(cell, str) else written(cell)
        if len(text) > MOST_SIGNS:
            raise PaperError(
                _("The column %(name)s has a text that no cell of a spreadsheet can hold: take the CSV files.")
                % {"name": column.name}
            )
        # Marked as text for whoever edits it, too.
        sheet.write_string(at, n, text, self.quoted if text.lstrip()[:1] in tuple(FORMULA) else self.text)

    def _number(self, cell: int | Decimal) -> Any:
        """The format with as many decimals as the amount was read with."""
        exponent = cell.as_tuple().exponent if isinstance(cell, Decimal) else 0
        decimals = max(0, -exponent) if isinstance(exponent, int) else 0
        if decimals not in self.numbers:
            shown = "0." + "0" * decimals if decimals else "0"
            self.numbers[decimals] = self.book.add_format({"num_format": shown, "valign": "top"})
        return self.numbers[decimals]
