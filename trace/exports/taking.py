"""A paper that is kept is handed out, and that somebody took it is recorded first."""

from pathlib import Path
from uuid import UUID

from trace.exports.keeping import number_of, path_of
from trace.genealogy.documents import utc
from trace.models import KeptPaper
from trace.recording.acts.papers import TakePaper
from trace.recording.answers import Answer
from trace.recording.commands import By
from trace.recording.record import record


def take(paper: KeptPaper, person: str, scan_id: UUID | None = None) -> tuple[Answer, Path]:
    """Record that `person` takes it, and where the file is. What the plant refuses says the answer."""
    command = TakePaper(
        number=number_of(paper), kind=paper.kind, as_known_on=utc(paper.as_known_on), form=paper.form,
        question=tuple(f"{name}={part}" for name, value in paper.words.items() for part in value.split("\n")),
        digest=paper.digest, fingerprint=paper.fingerprint,
    )  # fmt: skip
    return record(command, By(person=person, station="papers", scan_id=scan_id)), path_of(paper.digest)
