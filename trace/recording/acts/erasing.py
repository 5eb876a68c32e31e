"""Erasing: the words behind a digest are taken away for ever; what is recorded, and that they were there, stays."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, words
from trace.recording.floor.complaints import words_there
from trace.recording.floor.standing import Floor


@dataclass(frozen=True, kw_only=True)
class Erase(Command):
    """notes: the digests of a name or of words, as events hold them; reason: why, which is kept as words of its own."""

    KIND = "erased"
    NAME = noop("erase words")
    DECISION = True

    notes: tuple[str, ...]
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Words erased: %(count)d; %(why)s") % {
            "count": len(e.says.get("notes") or ()), "why": e.why or _("no reason given"),
        }  # fmt: skip


def erase_facts(c: Erase, floor: Floor) -> Facts:
    wanted = set(c.notes)
    return {
        "erasing": {"gone": not wanted or wanted != words_there(sorted(wanted))},
        "correction": {"no_reason": not c.reason.strip()},
    }


@handles(Erase, erase_facts)
def erase(c: Erase, floor: Floor, rows: Rows) -> str:
    for note in sorted(set(c.notes)):
        rows.erased(note)
    return f"{len(set(c.notes))} erased"
