"""What templates/pages/recall.html and recall_letters.html are given."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from trace.drawings import PlanPair
from trace.genealogy.recall import Answered, Recall
from trace.pages.sought import Asked


@dataclass(frozen=True, slots=True)
class HullSent:
    """One hull of a list as it left; `outcome` is the last word of its consignee, "" while there is none; `registered`:
    whether its first purchaser is."""

    code: str
    url: str
    model: str
    may: bool
    pack: str
    order: str
    day: str
    vehicle: str
    outcome: str = ""
    registered: bool = False


@dataclass(frozen=True, slots=True)
class ToConsignee:
    """All that went to one consignee, with what they have answered so far."""

    key: str
    name: str
    hulls: tuple[HullSent, ...]
    answered: Answered
    letter_url: str = ""
    reply_url: str = ""
    contacts: tuple[str, ...] = ()

    @property
    def registered(self) -> int:
        """Of how many the first purchaser is registered."""
        return sum(hull.registered for hull in self.hulls)

    @property
    def unregistered(self) -> int:
        return len(self.hulls) - self.registered

    @property
    def unreached(self) -> bool:
        return self.answered.replies == 0


@dataclass(frozen=True, slots=True)
class Box:
    """One text of the notice: its name in the form, what it is, how it is asked for, and what stands in it."""

    name: str
    label: str
    hint: str
    value: str
    rows: int = 2


@dataclass(frozen=True, slots=True)
class Tick:
    """One thing to be looked through, with where it is asked for; `figure` is what the records say to it."""

    code: str
    where: str
    said: str
    ticked: bool
    figure: str = ""


@dataclass(frozen=True, slots=True)
class Effect:
    """How much of a recall is done: hulls of the list, gone ones (the units affected), those of them that have come
    back since, and what became of the rest."""

    listed: int
    here: int
    gone: int
    back: int
    outcomes: Mapping[str, int]
    open: int
    corrected_percent: Decimal | None
    ended_percent: Decimal | None

    @property
    def found(self) -> int:
        return self.outcomes.get("found", 0)


@dataclass(frozen=True, slots=True)
class RecallLine:
    """One recall in the list of recalls."""

    title: str
    url: str
    begun: datetime
    who: str


@dataclass(frozen=True, slots=True)
class RecallPage:
    """`asked` alone: a recall that could be begun; `recall` and what follows: one that was; neither: all."""

    recalls: tuple[RecallLine, ...] = ()
    asked: Asked | None = None
    recall: Recall | None = None
    title: str = ""
    who: str = ""
    as_known_on: datetime | None = None
    gaps: tuple[str, ...] = ()
    consignees: tuple[ToConsignee, ...] = ()
    unreached: tuple[str, ...] = ()
    here: int = 0
    effect: Effect | None = None
    notice: tuple[tuple[str, str], ...] = ()
    headline: str = ""
    pictures: tuple[tuple[str, PlanPair], ...] = ()
    remedies: tuple[tuple[str, str, bool], ...] = ()
    boxes: tuple[Box, ...] = ()
    ticks: tuple[Tick, ...] = ()
    discovered: str = ""
    due: date | None = None
    outcomes: tuple[tuple[str, str], ...] = ()
    reply: ToConsignee | None = None
    faults: tuple[str, ...] = ()
    error: str = ""
    may_send: bool = False
    scan_id: str = ""
    letters_url: str = ""
    csv_url: str = ""
    walk_url: str = ""
    plant: str = ""
    day: str = ""
    caution: str = ""
    answers: Mapping[str, str] = field(default_factory=dict)

    @property
    def whose(self) -> str:
        """Of what gaps are told."""
        return _("this recall")
