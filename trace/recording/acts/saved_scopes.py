"""Questions saved with their answer: which hulls shared a cause at a moment, to be asked again and compared.

What was saved is never changed or deleted; one that is done with is put aside, with a reason.
"""

from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.genealogy.answer import what_was_known
from trace.genealogy.cause_said import hulls_said
from trace.genealogy.causes import CauseError, read_cause
from trace.genealogy.saved_scopes import saved_scope
from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, words
from trace.recording.floor.sources import one
from trace.recording.floor.standing import Floor


@dataclass(frozen=True, kw_only=True)
class SaveScope(Command):
    """The answer to a question: cause, its words; known, the moment it was asked for (ISO); the counts; tree_size, how
    many records there were by then; digest, of everything behind them (trace.genealogy.asked_again.digest_of)."""

    KIND = "scope_saved"
    NAME = noop("save a scope")
    # Its number is the next one; and nothing recorded by its moment is still under way.
    ALONE = True
    DECISION = True

    cause: tuple[str, ...]
    known: str
    certain: int
    may: int
    cannot: int
    tree_size: int
    digest: str
    name: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Scope of %(cause)s saved: %(certain)s certain, %(may)s may") % {
            "cause": hulls_said(e.says["cause"]), "certain": e.says["certain"], "may": e.says["may"],
        }  # fmt: skip


def _trouble(c: SaveScope) -> str:
    try:
        read_cause(c.cause)
        known = datetime.fromisoformat(c.known)
    except CauseError as error:
        return str(error)
    except ValueError:
        return "The moment of a scope is no time."
    if known.tzinfo is None:
        return "The moment of a scope is written with its time zone."
    return _no_answer(c, known)


def _no_answer(c: SaveScope, known: datetime) -> str:
    if min(c.certain, c.may, c.cannot) < 0 or len(c.digest) != 64:
        return "What is saved is no answer: ask again, then save it."
    if not c.name.strip():
        return "A saved scope needs a name: say in a few words what it is for."
    # Here this is the one record under way: all that was recorded by then is there now, and for ever.
    if what_was_known(known)[1] != c.tree_size:
        return "Something else was recorded at that very moment: ask again, then save it."
    return ""


def save_facts(c: SaveScope, floor: Floor) -> Facts:
    return {"typed": {"trouble": _trouble(c)}}


@handles(SaveScope, save_facts)
def save_scope(c: SaveScope, floor: Floor, rows: Rows) -> str:
    number = 1 + int(one("SELECT count(*) FROM event WHERE kind = %s", [c.KIND]))
    rows.given["scopes"] = [number]
    return f"saved as number {number}: {c.certain} certain, {c.may} may"


@dataclass(frozen=True, kw_only=True)
class PutScopeAside(Command):
    """The saved scope of this number is not looked at any more; it can still be opened. reason: why."""

    KIND = "scope_put_aside"
    NAME = noop("put a saved scope aside")
    ALONE = True
    DECISION = True

    number: int
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Saved scope %(n)s put aside: %(why)s") % {
            "n": e.says["number"], "why": e.why or _("no reason given"),
        }  # fmt: skip


def aside_facts(c: PutScopeAside, floor: Floor) -> Facts:
    known = saved_scope(c.number)
    trouble = "" if known else f"There is no saved scope {c.number}."
    if known and known.aside:
        trouble = f"Saved scope {c.number} is put aside already."
    return {"typed": {"trouble": trouble}, "correction": {"no_reason": not c.reason.strip()}}


@handles(PutScopeAside, aside_facts)
def put_aside(c: PutScopeAside, floor: Floor, rows: Rows) -> str:
    return f"saved scope {c.number} put aside"
