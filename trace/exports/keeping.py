"""Papers asked for, made by a job, and kept under the digest of their bytes.

A question asked again by the same person about the same moment finds the paper that is kept. Made anew, a paper has the
same bytes: they follow from its row and from what was known then.
"""

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.db import connection, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes import uuid7
from trace.exports.asked import Asked, PaperError, Reader
from trace.exports.files.data import fingerprint
from trace.exports.forms import BY_FORM, Form, forms_of
from trace.exports.kinds.table import BY_NAME
from trace.exports.paper import Paper
from trace.exports.pdf.sheet import Stamp
from trace.genealogy.answer import what_was_known
from trace.models import Job, KeptPaper
from trace.speech import names_of

KIND = "make paper"
TOLD_EVERY = 2_000  # rows between two words on how far it is
LONGEST_WORD = 16_000  # 500 plates of bad hulls

# Says that so many rows of so many are written.
Tell = Callable[[int, int], None]


def ask(
    kind: str, words: Mapping[str, str], form: str, as_known_on: datetime | None, person: str, roles: Iterable[str]
) -> KeptPaper:
    """The paper of a question, made by a job soon. Raises PaperError for what is no question, and UnknownCodeError
    where nothing was recorded by then."""
    asks = BY_NAME.get(kind)
    if asks is None or form not in {one.name for one in forms_of(asks)}:
        raise PaperError(_("There is no such paper."))
    said = {name: words.get(name, "").strip()[:LONGEST_WORD] for name in asks.asks}
    for name, about in asks.asks.items():
        if not said[name] and name not in asks.may_lack:
            raise PaperError(_("The question lacks its %(name)s: %(about)s.") % {"name": name, "about": about})
    newest, _size = what_was_known(as_known_on)
    known = min(as_known_on, timezone.now()) if as_known_on else newest
    reader = Reader.of(list(roles))
    same = {
        "kind": kind, "words": said, "form": form, "as_known_on": known, "asked_by": person, "error": "",
        "consignees": reader.consignees, "free_words": reader.words,
    }  # fmt: skip
    with transaction.atomic():
        kept = KeptPaper.objects.filter(**same).order_by("id").first()
        if kept is None:
            kept = KeptPaper.objects.create(**same, asked=timezone.now())
            now = timezone.now()
            Job.objects.create(id=uuid7(), kind=KIND, key=_key(kept.id), args={"paper": kept.id}, made=now, touched=now)
    return kept


def _key(paper: int) -> str:
    return f"{KIND} {paper}"


@dataclass(frozen=True, slots=True)
class Progress:
    """How many rows of how many are written; `total` 0: what was known is still being gathered."""

    done: int
    total: int


def jobs_of(papers: Iterable[KeptPaper]) -> dict[int, Progress]:
    """How far each of those is that are being made, by id."""
    waiting = {_key(paper.id): paper.id for paper in papers if not paper.digest and not paper.error}
    jobs = Job.objects.filter(key__in=list(waiting)) if waiting else []
    return {waiting[job.key]: Progress(job.done, job.total) for job in jobs}


def number_of(paper: KeptPaper) -> str:
    """The paper's number, as it stands in its title block: HR-118."""
    return f"{BY_NAME[paper.kind].prefix}-{paper.id}"


def name_of(paper: KeptPaper) -> str:
    """The name of its file: letters, digits and hyphens alone."""
    about = "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in paper.title).strip("-")[:60]
    return "-".join(filter(None, (number_of(paper), about))) + f".{BY_FORM[paper.form].ending}"


def reader_of(paper: KeptPaper) -> Reader:
    return Reader(paper.consignees, paper.free_words)


def path_of(digest: str) -> Path:
    """Where a file is kept."""
    return Path(settings.PAPER_FOLDER) / digest[:2] / digest


def make(job: UUID, meanwhile: Callable[[], None]) -> bool:
    """Do one job of this kind: gather what was known, write the file, keep it under its digest. Broken off, it is done
    anew and gives the same bytes. `meanwhile` is called now and then between its rows."""
    with connection.cursor() as cursor:
        cursor.execute(
            """UPDATE job SET state = 'under way', touched = clock_timestamp() WHERE id = %s AND state <> 'done'
                RETURNING (args->>'paper')::bigint""",
            [job],
        )
        row = cursor.fetchone()
    kept = KeptPaper.objects.filter(id=row[0]).first() if row else None
    if kept is not None:
        _made(kept, job, meanwhile)
    return True


def make_now(kept: KeptPaper) -> None:
    """Make a paper while its asker waits, whether it waits for the worker or its file was lost."""
    job = Job.objects.get(key=_key(kept.id))
    _made(kept, job.id, _nothing)


def _nothing() -> None:
    """Who waits for one paper does nothing else meanwhile."""


def _made(kept: KeptPaper, job: UUID, meanwhile: Callable[[], None]) -> None:
    def tell(done: int, total: int) -> None:
        _tell(job, done, total)
        meanwhile()

    try:
        said = written(kept, BY_FORM[kept.form], tell)
    except (PaperError, LookupError) as error:
        said = {"error": str(error) or _("It cannot be made.")}
    with transaction.atomic():
        KeptPaper.objects.filter(id=kept.id).update(**said)
        Job.objects.filter(id=job).update(state="done", error="", touched=timezone.now())


def paper_of(kept: KeptPaper) -> Paper:
    """What it says. Raises PaperError or LookupError."""
    return BY_NAME[kept.kind].make(Asked(kept.words, kept.as_known_on, reader_of(kept)))


def written(kept: KeptPaper, form: Form, tell: Tell) -> dict[str, object]:
    """Write the file and bring it to its place; what its row says from then on."""
    paper = paper_of(kept)
    proof = fingerprint(paper)
    stamp = Stamp(kept.asked, names_of([kept.asked_by])[kept.asked_by], proof, number_of(kept))
    folder = Path(settings.PAPER_FOLDER)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    part = folder / f"being written {kept.id}"
    rows = Counted(sum(len(table.rows) for table in paper.tables()), tell)
    with part.open("wb") as file:
        form.write(paper, stamp, file, rows.step)
    digest, size = _digest(part), part.stat().st_size
    place = path_of(digest)
    place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    part.replace(place)
    said = {"title": paper.title, "records": paper.records, "error": ""}
    return {**said, "fingerprint": proof, "digest": digest, "size": size}


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


class Counted:
    """Counts rows, and says now and then how far it is."""

    def __init__(self, total: int, tell: Tell) -> None:
        self.done, self.total, self.tell = 0, total, tell

    def step(self) -> None:
        if self.done % TOLD_EVERY == 0:
            self.tell(self.done, self.total)
        self.done += 1


def _tell(job: UUID, done: int, total: int) -> None:
    """In a statement of its own, so that a page sees it."""
    Job.objects.filter(id=job).exclude(state="done").update(done=done, total=total, touched=timezone.now())
