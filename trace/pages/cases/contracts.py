"""What the page of a case shows: the contract of templates/pages/case.html."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from trace.drawings import PlanPair
from trace.drawings.time_line import TimeLinePair
from trace.pages.containment import AtPlace, Line
from trace.pages.drill import DrillLine
from trace.sheets.asked_again import AgainSheet
from trace.sheets.contracts import HistoryLine


@dataclass(frozen=True, slots=True)
class ComplaintLine:
    """One complaint of a case. An empty text was not told, and is shown as missing."""

    number: int
    url: str
    symptom: str
    hull: str
    hull_url: str
    plate: str  # what of the plate was read, while its hull is not known
    spot: str
    made: str
    mould: str
    sold: str
    failed: str
    told: str
    use: str
    through: str
    words: str = ""


@dataclass(frozen=True, slots=True)
class SuspectLine:
    """One suspect as it stands: `words` as `manage.py scope` takes them, `code` what a hold can be laid on,
    `held` the hold on all that shares it, `drill_url` where a mock recall of its lot is begun."""

    letter: str
    words: str
    said: str
    stands: str
    stands_words: str
    reason: str
    who: str
    when: datetime
    scope_url: str
    recall_url: str
    drill_url: str
    code: str
    held: str


@dataclass(frozen=True, slots=True)
class ScopeLine:
    """The hulls that shared a cause as known on a day, counted."""

    letter: str
    said: str
    known: datetime
    certain: int
    may: int
    cannot: int
    who: str
    url: str
    again_url: str


@dataclass(frozen=True, slots=True)
class CaseHold:
    """A hold that was laid for the case."""

    on: str
    url: str
    reason: str
    who: str
    when: datetime
    over: bool
    stops: str
    walk_url: str


@dataclass(frozen=True, slots=True)
class CaseWalk:
    """A containment walk of the case as far as it is: `total` counts its hulls in the plant, also by what was seen
    of them; `missing` are those that nobody has found, `more` how many besides."""

    title: str
    url: str
    begun: datetime
    who: str
    ended: datetime | None
    total: AtPlace
    gone: int
    missing: tuple[Line, ...]
    more: int


@dataclass(frozen=True, slots=True)
class TestLine:
    """One test; `day` may be empty."""

    what: str
    result: str
    by_whom: str
    day: str
    who: str
    when: datetime


@dataclass(frozen=True, slots=True)
class SaidLine:
    """A decision, or who was told: in one line, by whom and when. how: by what means and on which day somebody was
    told; answer: what they said to it."""

    text: str
    who: str
    when: datetime
    how: str = ""
    answer: str = ""


@dataclass(frozen=True, slots=True)
class CasePage:
    """The whole page. `lots`: (cause, words) of what the hulls of the case hold, most of them first; `loose`: open
    complaints in no case; `now`: as known now, not on a day; `laid_elsewhere`: holds in force that can be said to
    belong to it; `typed`: what was sent, where it was not recorded. `common_url` asks what the hulls of the case share,
    "" for those who may not, or where no hull is known."""

    number: int
    name: str
    state: str
    open: bool
    since: datetime
    owner: str
    gaps: tuple[str, ...]
    complaints: tuple[ComplaintLine, ...]
    plans: tuple[tuple[str, PlanPair], ...]
    times: TimeLinePair | None
    common_url: str
    suspects: tuple[SuspectLine, ...]
    scopes: tuple[ScopeLine, ...]
    again: AgainSheet | None
    holds: tuple[CaseHold, ...]
    walks: tuple[CaseWalk, ...]
    drills: tuple[DrillLine, ...]
    now: bool
    tests: tuple[TestLine, ...]
    decisions: tuple[SaidLine, ...]
    tellings: tuple[SaidLine, ...]
    history: tuple[HistoryLine, ...]
    lots: tuple[tuple[str, str], ...]
    loose: tuple[tuple[int, str], ...]
    laid_elsewhere: tuple[tuple[str, str], ...]
    consignees: tuple[tuple[str, str], ...]
    causes: tuple[tuple[str, str], ...]
    ways: tuple[tuple[str, str], ...]
    stands: tuple[tuple[str, str], ...]
    today: str
    may: bool
    scan_id: str
    as_known_on: datetime
    records: str
    caution: str
    typed: Mapping[str, str]
    error: str = ""

    @property
    def stopping(self) -> tuple[CaseHold, ...]:
        return tuple(hold for hold in self.holds if not hold.over)
