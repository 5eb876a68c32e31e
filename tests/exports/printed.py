"""Reads a PDF back by another library than the one that wrote it: its pages as text."""

import re
from io import BytesIO

import pypdfium2

from trace.exports.paper import Paper
from trace.exports.pdf.sheet import Stamp
from trace.exports.pdf.write import write_pdf


def pdf_of(paper: Paper, stamp: Stamp) -> bytes:
    out = BytesIO()
    write_pdf(paper, stamp, out, lambda: None)
    return out.getvalue()


def pages_of(data: bytes) -> list[str]:
    """The text of each page, blanks and line ends as one blank."""
    document = pypdfium2.PdfDocument(data)
    try:
        return [re.sub(r"\s+", " ", page.get_textpage().get_text_range()) for page in document]
    finally:
        document.close()


def bare(text: str) -> str:
    """Without blanks and hyphens at a line's end: what is left must be there however a line was broken."""
    return re.sub(r"[\s\ufffe\u0002-]", "", text)
