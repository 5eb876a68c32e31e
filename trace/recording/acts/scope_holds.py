"""Holds on a scope: on every hull that shares a cause, for certain or maybe, and on those made later that share it.

One is in force from the moment it is laid: what is bound, packed or loaded from then on is judged by it (joining.py).
The hulls made before are named by the records that follow at once (SpreadScope), so that no scan waits for the whole
plant to be asked; until then packing and the gate judge them too.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import connection
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.genealogy.cause_said import hulls_said
from trace.genealogy.causes import CauseError, read_cause, simple_parts
from trace.genealogy.known_values import must_be_known
from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, words
from trace.recording.floor.scopes_on_hold import live_scopes, rule_of
from trace.recording.floor.sources import one
from trace.recording.floor.standing import Floor

# So many hulls are named by one record: other scans wait for milliseconds, not for seconds.
AT_ONCE = 200
# Of so many at a time it is asked which are new under it.
ASKED_OF = 10_000
# The holds of one scope hold that nobody has ended.
OPEN = """
SELECT h.uid::text, u.uid::text, h.unit FROM hold h JOIN unit u ON u.id = h.unit WHERE h.rule = %(rule)s
   AND NOT EXISTS (SELECT FROM hold_release x WHERE x.hold = h.id AND (x.unit IS NULL OR x.unit = h.unit)) ORDER BY h.id
"""
# A hull that was let go once stays so: whoever released it had a reason.
NEW_HERE = """
SELECT u.uid::text FROM unit u LEFT JOIN unit_state s ON s.unit = u.id
 WHERE u.kind = 'hull' AND u.uid = ANY (%(hulls)s::uuid[]) AND COALESCE(s.status, '') NOT IN ('dispatched', 'scrapped')
   AND NOT EXISTS (SELECT FROM hold h WHERE h.rule = %(rule)s AND h.unit = u.id) ORDER BY u.id
"""


@dataclass(frozen=True, kw_only=True)
class HoldScope(Command):
    """cause: the words of a question, as `manage.py scope` takes them. certain, may, gone: how many hulls share it here
    and have gone, as the page showed it before it was sent."""

    KIND = "scope_held"
    NAME = noop("hold on a scope")
    ALONE = True
    DECISION = True

    cause: tuple[str, ...]
    certain: int = 0
    may: int = 0
    gone: int = 0
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Hold laid on all %(cause)s: %(why)s") % {
            "cause": hulls_said(e.says["cause"]), "why": e.why or _("no reason given"),
        }  # fmt: skip


def hold_facts(c: HoldScope, floor: Floor) -> Facts:
    trouble = ""
    try:
        for part in simple_parts(read_cause(c.cause)):
            must_be_known(part)
    except (CauseError, LookupError) as error:
        trouble = str(error)
    return {"typed": {"trouble": trouble}, "hold": {"no_reason": not c.reason.strip()}}


@handles(HoldScope, hold_facts)
def hold_scope(c: HoldScope, floor: Floor, rows: Rows) -> str:
    number = 1 + int(one("SELECT count(*) FROM event WHERE kind = %s", [c.KIND]))
    return f"{rule_of(number)} on hold: {' '.join(c.cause)}"


@dataclass(frozen=True, kw_only=True)
class SpreadScope(Command):
    """hulls: uids of hulls that share the cause of the scope hold of this number; those that are gone, or were under
    it before, are passed over. because: the kinds of record after which the worker asked again; none where a person
    did."""

    KIND = "scope_spread"
    NAME = noop("spread a hold on a scope")
    ALONE = True
    DECISION = True

    number: int
    hulls: tuple[str, ...] = ()
    because: tuple[str, ...] = ()

    @staticmethod
    def told(e: Told) -> str:
        said = {"n": e.says["number"], "count": len(e.part("holds"))}
        if e.says.get("because"):
            return _("Held, since it shares scope %(n)s, which was asked again after what was recorded since") % said
        return _("Held, since it shares scope %(n)s: %(count)d hulls") % said


def spread_facts(c: SpreadScope, floor: Floor) -> Facts:
    known = c.number in {scope.number for scope in live_scopes()}
    trouble = "" if known else f"There is no hold on scope {c.number}."
    return {"typed": {"trouble": trouble if len(c.hulls) <= AT_ONCE else "These are too many hulls for one record."}}


@handles(SpreadScope, spread_facts)
def spread_scope(c: SpreadScope, floor: Floor, rows: Rows) -> str:
    rule, new = rule_of(c.number), not_under(c.number, c.hulls)
    for uid in new:
        rows.hold(uid, rule)
    return f"{rule}: {len(new)} hulls held"


def not_under(number: int, hulls: Sequence[str]) -> list[str]:
    """Those of these hulls that are here and were never under this hold."""
    found: list[str] = []
    for at in range(0, len(hulls), ASKED_OF):
        with connection.cursor() as cursor:
            cursor.execute(NEW_HERE, {"hulls": list(hulls[at : at + ASKED_OF]), "rule": rule_of(number)})
            found += [uid for (uid,) in cursor.fetchall()]
    return found


@dataclass(frozen=True, kw_only=True)
class EndScopeHold(Command):
    """hulls: uids of those that are let go; none: the hold is over, for all that are still under it and for what is
    made from now on."""

    KIND = "scope_released"
    NAME = noop("end a hold on a scope")
    ALONE = True
    DECISION = True

    number: int
    hulls: tuple[str, ...] = ()
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        said = {"n": e.says["number"], "why": e.why or _("no reason given"), "count": len(e.part("hold_releases"))}
        if e.says["hulls"]:
            return _("Let go from the hold on scope %(n)s, %(count)d hulls: %(why)s") % said
        return _("Hold on scope %(n)s ended: %(why)s") % said


def end_facts(c: EndScopeHold, floor: Floor) -> Facts:
    scope = next((one for one in live_scopes() if one.number == c.number), None)
    trouble = "" if scope else f"There is no hold on scope {c.number}."
    if scope and scope.person == floor.by.person:
        trouble = "You laid this hold: four eyes see more than two. Ask another person with the right to release."
    if c.hulls and not trouble and not set(c.hulls) <= {unit for _hold, unit, _id in _open(c.number)}:
        trouble = "One of these hulls is not under this hold."
    return {"typed": {"trouble": trouble}, "hold": {"no_reason": not c.reason.strip()}}


@handles(EndScopeHold, end_facts)
def end_scope_hold(c: EndScopeHold, floor: Floor, rows: Rows) -> str:
    ended = [(hold, unit) for hold, unit, _id in _open(c.number) if not c.hulls or unit in c.hulls]
    for hold, unit in ended:
        rows.release_hold(hold, None)
        rows.touch(unit, "hold released")
    return f"{rule_of(c.number)}: {len(ended)} let go" + ("" if c.hulls else "; the hold is over")


def _open(number: int) -> list[tuple[str, str, int]]:
    with connection.cursor() as cursor:
        cursor.execute(OPEN, {"rule": rule_of(number)})
        return list(cursor.fetchall())


def under(number: int) -> list[str]:
    """The uids of the hulls that are under this scope hold now."""
    return [unit for _hold, unit, _id in _open(number)]


def laid(number: int) -> datetime | None:
    """When it was laid, None where there is no such hold in force."""
    return next((scope.laid for scope in live_scopes() if scope.number == number), None)
