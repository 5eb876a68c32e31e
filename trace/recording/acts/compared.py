"""Two hulls whose plates seemed to be exchanged were compared, and each has its own."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.standing import Floor

COMPARED = "plates compared"  # in the database since then: never another


@dataclass(frozen=True, kw_only=True)
class ComparePlates(Command):
    """Somebody looked at both hulls: each plate is its own. What is inspected of them later counts anew."""

    KIND = "plates_compared"
    NAME = noop("compare two plates")
    DECISION = True

    first: str = scanned("hull")
    second: str = scanned("hull")
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Plates %(first)s and %(second)s compared: each stands on its own hull. %(why)s") % {
            "first": e.says["first"], "second": e.says["second"], "why": e.why,
        }  # fmt: skip


def compare_facts(c: ComparePlates, floor: Floor) -> Facts:
    one, other = floor[c.first].hull, floor[c.second].hull
    return {
        "swap": {"same": one is not None and other is not None and one.uid == other.uid},
        "close": {"no_reason": not c.reason.strip()},
    }


@handles(ComparePlates, compare_facts)
def compare_plates(c: ComparePlates, floor: Floor, rows: Rows) -> str:
    for found in (floor[c.first], floor[c.second]):
        assert found.hull is not None  # noqa: S101 - the codes were asked to be hulls'
        rows.touch(found.hull.uid, COMPARED)
    return f"{floor[c.first].code} and {floor[c.second].code} compared: each plate is its own"
