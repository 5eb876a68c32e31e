"""A paper as a ZIP to send: the PDF, its data as JSON, and the pictures that go with it."""

from collections.abc import Callable
from shutil import copyfileobj
from typing import BinaryIO, cast
from zipfile import ZIP_DEFLATED, ZipFile

from django.utils.translation import gettext as _

from trace.exports.files.data import write_json
from trace.exports.files.packed import entry
from trace.exports.paper import Paper
from trace.exports.pdf.sheet import Stamp
from trace.exports.pdf.write import write_pdf
from trace.photos.evidence import path_of


def write_with_photos(paper: Paper, stamp: Stamp, out: BinaryIO, step: Callable[[], None]) -> None:
    """paper.pdf, data.json, photos/NAME for each. A picture whose file is lost is a text of one sentence in its place.
    The same bytes for the same paper, stamp and pictures."""
    with ZipFile(out, "w", ZIP_DEFLATED) as packed:
        with packed.open(entry("paper.pdf"), "w") as raw:
            write_pdf(paper, stamp, cast(BinaryIO, raw), step)
        with packed.open(entry("data.json"), "w") as raw:
            write_json(paper, cast(BinaryIO, raw), step)
        for photo in paper.photos:
            path = path_of(photo.sha256)
            if not path.is_file():
                sentence = _("This picture is no longer kept; its SHA-256 is %(sha256)s.") % {"sha256": photo.sha256}
                packed.writestr(entry(f"photos/{photo.name}.lost.txt"), sentence + "\n")
                continue
            with path.open("rb") as picture, packed.open(entry(f"photos/{photo.name}"), "w") as raw:
                copyfileobj(picture, raw)
