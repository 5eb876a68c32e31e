"""A paper is taken away: that somebody read it is a record like any other."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles
from trace.recording.floor.standing import Floor


@dataclass(frozen=True, kw_only=True)
class TakePaper(Command):
    """number: the paper's own. question: name=value in the order in which they were asked. as_known_on: ISO 8601, UTC.
    form: what it is written as. digest: SHA-256 of the file. fingerprint: SHA-256 of its data.
    """

    KIND = "paper_taken"
    NAME = noop("take a paper")

    number: str
    kind: str
    question: tuple[str, ...]
    as_known_on: str
    form: str
    digest: str
    fingerprint: str

    @staticmethod
    def told(e: Told) -> str:
        return _("Paper %(number)s taken: %(kind)s %(question)s, as %(form)s") % {
            "number": e.says["number"], "kind": e.says["kind"], "question": " ".join(e.says["question"]),
            "form": e.says["form"],
        }  # fmt: skip


def take_paper_facts(c: TakePaper, floor: Floor) -> Facts:
    return {}


@handles(TakePaper, take_paper_facts)
def take_paper(c: TakePaper, floor: Floor, rows: Rows) -> str:
    """It touches nothing: what was read is as it was."""
    return f"paper {c.number} taken"
