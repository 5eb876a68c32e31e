"""A code shown to a station that has no place for it: refused by the rules about codes, and kept like any attempt."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles
from trace.recording.floor.standing import Floor


@dataclass(frozen=True, kw_only=True)
class Shown(Command):
    """code: as scanned or typed. wanted: the kinds that the station takes."""

    KIND = "shown"
    NAME = noop("strange code")

    code: str
    wanted: tuple[str, ...]

    def codes(self) -> list[tuple[str, str, tuple[str, ...]]]:
        return [("code", self.code, self.wanted)]

    @staticmethod
    def told(e: Told) -> str:
        return _("%(code)s was scanned where it has no place") % {"code": printed(e.says["code"])}


def shown_facts(c: Shown, floor: Floor) -> Facts:
    return {}


@handles(Shown, shown_facts)
def shown(c: Shown, floor: Floor, rows: Rows) -> str:
    """Only when the code came to be known between the look and the scan: nothing is made of it."""
    return "shown; scan it again"
