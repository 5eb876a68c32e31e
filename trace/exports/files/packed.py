"""A paper as CSV: one file a table in a ZIP, with the same bytes for the same data."""

import csv
import io
from collections.abc import Callable
from typing import BinaryIO
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from trace.exports.files.rows import all_tables, written
from trace.exports.paper import Paper

# No file of it has a time of its own: ZIP's earliest.
NO_TIME = (1980, 1, 1, 0, 0, 0)


def write_csv(paper: Paper, out: BinaryIO, step: Callable[[], None]) -> None:
    """NAME.csv for each table (RFC 4180, UTF-8 with a mark at its beginning, so that spreadsheet programs read it as
    such), paper.csv with what the paper says of itself, columns.csv with what each column is."""
    with ZipFile(out, "w", ZIP_DEFLATED) as packed:
        for table in all_tables(paper):
            file = entry(f"{table.name}.csv")
            with packed.open(file, "w") as raw, io.TextIOWrapper(raw, "utf-8-sig", newline="") as text:
                rows = csv.writer(text)
                rows.writerow([column.name for column in table.columns])
                for row in table.rows:
                    step()
                    rows.writerow([written(cell) for cell in row])


def entry(name: str) -> ZipInfo:
    """A file of a ZIP that is the same whenever it is packed."""
    made = ZipInfo(name, NO_TIME)
    made.compress_type, made.external_attr = ZIP_DEFLATED, 0o644 << 16
    return made
