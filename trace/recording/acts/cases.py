"""Cases: complaints looked into together, with what is suspected, asked, held, tested, decided and told, to their end.

Each step is an event of its own that names its case by number. Nothing of a case is ever taken away: what proves wrong
is said anew, and a closed case is opened again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.genealogy.cause_said import hulls_said
from trace.genealogy.causes import CauseError, read_cause, written
from trace.readmodels.rows import Rows
from trace.recording.acts.complaint_words import CAUSES, HULLS, SUSPECT_STANDS, WAYS, word
from trace.recording.acts.complaints import closing_facts, day_or_none
from trace.recording.commands import Command, Facts, Told, handles, words
from trace.recording.floor.complaints import CaseNow, case, complaints, hold_is_known, next_case
from trace.recording.floor.standing import Floor


@dataclass(frozen=True, kw_only=True)
class OpenCase(Command):
    """name: what it is about, in a few words. complaints: the numbers of those it begins with; there may be none."""

    KIND = "case_opened"
    NAME = noop("open a case")
    DECISION = True
    # Its number is the next one, and its complaints are in no other.
    ALONE = True

    complaints: tuple[int, ...] = ()
    name: str = words()

    @staticmethod
    def told(e: Told) -> str:
        number = next((str(row["number"]) for row in e.part("cases")), "")
        return _("Case %(number)s opened") % {"number": number}


def _unknown(numbers: Sequence[int]) -> str:
    """Those of the complaints that there are not."""
    known = {one.number for one in complaints(numbers)}
    return ", ".join(str(n) for n in dict.fromkeys(numbers) if n not in known)


def _complaint_facts(numbers: Sequence[int]) -> Facts:
    return {"complaint": {"unknown": bool(lost := _unknown(numbers)), "number": lost}}


def open_case_facts(c: OpenCase, floor: Floor) -> Facts:
    trouble = "" if c.name.strip() else "A case needs a name: say in a few words what it is about."
    return {**_complaint_facts(c.complaints), "typed": {"trouble": trouble}}


@handles(OpenCase, open_case_facts)
def open_case(c: OpenCase, floor: Floor, rows: Rows) -> str:
    number = next_case()
    rows.case(number)
    _put_in(c.complaints, number, rows)
    return f"case {number} opened"


def _put_in(numbers: Sequence[int], into: int | None, rows: Rows) -> None:
    """The complaints are in this case from now on, and open: one that was closed before is looked at again."""
    for one in complaints(numbers):
        rows.complaint_stands(one.event, hull=one.hull, case=into, still_open=True)


@dataclass(frozen=True, kw_only=True)
class InCase(Command):
    """A step of a case, by its number."""

    DECISION = True
    ALONE = True

    case: int


def _case_facts(known: CaseNow | None, number: int, trouble: str = "") -> Facts:
    """What is asked before anything is added to a case."""
    return {
        "case": {
            "unknown": known is None,
            "number": number,
            "closed": bool(known and not known.open),
            "open": bool(known and known.open),
        },
        "typed": {"trouble": trouble if known else ""},
    }


def _goes_on(number: int, rows: Rows) -> CaseNow:
    """The case stands as it stood: the event names it."""
    known = case(number)
    assert known is not None  # noqa: S101 - CASE-UNKNOWN is basic
    rows.case_stands(known.event, still_open=known.open)
    return known


@dataclass(frozen=True, kw_only=True)
class GroupComplaints(InCase):
    """These complaints belong to the case, or (out) do not: those stand alone again."""

    KIND = "case_grouped"
    NAME = noop("complaints of a case")

    complaints: tuple[int, ...]
    out: bool = False
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        said = _("Complaints %(which)s taken out of it") if e.says.get("out") else _("Complaints %(which)s put into it")
        return said % {"which": ", ".join(str(n) for n in e.says["complaints"])} + (f": {e.why}" if e.why else "")


def group_facts(c: GroupComplaints, floor: Floor) -> Facts:
    known = case(c.case)
    inside = {one.number for one in known.complaints} if known else set()
    moves = [n for n in c.complaints if (n in inside) == c.out]
    trouble = ""
    if not moves:
        trouble = "None of these complaints is in the case." if c.out else "These complaints are in the case already."
    return {**_case_facts(known, c.case, trouble), **_complaint_facts(c.complaints)}


@handles(GroupComplaints, group_facts)
def group_complaints(c: GroupComplaints, floor: Floor, rows: Rows) -> str:
    known = _goes_on(c.case, rows)
    inside = {one.number for one in known.complaints}
    _put_in([n for n in c.complaints if (n in inside) == c.out], None if c.out else known.number, rows)
    return f"case {c.case}: complaints {', '.join(map(str, c.complaints))} {'out' if c.out else 'in'}"


def _cause_trouble(cause: Sequence[str]) -> str:
    try:
        read_cause(cause)
    except CauseError as error:
        return str(error)
    return ""


def said_cause(cause: Sequence[str]) -> str:
    """A cause in its own words, as `manage.py scope` takes them."""
    return " ".join(cause)


@dataclass(frozen=True, kw_only=True)
class Suspect(InCase):
    """What the hulls may have in common: cause, in the words of genealogy/causes.py. stands: of SUSPECT_STANDS; the
    last that is said of a cause counts. reason: why."""

    KIND = "case_suspected"
    NAME = noop("suspect of a case")

    cause: tuple[str, ...]
    stands: str = "suspected"
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        said = {"cause": hulls_said(e.says["cause"]), "stands": word(SUSPECT_STANDS, e.says["stands"])}
        return _("Suspect %(cause)s: %(stands)s") % said + (f", {e.why}" if e.why else "")


def suspect_facts(c: Suspect, floor: Floor) -> Facts:
    trouble = _cause_trouble(c.cause)
    if c.stands not in SUSPECT_STANDS:
        trouble = "Say how the suspect stands: suspected, shown or cleared."
    elif c.stands != "suspected" and not c.reason.strip():
        trouble = "Say on what it was shown, or cleared."
    return _case_facts(case(c.case), c.case, trouble)


@handles(Suspect, suspect_facts)
def suspect(c: Suspect, floor: Floor, rows: Rows) -> str:
    _goes_on(c.case, rows)
    return f"case {c.case}: {said_cause(c.cause)}, {c.stands}"


def plain_cause(cause: Sequence[str]) -> tuple[str, ...]:
    """The same question in the one way to write it: two ways of typing it are one suspect. Raises CauseError."""
    return tuple(written(read_cause(cause)))


@dataclass(frozen=True, kw_only=True)
class KeepScope(InCase):
    """Which hulls share a cause, as known at a moment (ISO), counted, with a digest of everything behind that: the
    question can be asked again at any time, and for that moment it is answered in the same way."""

    KIND = "case_scoped"
    NAME = noop("scope of a case")

    cause: tuple[str, ...]
    known: str
    certain: int
    may: int
    cannot: int
    tree_size: int
    digest: str = ""

    @staticmethod
    def told(e: Told) -> str:
        return _("Scope of %(cause)s kept: %(certain)s certain, %(may)s may") % {
            "cause": hulls_said(e.says["cause"]), "certain": e.says["certain"], "may": e.says["may"],
        }  # fmt: skip


def scope_facts(c: KeepScope, floor: Floor) -> Facts:
    trouble = _cause_trouble(c.cause)
    try:
        if datetime.fromisoformat(c.known).tzinfo is None:
            trouble = "The moment of a scope is written with its time zone."
    except ValueError:
        trouble = "The moment of a scope is no time."
    if min(c.certain, c.may, c.cannot, c.tree_size) < 0:
        trouble = "A count is not below nothing."
    return _case_facts(case(c.case), c.case, trouble)


@handles(KeepScope, scope_facts)
def keep_scope(c: KeepScope, floor: Floor, rows: Rows) -> str:
    _goes_on(c.case, rows)
    return f"case {c.case}: scope of {said_cause(c.cause)}, {c.certain} certain, {c.may} may"


@dataclass(frozen=True, kw_only=True)
class HoldForCase(InCase):
    """A hold was laid for this case. hold: its uid; what it is on and why says the hold itself."""

    KIND = "case_held"
    NAME = noop("hold of a case")

    hold: str
    cause: tuple[str, ...] = ()

    @staticmethod
    def told(e: Told) -> str:
        of = _(" on %(cause)s") % {"cause": hulls_said(e.says["cause"])} if e.says.get("cause") else ""
        return _("Hold%(of)s laid for it") % {"of": of}


def hold_facts(c: HoldForCase, floor: Floor) -> Facts:
    trouble = "" if hold_is_known(c.hold) else "No such hold was ever laid."
    return _case_facts(case(c.case), c.case, trouble or (_cause_trouble(c.cause) if c.cause else ""))


@handles(HoldForCase, hold_facts)
def hold_for_case(c: HoldForCase, floor: Floor, rows: Rows) -> str:
    _goes_on(c.case, rows)
    return f"case {c.case}: a hold belongs to it"


@dataclass(frozen=True, kw_only=True)
class RecordTest(InCase):
    """A test: what was looked at, by whom, on which day ("": not said), and its result."""

    KIND = "case_tested"
    NAME = noop("test of a case")

    day: str = ""
    what: str = words()
    result: str = words()
    by_whom: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Tested on %(day)s") % {"day": e.says["day"]} if e.says.get("day") else _("Tested")


def tested_facts(c: RecordTest, floor: Floor) -> Facts:
    trouble = "" if c.what.strip() and c.result.strip() else "Say what was tested, and with what result."
    if c.day and not day_or_none(c.day):
        trouble = f"“{c.day[:20]}” is no day: write it as 2026-06-09, or leave it out."
    return _case_facts(case(c.case), c.case, trouble)


@handles(RecordTest, tested_facts)
def record_test(c: RecordTest, floor: Floor, rows: Rows) -> str:
    _goes_on(c.case, rows)
    return f"case {c.case}: a test"


@dataclass(frozen=True, kw_only=True)
class Decide(InCase):
    """reason: what was decided, and why."""

    KIND = "case_decided"
    NAME = noop("decision of a case")

    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Decided: %(what)s") % {"what": e.why or _("no words kept")}


def decide_facts(c: Decide, floor: Floor) -> Facts:
    return {**_case_facts(case(c.case), c.case), "correction": {"no_reason": not c.reason.strip()}}


@handles(Decide, decide_facts)
def decide(c: Decide, floor: Floor, rows: Rows) -> str:
    _goes_on(c.case, rows)
    return f"case {c.case}: a decision"


@dataclass(frozen=True, kw_only=True)
class TellConsignee(InCase):
    """Somebody was told of the case: which consignee, on which day, by which of WAYS, and what was said or answered."""

    KIND = "case_told"
    NAME = noop("telling a consignee")

    consignee: str
    day: str
    way: str = "letter"
    answer: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("%(who)s told %(way)s on %(day)s") % {
            "who": e.name_of("consignee", str(e.says["consignee"])), "way": word(WAYS, e.says["way"]),
            "day": e.says["day"],
        }  # fmt: skip


def tell_facts(c: TellConsignee, floor: Floor) -> Facts:
    trouble = ""
    if floor.plant.get("consignee", c.consignee) is None:
        trouble = "Choose the consignee from the list."
    elif not day_or_none(c.day):
        trouble = f"“{c.day[:20]}” is no day: write it as 2026-06-09."
    elif c.way not in WAYS:
        trouble = "Choose from the list how they were told."
    return _case_facts(case(c.case), c.case, trouble)


@handles(TellConsignee, tell_facts)
def tell_consignee(c: TellConsignee, floor: Floor, rows: Rows) -> str:
    _goes_on(c.case, rows)
    rows.resource("consignee", c.consignee, "told")
    return f"case {c.case}: {c.consignee} told"


@dataclass(frozen=True, kw_only=True)
class CloseCase(InCase):
    """The case is over, and with it its complaints. cause: of CAUSES; hulls: of HULLS, whether the hulls of all its
    complaints were found; reason: on what it is closed."""

    KIND = "case_closed"
    NAME = noop("close a case")

    cause: str = ""
    hulls: str = ""
    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Closed, cause: %(cause)s; its hulls: %(found)s: %(why)s") % {
            "cause": word(CAUSES, e.says["cause"]), "found": word(HULLS, e.says["hulls"]),
            "why": e.why or _("no reason given"),
        }  # fmt: skip


def close_case_facts(c: CloseCase, floor: Floor) -> Facts:
    known = case(c.case)
    of = list(known.complaints) if known else []
    return {**_case_facts(known, c.case), **closing_facts(c.cause, c.hulls, c.reason, of)}


def _all_of(known: CaseNow, rows: Rows, *, still_open: bool) -> None:
    rows.case_stands(known.event, still_open=still_open)
    for one in known.complaints:
        rows.complaint_stands(one.event, hull=one.hull, case=known.number, still_open=still_open)


@handles(CloseCase, close_case_facts)
def close_case(c: CloseCase, floor: Floor, rows: Rows) -> str:
    known = case(c.case)
    assert known is not None  # noqa: S101
    _all_of(known, rows, still_open=False)
    return f"case {c.case} closed, cause: {c.cause}"


@dataclass(frozen=True, kw_only=True)
class ReopenCase(InCase):
    """The case and its complaints are looked at again. reason: what came up."""

    KIND = "case_reopened"
    NAME = noop("open a case again")

    reason: str = words()

    @staticmethod
    def told(e: Told) -> str:
        return _("Opened again: %(why)s") % {"why": e.why or _("no reason given")}


def reopen_facts(c: ReopenCase, floor: Floor) -> Facts:
    return {**_case_facts(case(c.case), c.case), "correction": {"no_reason": not c.reason.strip()}}


@handles(ReopenCase, reopen_facts)
def reopen_case(c: ReopenCase, floor: Floor, rows: Rows) -> str:
    known = case(c.case)
    assert known is not None  # noqa: S101
    _all_of(known, rows, still_open=True)
    return f"case {c.case} is open again"
