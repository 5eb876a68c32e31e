"""One badge was at two screens at a time: somebody looked into it, and says what it was."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, scanned, words
from trace.recording.floor.standing import Floor

LOOKED_AT = "badge looked at"  # in the database since then: never another


@dataclass(frozen=True, kw_only=True)
class LookAtBadge(Command):
    """first, second: the uids of the two records. Nothing of them is changed by it."""

    KIND = "badge_looked_at"
    NAME = noop("look at a badge")
    DECISION = True

    badge: str = scanned("person")
    first: str
    second: str
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Looked at: a badge at two screens. %(why)s") % {"why": e.why or _("no reason given")}


def look_facts(c: LookAtBadge, floor: Floor) -> Facts:
    own = floor[c.badge].key == floor.by.person
    trouble = "This is your own badge: ask another person to look at it." if own else ""
    return {"typed": {"trouble": trouble}, "correction": {"no_reason": not c.reason.strip()}}


@handles(LookAtBadge, look_facts)
def look(c: LookAtBadge, floor: Floor, rows: Rows) -> str:
    rows.resource("person", floor[c.badge].key, LOOKED_AT)
    return "a badge at two screens: looked at"
