"""What a paper can be written as: PDF to read, CSV, XLSX and JSON to reckon with, EPCIS for other
systems, a ZIP of it with its photos."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import BinaryIO

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy

from trace.exports.epcis.document import write_epcis
from trace.exports.files.data import write_json
from trace.exports.files.packed import write_csv
from trace.exports.files.with_photos import write_with_photos
from trace.exports.files.workbook import write_xlsx
from trace.exports.kinds.kind import PaperKind
from trace.exports.paper import Paper
from trace.exports.pdf.sheet import Stamp
from trace.exports.pdf.write import write_pdf

Step = Callable[[], None]


@dataclass(frozen=True, slots=True)
class Form:
    """`ending` of the file's name, `type` as HTTP has it; `write` fills a file and calls its last argument a row."""

    name: str
    title: str | Promise
    ending: str
    type: str
    write: Callable[[Paper, Stamp, BinaryIO, Step], object]


def _unstamped(write: Callable[[Paper, BinaryIO, Step], None]) -> Callable[[Paper, Stamp, BinaryIO, Step], None]:
    """What says nothing of who asked for it and when."""
    return lambda paper, _stamp, out, step: write(paper, out, step)


EPCIS, WITH_PHOTOS = "epcis", "with-photos"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
FORMS = (
    Form("pdf", gettext_lazy("PDF, for paper"), "pdf", "application/pdf", write_pdf),
    Form("xlsx", gettext_lazy("XLSX, a workbook"), "xlsx", XLSX, _unstamped(write_xlsx)),
    Form("csv", gettext_lazy("CSV, a file a table"), "zip", "application/zip", _unstamped(write_csv)),
    Form("json", gettext_lazy("JSON, its data"), "json", "application/json", _unstamped(write_json)),
    Form(EPCIS, gettext_lazy("EPCIS 2.0 events"), "jsonld", "application/ld+json", _unstamped(write_epcis)),
    Form(WITH_PHOTOS, gettext_lazy("ZIP: PDF, data and photos"), "zip", "application/zip", write_with_photos),
)


def forms_of(kind: PaperKind) -> list[Form]:
    """What this kind of paper can be written as."""
    lacks = {name for name, has in ((EPCIS, kind.has_events), (WITH_PHOTOS, kind.has_photos)) if not has}
    return [form for form in FORMS if form.name not in lacks]


BY_FORM: dict[str, Form] = {form.name: form for form in FORMS}
