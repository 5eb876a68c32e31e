"""A paper as PDF, from its first sheet to its last."""

from collections.abc import Callable
from typing import BinaryIO

from trace.exports.paper import Paper
from trace.exports.pdf.parts import strips_of
from trace.exports.pdf.sheet import INNER, Sheets, Stamp


def write_pdf(paper: Paper, stamp: Stamp, out: BinaryIO, step: Callable[[], None]) -> int:
    """Write it; how many sheets there are. The same bytes for the same paper and stamp."""
    sheets = Sheets(paper, stamp, out)
    sheets.place(strips_of(paper, INNER, step))
    return sheets.end()
