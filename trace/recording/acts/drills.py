"""Mock recalls: begun for a lot and a hull, marked when each answer is in hand, and signed with what was found.

What is signed is reckoned again before it is recorded, as known when the drill began: a result that the records do not
give cannot be signed.
"""

from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.genealogy.answer import TooWideError
from trace.genealogy.drill import WAYS, Drill, Outcome, drills, found_by
from trace.genealogy.find import find_unit
from trace.genealogy.walk import nodes
from trace.readmodels.rows import Rows
from trace.recording.commands import Command, Facts, Told, handles, words
from trace.recording.floor.standing import Floor

DRILLED = "drilled"


@dataclass(frozen=True, kw_only=True)
class BeginDrill(Command):
    """lot, hull: what is traced forward and back, each by any code that it is known by."""

    KIND = "drill_begun"
    NAME = noop("begin a mock recall")
    DECISION = True

    lot: str
    hull: str

    @staticmethod
    def told(e: Told) -> str:
        return _("Mock recall begun: lot %(lot)s forward, hull %(hull)s back") % {
            "lot": e.says["lot"], "hull": e.says["hull"],
        }  # fmt: skip


def _trouble(lot: str, hull: str, floor: Floor) -> str:
    """Why this cannot be traced; "" where it can."""
    try:
        found_by(lot, hull, floor.now)
        kind = nodes([find_unit(hull, floor.now)])
    except (LookupError, TooWideError) as error:
        return str(error)
    return "" if next(iter(kind.values())).kind == "hull" else f"{hull[:24]} is no hull: scan or type a plate."


def begin_drill_facts(c: BeginDrill, floor: Floor) -> Facts:
    return {"typed": {"trouble": _trouble(c.lot, c.hull, floor)}}


@handles(BeginDrill, begin_drill_facts)
def begin_drill(c: BeginDrill, floor: Floor, rows: Rows) -> str:
    ids = {find_unit(code, floor.now) for code in (c.lot, c.hull)}
    rows.touch_each([node.uid for node in nodes(ids).values()], DRILLED)
    return "mock recall begun: the clock runs"


@dataclass(frozen=True, kw_only=True)
class MarkDrill(Command):
    """The answer of one direction is in hand. way: one of WAYS."""

    KIND = "drill_marked"
    NAME = noop("mark of a mock recall")
    DECISION = True

    drill: str
    way: str

    @staticmethod
    def told(e: Told) -> str:
        if e.says["way"] == "forward":
            return _("Mock recall: every hull of the lot is named")
        return _("Mock recall: every lot of the hull is named")


def drill_of(uid: str) -> Drill | None:
    """The drill of this uid, None where none was begun."""
    return next(iter(drills(uid=uid)), None) if uid else None


def _standing(drill: Drill | None) -> Facts:
    return {"unknown": drill is None, "signed": bool(drill and drill.signed)}


def mark_facts(c: MarkDrill, floor: Floor) -> Facts:
    drill = drill_of(c.drill)
    return {
        "typed": {"trouble": "" if c.way in WAYS else "Say forward or back."},
        "drill": {**_standing(drill), "marked": bool(drill and c.way in drill.marks)},
    }


@handles(MarkDrill, mark_facts)
def mark(c: MarkDrill, floor: Floor, rows: Rows) -> str:
    return f"{c.way}: in hand"


@dataclass(frozen=True, kw_only=True)
class SignDrill(Command):
    """The result of a drill. result, unaccounted: as trace.genealogy.drill.Outcome says them, as known when the drill
    began."""

    KIND = "drill_signed"
    NAME = noop("sign a mock recall")
    DECISION = True

    drill: str
    result: dict[str, str] = field(default_factory=dict)
    unaccounted: tuple[tuple[str, str], ...] = ()
    remark: str = words()

    @staticmethod
    def told(e: Told) -> str:
        percent = str(e.says["result"].get("reconciled") or "")
        if not percent:
            return _("Mock recall signed; what came is not recorded, so nothing can be said in per cent")
        return _("Mock recall signed: %(percent)s %% reconciled") % {"percent": percent}


def outcome_of(drill: Drill) -> Outcome:
    """What the records give for a drill, as known when it began."""
    return found_by(drill.lot, drill.hull, drill.begun)


def sign_facts(c: SignDrill, floor: Floor) -> Facts:
    drill = drill_of(c.drill)
    facts = {**_standing(drill), "unmarked": bool(drill and set(WAYS) - drill.marks.keys()), "other": False}
    if drill and not drill.signed:
        found = outcome_of(drill)
        facts["other"] = (dict(c.result), tuple(map(tuple, c.unaccounted))) != (dict(found.said), found.unaccounted)
    return {"drill": facts}


@handles(SignDrill, sign_facts)
def sign(c: SignDrill, floor: Floor, rows: Rows) -> str:
    drill = drill_of(c.drill)
    assert drill is not None  # noqa: S101 - DRILL-UNKNOWN is basic
    ids = {find_unit(code, drill.begun) for code in (drill.lot, drill.hull)}
    rows.touch_each([node.uid for node in nodes(ids).values()], DRILLED)
    return f"signed after {drill.minutes(floor.now)} minutes"
