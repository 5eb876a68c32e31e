"""Somebody has read the list of holds in force: that they know of it is a record like any other."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles
from trace.recording.floor.standing import Floor


@dataclass(frozen=True, kw_only=True)
class ReadHolds(Command):
    """number: of the list that was shown; whoever pressed knows of every hold that was laid up to it."""

    KIND = "holds_read"
    NAME = noop("read the holds in force")

    number: int

    @staticmethod
    def told(e: Told) -> str:
        return _("Read the list of holds in force, no. %(number)s") % {"number": e.says["number"]}


def read_holds_facts(c: ReadHolds, floor: Floor) -> Facts:
    return {}


@handles(ReadHolds, read_holds_facts)
def read_holds(c: ReadHolds, floor: Floor, rows: Rows) -> str:
    """It touches nothing: the holds are as they were."""
    return f"list of holds no. {c.number} read"
